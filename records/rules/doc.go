// Package rules holds the limits, each with its source and dates, and the
// rules that hold a record's readings against them.
//
// A rule is a pure function from a record, and the few facts beyond it, to
// one finding. Which edition of a limit counts is decided by the date of the
// work. What the manufacturer states comes first; the general limit that it
// replaced is kept beside it. Physics is not done here: it comes from package
// gas. The package imports the standard library and its two neighbours only,
// so the phone, the server and the command line give the same findings.
//
// A finding says whether a reading is inside a limit. It never says that an
// appliance is safe: that is for a registered, competent person.
package rules
