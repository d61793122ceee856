// Package pdf prints a record: page one for the customer, always exactly one
// page, then every reading with its limit and outcome in two runs a page, in
// the order of the work, and behind them the workings and, as numbered notes,
// the sources. With the same kit it prints what goes with records:
// [ConditionReport], the notice to leave on site with labels to tie on;
// [Reminders], letters about what falls due; [Register], an extract of the
// register for the office.
//
// What page one says is decided before anything is drawn (content.go); how a
// finding is printed, by shapeOf.
//
// The sections are printed from their descriptions in package records, so a
// new section needs no code here. The package judges nothing: it prints the
// findings that the record carries. Nothing is read but the document given, so
// the same document always gives the same bytes.
//
// A value that a finding shows as what it found is not printed again among
// what was entered. The customer's telephone and e-mail are printed nowhere.
package pdf
