package store

import "strings"

// sameText compares a column with an argument whatever the case.
func sameText(column string) string { return column + " = ? COLLATE NOCASE" }

// alphabetical orders by a column whatever the case.
func alphabetical(column string) string { return column + " COLLATE NOCASE" }

// holds asks whether a text holds an argument.
func holds(text string) string { return "instr(" + text + ", ?) > 0" }

// joined is the values of a column over several rows, with commas between.
func joined(column string) string { return "group_concat(" + column + ")" }

// textIn is a text within a JSON document.
func textIn(document string, path ...string) string {
	return "json_extract(" + document + ", '$." + strings.Join(path, ".") + "')"
}
