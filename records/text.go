package records

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// CheckLine trims s and asks for one line of least to most characters; what is
// wrong is added to errs.
func CheckLine(errs *Errors, field, label, s string, least, most int) string {
	s = strings.TrimSpace(s)
	return checkText(errs, field, label, s, least, most, "one line", unicode.IsControl)
}

// CheckNote is CheckLine for a text on as many lines as wanted.
func CheckNote(errs *Errors, field, label, s string, least, most int) string {
	s = strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n"))
	return checkText(errs, field, label, s, least, most, "a text", func(r rune) bool {
		return unicode.IsControl(r) && r != '\n'
	})
}

// CheckReason asks for one line of at most 400 characters that says why
// something was done. Errors: Invalid.
func CheckReason(why string) (string, error) {
	var c check
	why = c.line("why", "Reason", why, 1, 400)
	return why, c.err()
}

func checkText(errs *Errors, field, label, s string, least, most int, what string, refused func(rune) bool) string {
	n := utf8.RuneCountInString(s)
	if n >= least && n <= most && utf8.ValidString(s) && !strings.ContainsFunc(s, refused) {
		return s
	}
	e := &Error{Kind: Invalid, Field: field, Label: label, Value: clip(s),
		Want: fmt.Sprintf("%s of at most %d characters", what, most)}
	switch {
	case !utf8.ValidString(s):
		e.Msg = "it holds bytes that are not text"
	case strings.ContainsFunc(s, refused):
		e.Msg = "control characters are not accepted"
	case least > 0 && n == 0:
		e.Msg, e.Want = "this cannot be left blank", ""
	}
	*errs = append(*errs, e)
	return s
}

func (c *check) line(field, label, s string, least, most int) string {
	return CheckLine(&c.errs, field, label, s, least, most)
}

func (c *check) note(field, label, s string, most int) string {
	return CheckNote(&c.errs, field, label, s, 0, most)
}
