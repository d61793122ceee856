package records_test

import (
	"math/big"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"gaugebook/records"
)

func numberFields() []*records.Field {
	var out []*records.Field
	for _, f := range everyField() {
		if f.Kind == records.NumberKind {
			out = append(out, f)
		}
	}
	return out
}

func exact(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("no number: " + s)
	}
	return r
}

// A number is accepted exactly when it lies in the field's range and has no
// more decimals than the field: judged with exact fractions, near each edge.
func TestNumberIsAcceptedWithinItsRange(t *testing.T) {
	fields := numberFields()
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.SampledFrom(fields).Draw(t, "field")
		edge := rapid.SampledFrom([]float64{f.Min, f.Max, (f.Min + f.Max) / 2, 0}).Draw(t, "near")
		decimals := rapid.IntRange(0, f.Decimals+2).Draw(t, "decimals")
		step := rapid.IntRange(-3, 3).Draw(t, "steps")
		x := exact(records.FormatNumber(edge, decimals))
		unit := new(big.Rat).SetFrac64(1, 1)
		for range decimals {
			unit.Quo(unit, big.NewRat(10, 1))
		}
		x.Add(x, unit.Mul(unit, big.NewRat(int64(step), 1)))
		entry := x.FloatString(decimals)

		within := x.Cmp(exact(records.FormatNumber(f.Min, -1))) >= 0 && x.Cmp(exact(records.FormatNumber(f.Max,
			-1))) <= 0
		want := within && decimals <= f.Decimals
		v, err := f.Parse(entry)
		if (err == nil) != want {
			t.Fatalf("%s takes %v to %v with %d decimals; %s: accepted %v, %v", f.Key, f.Min, f.Max, f.Decimals, entry,
				err == nil, err)
		}
		if err != nil {
			return
		}
		reading, ok := v.Reading()
		if exact(v.Text()).Cmp(x) != 0 || !ok || reading.Decimals != decimals {
			t.Fatalf("%s: %s is stored as %s, read as %+v", f.Key, entry, v.Text(), reading)
		}
		if got := exact(records.FormatNumber(reading.Value, decimals)); got.Cmp(x) != 0 {
			t.Fatalf("%s: %s is %v as a number", f.Key, entry, reading.Value)
		}
	})
}

// A time of day is what the standard library reads as one, with both digits.
func TestClockIsATimeOfDay(t *testing.T) {
	f := records.TightnessTime.Field
	rapid.Check(t, func(t *rapid.T) {
		entry := rapid.StringMatching(`[0-2]?[0-9]:[0-6][0-9]|[0-9:]{0,6}`).Draw(t, "entry")
		_, want := time.Parse("15:04", entry)
		_, err := f.Parse(entry)
		if (err == nil) != (want == nil && len(entry) == 5 || entry == "") {
			t.Fatalf("%q: accepted %v", entry, err == nil)
		}
	})
}

// Text is accepted up to its length in characters, not bytes, and comes back
// without the white space around it.
func TestTextIsAcceptedUpToItsLength(t *testing.T) {
	for _, f := range everyField() {
		if f.Kind != records.TextKind && f.Kind != records.NotesKind {
			continue
		}
		for n, want := range map[int]bool{1: true, f.MaxLen: true, f.MaxLen + 1: false} {
			entry := strings.Repeat("é", n)
			v, err := f.Parse("  " + entry + " ")
			if (err == nil) != want {
				t.Errorf("%s takes %d; %d: %v", f.Key, f.MaxLen, n, err)
			}
			if err == nil && (v.Text() != entry || utf8.RuneCountInString(v.Text()) != n) {
				t.Errorf("%s: %d characters came back as %d", f.Key, n, utf8.RuneCountInString(v.Text()))
			}
		}
		if _, err := f.Parse("one\ntwo"); (err == nil) != (f.Kind == records.NotesKind) {
			t.Errorf("%s, two lines: %v", f.Key, err)
		}
	}
}

