package exchange

import (
	"regexp"
	"strings"
)

// A spreadsheet program takes a cell that begins with one of these for a
// formula and runs it. Source: OWASP, CSV Injection.
const formulaStarts = "=+-@\t\r\n"

// plainNumber is what a sign may begin without being a formula.
var plainNumber = regexp.MustCompile(`^[+-]?[0-9]+(\.[0-9]+)?$`)

// Guard returns a text that no spreadsheet program takes for a formula: one
// that begins like one gets an apostrophe in front. So does one that looks as
// if it had been guarded, so that Unguard gives it back as it was. Real numbers
// are left alone.
func Guard(s string) string {
	if risky(strings.TrimLeft(s, "'")) && !plainNumber.MatchString(s) {
		return "'" + s
	}
	return s
}

// Unguard takes off the apostrophe that Guard put on, so that a list that was
// exported comes back as it was.
func Unguard(s string) string {
	if rest, ok := strings.CutPrefix(s, "'"); ok && Guard(rest) == s {
		return rest
	}
	return s
}

func risky(s string) bool {
	s = strings.TrimLeft(s, " ")
	return s != "" && strings.ContainsRune(formulaStarts, rune(s[0]))
}
