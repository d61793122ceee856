package records

import (
	"strings"
	"unicode/utf8"
)

// Shorten cuts words to at most that many characters, the last of which then is
// an ellipsis.
func Shorten(words string, most int) string {
	if r := []rune(words); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return words
}

// UpperFirst begins words with a capital letter.
func UpperFirst(words string) string {
	_, n := utf8.DecodeRuneInString(words)
	return strings.ToUpper(words[:n]) + words[n:]
}

// LowerFirst begins words with a small letter.
func LowerFirst(words string) string {
	_, n := utf8.DecodeRuneInString(words)
	return strings.ToLower(words[:n]) + words[n:]
}

// Counted writes a number of things: 1 visit, 2 visits.
func Counted(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return FormatNumber(float64(n), 0) + " " + noun
}