// A choice is accepted by its code alone, and each code has one name.
func TestChoicesAreDistinct(t *testing.T) {
	for _, f := range everyField() {
		if f.Kind != records.ChoiceKind {
			continue
		}
		codes, labels := map[string]bool{}, map[string]bool{}
		for _, c := range f.Choices {
			if codes[c.Code] || labels[c.Label] || c.Label == "" || c.Code == "" {
				t.Errorf("%s: %q, %q is not alone", f.Key, c.Code, c.Label)
			}
			codes[c.Code], labels[c.Label] = true, true
			if v, err := f.Parse(c.Code); err != nil || v.Text() != c.Code || f.ChoiceLabel(v.Text()) != c.Label {
				t.Errorf("%s: %q, %v", f.Key, c.Code, err)
			}
			if _, err := f.Parse(strings.ToUpper(c.Code)); strings.ToUpper(c.Code) != c.Code && err == nil {
				t.Errorf("%s takes %q in capitals", f.Key, c.Code)
			}
		}
		if got := f.ChoiceLabel("no such code"); got != "no such code" {
			t.Errorf("%s: an unknown code is shown as %q", f.Key, got)
		}
	}
}

// Pen strokes: every coordinate is a whole number of up to four digits, and
// the pen is put down before it draws.
func TestStrokes(t *testing.T) {
	for entry, want := range map[string]bool{
		"M0,0": true, "M1,2 L3,4": true, "M1,2 L3,4 M5,6 L7,8": true, "M9999,9999": true,
		"L1,2": false, "M1": false, "M1,": false, "M,1": false, "M10000,1": false, "M1,10000": false,
		"M-1,2": false, "M1.5,2": false, "M1,2L3,4": false, "m1,2": false, "M1,2 C3,4": false, "M": false, "1,2": false,
		"M1,2,3": false, "M１,2": false,
	} {
		v, err := records.EngineerSignature.Parse(entry)
		if (err == nil) != want || v.Present() != want {
			t.Errorf("%q: accepted %v", entry, err == nil)
		}
	}
	longest := "M0,0" + strings.Repeat(" L1,2", (20000-4)/5)
	if _, err := records.EngineerSignature.Parse(longest); err != nil {
		t.Errorf("%d characters: %v", len(longest), err)
	}
	if _, err := records.EngineerSignature.Parse(longest + " L1,2"); err == nil {
		t.Error("more than 20,000 characters are accepted")
	}
}

// Rows come back as they were typed: row by row, blank cells left out, blank
// rows closed up.
func TestRowsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.SampledFrom([]records.RowsField{records.TightnessRuns, records.FlueBends,
			records.FlueDistances}).Draw(t, "field")
		in := make([]map[string]string, rapid.IntRange(0, 6).Draw(t, "rows"))
		var want []map[string]string
		for i := range in {
			in[i] = map[string]string{}
			filled := map[string]string{}
			for _, c := range f.Columns {
				if !rapid.Bool().Draw(t, "filled") {
					in[i][c.Key] = rapid.SampledFrom([]string{"", " "}).Draw(t, "blank")
					continue
				}
				in[i][c.Key] = anyEntry(t, c)
				filled[c.Key] = in[i][c.Key]
			}
			if len(filled) > 0 {
				want = append(want, filled)
			}
		}
		v, errs := f.ParseRows(in)
		if errs != nil || len(v.Rows()) != len(want) || v.Present() != (len(want) > 0) {
			t.Fatalf("%d rows of %d filled: %v", len(v.Rows()), len(want), errs)
		}
		for i, row := range v.Rows() {
			if len(row) != len(want[i]) {
				t.Fatalf("row %d holds %d cells, not %d", i, len(row), len(want[i]))
			}
			for name, entry := range want[i] {
				if parsed, err := f.Column(name).Parse(entry); err != nil || !row[name].Equal(parsed) {
					t.Fatalf("row %d, %s: %q is not %q (%v)", i, name, row.Text(name), entry, err)
				}
			}
		}
		if f.Column("no such column") != nil {
			t.Fatal("an unknown column is found")
		}
	})
}
