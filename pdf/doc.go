// Package pdf prints a record: page one for the customer, then every reading
// with its limit, outcome, working and source, in the order of the work. With
// the same kit it prints what goes with records: [ConditionReport], the notice
// to leave on site with labels to tie on; [Reminders], letters
// about what falls due; [Register], an extract of the register for the office.
//
// The sections are printed from their descriptions in package records, so a
// new section needs no code here. The package judges nothing: it prints the
// findings that the record carries. Nothing is read but the document given, so
// the same document always gives the same bytes.
//
// A value that a finding shows as what it found is not printed again among
// what was entered. The customer's telephone and e-mail are printed nowhere.
package pdf
