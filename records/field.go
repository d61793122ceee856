package records

import (
	"fmt"
	"strings"
)

// FieldKind is the kind of value that a field takes.
type FieldKind string

// The kinds of field.
const (
	NumberKind     FieldKind = "number"     // decimal with a fixed unit
	ChoiceKind     FieldKind = "choice"     // one of a list of codes
	FlagKind       FieldKind = "flag"       // yes or no; absent means not answered
	TextKind       FieldKind = "text"       // one line
	NotesKind      FieldKind = "notes"      // several lines
	ClockKind      FieldKind = "clock"      // time of day, HH:MM
	DateKind       FieldKind = "date"       // calendar date, YYYY-MM-DD
	InstrumentKind FieldKind = "instrument" // id of one of the firm's instruments
	StrokesKind    FieldKind = "strokes"    // a signature drawn as pen strokes
	RowsKind       FieldKind = "rows"       // a list of rows with columns of their own

	// oldKind is the kind of a stored value that no field of today can hold.
	oldKind FieldKind = "old"
)

// SectionID names a section in keys, JSON and addresses.
type SectionID string

// Choice is one accepted code of a choice field, and its name for people.
type Choice struct {
	Code  string `json:"code"`
	Label string `json:"label"`
}

// ShowIf is when a field is asked for: while another field holds one of some
// codes. A flag counts as "yes" or "no". A field that is not asked for keeps
// its value, which is shown, printed and judged: no answer hides a reading.
type ShowIf struct {
	Key string   `json:"key"`
	In  []string `json:"in"`
}

// Field describes one value that a person enters.
type Field struct {
	Key      string // section.name; the name carries the unit
	Label    string
	Kind     FieldKind
	Unit     string  // as printed beside the field: mbar, m³, ppm
	Min, Max float64 // accepted entry range of a number, both ends included
	Decimals int     // most decimals a number may have
	Choices  []Choice
	MaxLen   int // most characters of a text
	MaxRows  int
	Columns  []*Field // of a rows field; their Key is the bare column name
	Wants    []string // instrument kinds that fit
	When     *ShowIf  // nil: always shown
	Hint     string   // how to take the reading, one sentence

	past Past // from the section
}

// Section returns the id of the section that the field belongs to.
func (f *Field) Section() SectionID {
	id, _, _ := strings.Cut(f.Key, ".")
	return SectionID(id)
}

// Name returns the field's name inside its section.
func (f *Field) Name() string {
	if _, name, ok := strings.Cut(f.Key, "."); ok {
		return name
	}
	return f.Key
}

// ChoiceLabel returns the name for people of a code, also of one that is no
// longer offered, or the code itself.
func (f *Field) ChoiceLabel(code string) string {
	for _, choices := range [][]Choice{f.Choices, f.past.Choices} {
		for _, c := range choices {
			if c.Code == code {
				return c.Label
			}
		}
	}
	return code
}

// Accepts says in words what the field takes, for hints and errors.
func (f *Field) Accepts() string {
	switch f.Kind {
	case NumberKind:
		s := fmt.Sprintf("number from %s to %s", FormatNumber(f.Min, -1), FormatNumber(f.Max, -1))
		if f.Unit != "" {
			s += " " + f.Unit
		}
		switch f.Decimals {
		case 0:
			return "a whole " + s
		case 1:
			return "a " + s + ", at most 1 decimal"
		}
		return fmt.Sprintf("a %s, at most %d decimals", s, f.Decimals)
	case ChoiceKind:
		codes := make([]string, len(f.Choices))
		for i, c := range f.Choices {
			codes[i] = c.Code
		}
		return "one of " + strings.Join(codes, ", ")
	case FlagKind:
		return "yes or no"
	case ClockKind:
		return "a time of day as HH:MM, for example 14:05"
	case DateKind:
		return "a date as YYYY-MM-DD, for example 2026-11-25"
	case StrokesKind:
		return "pen strokes as M and L with whole-number coordinates"
	case InstrumentKind:
		return "the id of one of the firm's instruments"
	case RowsKind:
		return fmt.Sprintf("at most %d rows", f.MaxRows)
	}
	return fmt.Sprintf("text of at most %d characters", f.MaxLen)
}

// The typed handles below let rules read a field without naming it by text:
// a misspelt field does not compile.
type (
	// NumberField is a field holding a decimal.
	NumberField struct{ *Field }
	// ChoiceField is a field holding a code.
	ChoiceField struct{ *Field }
	// FlagField is a field holding yes or no.
	FlagField struct{ *Field }
	// TextField is a field holding text of any textual kind.
	TextField struct{ *Field }
	// DateField is a field holding a calendar date.
	DateField struct{ *Field }
	// RowsField is a field holding rows.
	RowsField struct{ *Field }
)

func number(key, label, unit string, min, max float64, decimals int) NumberField {
	return NumberField{&Field{Key: key, Label: label, Kind: NumberKind, Unit: unit, Min: min, Max: max,
		Decimals: decimals}}
}

func choice(key, label string, choices ...Choice) ChoiceField {
	return ChoiceField{&Field{Key: key, Label: label, Kind: ChoiceKind, Choices: choices}}
}

func flag(key, label string) FlagField {
	return FlagField{&Field{Key: key, Label: label, Kind: FlagKind}}
}

func text(key, label string, maxLen int) TextField {
	return TextField{&Field{Key: key, Label: label, Kind: TextKind, MaxLen: maxLen}}
}

func notes(key, label string, maxLen int) TextField {
	return TextField{&Field{Key: key, Label: label, Kind: NotesKind, MaxLen: maxLen}}
}

func clock(key, label string) TextField {
	return TextField{&Field{Key: key, Label: label, Kind: ClockKind}}
}

func date(key, label string) DateField {
	return DateField{&Field{Key: key, Label: label, Kind: DateKind}}
}

func strokes(key, label string) TextField {
	return TextField{&Field{Key: key, Label: label, Kind: StrokesKind, MaxLen: 20000}}
}

func instrument(key, label string, wants ...string) TextField {
	return TextField{&Field{Key: key, Label: label, Kind: InstrumentKind, MaxLen: 40, Wants: wants}}
}

func rows(key, label string, maxRows int, columns ...*Field) RowsField {
	return RowsField{&Field{Key: key, Label: label, Kind: RowsKind, MaxRows: maxRows, Columns: columns}}
}

func (f NumberField) hint(s string) NumberField { f.Hint = s; return f }
func (f ChoiceField) hint(s string) ChoiceField { f.Hint = s; return f }
func (f FlagField) hint(s string) FlagField     { f.Hint = s; return f }
func (f DateField) hint(s string) DateField     { f.Hint = s; return f }
func (f TextField) hint(s string) TextField     { f.Hint = s; return f }
func (f RowsField) hint(s string) RowsField     { f.Hint = s; return f }

func when(key string, in ...string) *ShowIf { return &ShowIf{Key: key, In: in} }

func (f NumberField) when(key string, in ...string) NumberField {
	f.When = when(key, in...)
	return f
}

func (f ChoiceField) when(key string, in ...string) ChoiceField {
	f.When = when(key, in...)
	return f
}

func (f FlagField) when(key string, in ...string) FlagField {
	f.When = when(key, in...)
	return f
}

func (f TextField) when(key string, in ...string) TextField {
	f.When = when(key, in...)
	return f
}

func (f DateField) when(key string, in ...string) DateField {
	f.When = when(key, in...)
	return f
}
