// Package pdf prints a record: page one for the customer, then every reading
// with its limit, outcome, working and source, in the order of the work.
//
// The sections are printed from their descriptions in package records, so a
// new section needs no code here. The package judges nothing: it prints the
// findings that the record carries. Nothing is read but the document given, so
// the same document always gives the same bytes.
package pdf
