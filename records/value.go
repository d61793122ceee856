package records

import (
	"math"
	"strconv"
	"strings"
)

// Value is one entered value. The zero Value is absent, which is not the same
// as zero: a blank field is missing, never 0.
type Value struct {
	kind FieldKind
	text string // numbers: plain decimal text as entered, so its resolution is kept
	num  float64
	rows []Row
	raw  string // of an old value, the JSON that it was stored as
}

// Row is one row of a rows field, by column name. Absent columns have no key.
type Row map[string]Value

// Values holds a record's entered values by field key.
type Values map[string]Value

// Reading is a number as read: its value and the decimals it was given to.
type Reading struct {
	Value    float64
	Decimals int
}

// Present reports whether there is a value.
func (v Value) Present() bool { return v.kind != "" }

// Text returns the value as it was entered, normalised: a number as plain
// decimal, a choice as its code, a flag as yes or no. Rows have no text.
func (v Value) Text() string { return v.text }

// Old reports whether the value was stored for a field that today is of
// another kind, or is not known. Its Text or Rows say what it was; it answers
// nothing.
func (v Value) Old() bool { return v.kind == oldKind }

// Rows returns the rows of a rows value.
func (v Value) Rows() []Row { return v.rows }

// Reading returns the number and whether the value is one.
func (v Value) Reading() (Reading, bool) {
	if v.kind != NumberKind {
		return Reading{}, false
	}
	return Reading{v.num, decimalsOf(v.text)}, true
}

// Equal reports whether two values are the same as entered.
func (v Value) Equal(w Value) bool {
	if v.kind != w.kind || v.text != w.text || v.raw != w.raw || len(v.rows) != len(w.rows) {
		return false
	}
	for i, r := range v.rows {
		if len(r) != len(w.rows[i]) {
			return false
		}
		for k, c := range r {
			if !c.Equal(w.rows[i][k]) {
				return false
			}
		}
	}
	return true
}

// Number returns the reading of a number field and whether there is one.
func (vs Values) Number(f NumberField) (Reading, bool) { return vs[f.Key].Reading() }

// Float returns the number of a field, or 0 and false.
func (vs Values) Float(f NumberField) (float64, bool) {
	r, ok := vs[f.Key].Reading()
	return r.Value, ok
}

// Choice returns the code of a choice field, or "".
func (vs Values) Choice(f ChoiceField) string { return vs.answer(f.Field) }

// answer returns the text of a field's value, "" for an old one.
func (vs Values) answer(f *Field) string {
	if v := vs[f.Key]; !v.Old() {
		return v.text
	}
	return ""
}

// Flag returns the answer of a yes-or-no field and whether it was answered.
func (vs Values) Flag(f FlagField) (yes, answered bool) {
	said := vs.answer(f.Field)
	return said == "yes", said != ""
}

// Text returns the text of a textual field, or "".
func (vs Values) Text(f TextField) string { return vs.answer(f.Field) }

// Date returns the date of a date field, zero if there is none.
func (vs Values) Date(f DateField) Date {
	d, err := ParseDate(vs.answer(f.Field))
	if err != nil {
		return Date{}
	}
	return d
}

// Rows returns the rows of a rows field.
func (vs Values) Rows(f RowsField) []Row {
	if v := vs[f.Key]; !v.Old() {
		return v.rows
	}
	return nil
}

// Shown reports whether the form shows the field and the record prints it: it
// is asked for, or a value stands in it although the answers rule it out.
func (vs Values) Shown(f *Field) bool { return vs[f.Key].Present() || vs.Asked(f) }

// Asked reports whether the field's condition holds.
func (vs Values) Asked(f *Field) bool {
	if f.When == nil {
		return true
	}
	got := vs.answer(&Field{Key: f.When.Key})
	for _, code := range f.When.In {
		if got == code {
			return true
		}
	}
	return false
}

// Clone returns a copy that shares nothing with vs.
func (vs Values) Clone() Values {
	out := make(Values, len(vs))
	for k, v := range vs {
		if v.rows != nil {
			rows := make([]Row, len(v.rows))
			for i, r := range v.rows {
				rows[i] = make(Row, len(r))
				for c, cell := range r {
					rows[i][c] = cell
				}
			}
			v.rows = rows
		}
		out[k] = v
	}
	return out
}

// Number returns the reading of a column and whether there is one.
func (r Row) Number(column string) (Reading, bool) { return r[column].Reading() }

// Float returns the number of a column, or 0.
func (r Row) Float(column string) float64 { v, _ := r[column].Reading(); return v.Value }

// Text returns the text of a column, or "".
func (r Row) Text(column string) string { return r[column].text }

// Put stores a value given as a person would type it, or panics when the
// field does not accept it. It is for values written in code.
func (vs Values) Put(f *Field, entry string) {
	v, err := f.Parse(entry)
	if err != nil {
		panic(err)
	}
	vs[f.Key] = v
}

// PutRows is Put for a rows field.
func (vs Values) PutRows(f RowsField, rows ...map[string]string) {
	v, errs := f.ParseRows(rows)
	if len(errs) > 0 {
		panic(errs)
	}
	vs[f.Key] = v
}

// FormatNumber writes v in plain decimal with the given decimals, or with as
// many as needed when decimals is negative. A value that is not finite is "–".
func FormatNumber(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

func decimalsOf(text string) int {
	if _, frac, ok := strings.Cut(text, "."); ok {
		return len(frac)
	}
	return 0
}
