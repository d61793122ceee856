// Package exchange brings the register out to spreadsheets and spreadsheets
// in. It knows rows and columns and what they mean; it knows neither the
// database nor HTTP.
//
// Out: a Line is one row of a register view, a LineWriter writes lines as CSV
// or as an XLSX workbook while they are read. In: OpenTable reads a CSV file,
// Guess proposes which column holds what, and a Reader turns each row into an
// Item or into the reasons why not.
package exchange
