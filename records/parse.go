package records

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Parse reads one entry as a person types it. A blank entry is the absent
// value. The error, always *Error of kind Invalid, names the field, the entry
// and what would be accepted.
func (f *Field) Parse(entry string) (Value, error) {
	if len(entry) > 4*max(f.MaxLen, 64) {
		return Value{}, f.refuse(entry, "too long")
	}
	if !utf8.ValidString(entry) {
		return Value{}, f.refuse(entry, "it holds bytes that are not text")
	}
	if f.Kind == NotesKind {
		entry = strings.ReplaceAll(entry, "\r\n", "\n")
	}
	entry = strings.TrimSpace(entry)
	if entry == "" {
		return Value{}, nil
	}
	switch f.Kind {
	case NumberKind:
		return f.parseNumber(entry)
	case ChoiceKind:
		for _, c := range f.Choices {
			if c.Code == entry {
				return Value{kind: f.Kind, text: entry}, nil
			}
		}
		return Value{}, f.refuse(entry, "")
	case FlagKind:
		if entry == "yes" || entry == "no" {
			return Value{kind: f.Kind, text: entry}, nil
		}
		return Value{}, f.refuse(entry, "")
	case ClockKind:
		if !validClock(entry) {
			return Value{}, f.refuse(entry, "")
		}
	case DateKind:
		if _, err := ParseDate(entry); err != nil {
			return Value{}, f.refuse(entry, "")
		}
	case StrokesKind:
		if !validStrokes(entry) {
			return Value{}, f.refuse(entry, "")
		}
	case RowsKind:
		return Value{}, f.refuse(entry, "rows are given one by one")
	}
	return f.parseText(entry)
}

func (f *Field) parseText(entry string) (Value, error) {
	if utf8.RuneCountInString(entry) > f.maxLen() {
		return Value{}, f.refuse(entry, fmt.Sprintf("%d characters are too many", utf8.RuneCountInString(entry)))
	}
	for _, r := range entry {
		if unicode.IsControl(r) && (r != '\n' || f.Kind != NotesKind) {
			return Value{}, f.refuse(entry, "control characters are not accepted")
		}
	}
	return Value{kind: f.Kind, text: entry}, nil
}

func (f *Field) maxLen() int {
	switch f.Kind {
	case ClockKind:
		return len("14:05")
	case DateKind:
		return len("2026-11-25")
	}
	return f.MaxLen
}

// parseNumber takes plain decimal only: what is stored and printed is what the
// person typed, so its resolution is known and nothing is guessed.
func (f *Field) parseNumber(entry string) (Value, error) {
	if strings.ContainsRune(entry, ',') {
		return Value{}, f.refuse(entry, "write a decimal point, not a comma")
	}
	digits := strings.TrimPrefix(entry, "-")
	whole, frac, point := strings.Cut(digits, ".")
	if !allDigits(whole) || !allDigits(frac) || whole+frac == "" || (point && frac == "") {
		msg := "not a plain number"
		if hasUnit(entry) {
			msg = "leave the unit out"
			if f.Unit != "" {
				msg += ", the field is in " + f.Unit
			}
		}
		return Value{}, f.refuse(entry, msg)
	}
	if len(frac) > f.Decimals {
		return Value{}, f.refuse(entry, "too many decimals")
	}
	if whole == "" {
		whole = "0"
	}
	if len(whole) > 12 {
		return Value{}, f.refuse(entry, "out of range")
	}
	text := trimZeros(whole)
	if point {
		text += "." + frac
	}
	if strings.HasPrefix(entry, "-") && strings.Trim(text, "0.") != "" {
		text = "-" + text
	}
	num, err := strconv.ParseFloat(text, 64)
	if err != nil || num < f.Min || num > f.Max {
		return Value{}, f.refuse(entry, "out of range")
	}
	return Value{kind: NumberKind, text: text, num: num}, nil
}

