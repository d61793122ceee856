package records

import (
	"errors"
	"strings"
)

// ErrorKind is what sort of failure an Error is; the server maps each kind to a
// status, the command line to an exit code.
type ErrorKind string

// The kinds of failure.
const (
	Invalid   ErrorKind = "invalid"   // what was given cannot be accepted
	NotFound  ErrorKind = "not found" // there is no such thing
	Conflict  ErrorKind = "conflict"  // somebody else changed it first
	Forbidden ErrorKind = "forbidden" // this person may not do that
	NotReady  ErrorKind = "not ready" // the record cannot be issued as it stands
	Internal  ErrorKind = "internal"  // our fault; details belong in the log only
)

// Error names the field, the value as given (clipped) and what would be
// accepted, so that the reader can put it right.
type Error struct {
	Kind  ErrorKind `json:"kind"`
	Field string    `json:"field,omitempty"` // key, such as tightness.drop_mbar
	Label string    `json:"label,omitempty"` // the field's name for people
	Value string    `json:"value,omitempty"`
	Want  string    `json:"want,omitempty"`
	Msg   string    `json:"message,omitempty"`
}

// Error puts the parts into one sentence.
func (e *Error) Error() string {
	var b strings.Builder
	if name := e.Label; name != "" {
		b.WriteString(name)
	} else {
		b.WriteString(e.Field)
	}
	add := func(s string) {
		if s == "" {
			return
		}
		if b.Len() > 0 {
			b.WriteString(": ")
		}
		b.WriteString(s)
	}
	add(e.Msg)
	if e.Value != "" {
		add("“" + e.Value + "” is not accepted")
	}
	if e.Want != "" {
		add("give " + e.Want)
	}
	if b.Len() == 0 {
		return string(e.Kind)
	}
	return b.String()
}

// Errors is several field errors at once, so that a form can show them all.
type Errors []*Error

// Error joins the sentences.
func (es Errors) Error() string {
	parts := make([]string, len(es))
	for i, e := range es {
		parts[i] = e.Error()
	}
	return strings.Join(parts, "; ")
}

// KindOf returns the kind of err: that of the first Error in its chain,
// Internal for any other error.
func KindOf(err error) ErrorKind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	var es Errors
	if errors.As(err, &es) && len(es) > 0 {
		return es[0].Kind
	}
	return Internal
}

// Fail returns an Error of the kind with a message for people.
func Fail(kind ErrorKind, msg string) *Error { return &Error{Kind: kind, Msg: msg} }

// clip keeps an echoed value short: a ten-megabyte field must not come back
// whole in its own error message.
func clip(s string) string {
	const most = 60
	s = strings.ToValidUTF8(s, "?")
	r := []rune(s)
	if len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}
