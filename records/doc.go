// Package records is the domain: properties, appliances, the record of one
// visit to one appliance, its sections and fields, and the findings that a
// record carries.
//
// It imports the standard library only, so that it compiles unchanged for the
// server, the command line and the phone. It knows no HTTP, SQL or HTML; it
// also does not know the rules: a record holds findings, package rules makes
// them.
//
// Every value a person enters is described once, by a Field in a Section. The
// form, the JSON document, its schema, the check for bad input and the printed
// record are all made from that description, so a new section is one file
// named section_*.go and one line in Sections.
package records