// ParseRows reads the rows of a rows field, each given as column name to
// entry. Rows that are blank are left out. All errors are returned, the
// field of each written as section.name[row].column, rows counted from 0.
func (f RowsField) ParseRows(in []map[string]string) (Value, Errors) {
	if n := filledRows(in); n > f.MaxRows {
		return Value{}, Errors{{Kind: Invalid, Field: f.Key, Label: f.Label, Value: fmt.Sprintf("%d rows", n),
			Want: f.Accepts()}}
	}
	var out []Row
	var errs Errors
	for i, raw := range in {
		row := Row{}
		for _, col := range f.Columns {
			v, err := col.Parse(raw[col.Key])
			if err != nil {
				e := *err.(*Error)
				errs = append(errs, f.inRow(i, col, &e))
				continue
			}
			if v.Present() {
				row[col.Key] = v
			}
		}
		for _, name := range slices.Sorted(maps.Keys(raw)) {
			if f.Column(name) == nil {
				errs = append(errs, &Error{Kind: Invalid, Field: fmt.Sprintf("%s[%d].%s", f.Key, i, clip(name)),
					Label: fmt.Sprintf("%s, row %d", f.Label, i+1), Value: clip(name), Want: f.columnNames()})
			}
		}
		if len(row) > 0 {
			out = append(out, row)
		}
	}
	if len(errs) > 0 || len(out) == 0 {
		return Value{}, errs
	}
	return Value{kind: RowsKind, rows: out}, nil
}

// filledRows counts the rows that hold anything.
func filledRows(in []map[string]string) int {
	n := 0
	for _, raw := range in {
		for _, entry := range raw {
			if strings.TrimSpace(entry) != "" {
				n++
				break
			}
		}
	}
	return n
}

// inRow makes an error of a column name the row it is in, counted from 0.
func (f *Field) inRow(i int, col *Field, e *Error) *Error {
	e.Field = fmt.Sprintf("%s[%d].%s", f.Key, i, col.Key)
	e.Label = fmt.Sprintf("%s, row %d, %s", f.Label, i+1, col.Label)
	return e
}

func (f *Field) columnNames() string {
	names := make([]string, len(f.Columns))
	for i, c := range f.Columns {
		names[i] = c.Key
	}
	return "a column that is one of " + strings.Join(names, ", ")
}

// Column returns the column of that name, or nil.
func (f *Field) Column(name string) *Field {
	for _, c := range f.Columns {
		if c.Key == name {
			return c
		}
	}
	return nil
}

func (f *Field) refuse(entry, msg string) *Error {
	return &Error{Kind: Invalid, Field: f.Key, Label: f.Label, Value: clip(entry), Want: f.Accepts(), Msg: msg}
}

// hasUnit reports whether an entry is a number with a unit behind it, such as
// 20 mbar, 2.5m3/h or 12%.
func hasUnit(entry string) bool {
	rest := strings.TrimLeft(entry, "-.0123456789")
	if !strings.ContainsAny(entry[:len(entry)-len(rest)], "0123456789") {
		return false
	}
	rest = strings.TrimSpace(rest)
	exponent := len(rest) > 1 && (rest[0] == 'e' || rest[0] == 'E') && strings.Trim(rest[1:], "+-0123456789") == ""
	r, _ := utf8.DecodeRuneInString(rest)
	return (unicode.IsLetter(r) || r == '°' || r == '%') && !exponent
}

func allDigits(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

func trimZeros(s string) string {
	s = strings.TrimLeft(s, "0")
	if s == "" {
		return "0"
	}
	return s
}

func validClock(s string) bool {
	return len(s) == 5 && s[2] == ':' && allDigits(s[:2]) && allDigits(s[3:]) && s[:2] < "24" && s[3:] < "60"
}

// validStrokes accepts M x,y L x,y … with coordinates of up to four digits.
func validStrokes(s string) bool {
	pen := false
	for _, part := range strings.Fields(s) {
		if part[0] != 'M' && (part[0] != 'L' || !pen) {
			return false
		}
		pen = true
		x, y, ok := strings.Cut(part[1:], ",")
		if !ok || x == "" || y == "" || len(x) > 4 || len(y) > 4 || !allDigits(x) || !allDigits(y) {
			return false
		}
	}
	return pen
}
