package records_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"gaugebook/records"
)

// everyField lists all fields and columns of the record, but not rows fields.
func everyField() []*records.Field {
	var out []*records.Field
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			if f.Kind != records.RowsKind {
				out = append(out, f)
			}
			out = append(out, f.Columns...)
		}
	}
	return out
}

func mustExplain(t *testing.T, err error, given int) {
	t.Helper()
	if records.KindOf(err) != records.Invalid {
		t.Fatalf("kind %s: %v", records.KindOf(err), err)
	}
	var es records.Errors
	n := 1
	if errors.As(err, &es) {
		n = len(es)
	}
	if text := err.Error(); text == "" || !utf8.ValidString(text) || len(text) > 4000*n {
		t.Fatalf("%d bytes given, %d errors told in %d bytes: %.300q", given, n, len(text), text)
	}
}

// What is accepted is stored in a form that means the same when read again.
func FuzzParse(f *testing.F) {
	for i, entry := range []string{"", "1,5", "5 mbar", "NaN", "1e400", "-0.00", ".5", "00.50", "0.123", "23:59",
		"yes", "M1,2 L3,4", "copper-15", "one\r\ntwo", "a\x00", "\xff", strings.Repeat("9", 5000), " "} {
		f.Add(i, entry)
	}
	fields := everyField()
	f.Fuzz(func(t *testing.T, which int, entry string) {
		field := fields[uint(which)%uint(len(fields))]
		v, err := field.Parse(entry)
		if err != nil {
			if v.Present() {
				t.Fatalf("%s: refused %q, yet there is a value", field.Key, entry)
			}
			mustExplain(t, err, len(entry))
			return
		}
		again, err := field.Parse(v.Text())
		if err != nil || !again.Equal(v) {
			t.Fatalf("%s: %q is stored as %q, which reads as %q, %v", field.Key, entry, v.Text(), again.Text(), err)
		}
		if r, ok := v.Reading(); ok && (r.Value < field.Min || r.Value > field.Max || r.Decimals > field.Decimals ||
			r.Value != r.Value) {
			t.Fatalf("%s: %q gives %v", field.Key, entry, r)
		}
		if n := utf8.RuneCountInString(v.Text()); field.MaxLen > 0 && n > field.MaxLen {
			t.Fatalf("%s: %d characters", field.Key, n)
		}
	})
}

// Rows are given as lines of column=entry pairs, split by semicolons.
func FuzzParseRows(f *testing.F) {
	f.Add("pipe=copper-15;length_m=1.20;feeds=yes\npipe=lead", false)
	f.Add("angle_deg=90;count=1", true)
	f.Add("\n\n=\ncolour=red;colour=blue", false)
	f.Add(strings.Repeat("pipe=pe-20\n", 70), false)
	f.Fuzz(func(t *testing.T, text string, bends bool) {
		field := records.TightnessRuns
		if bends {
			field = records.FlueBends
		}
		var in []map[string]string
		for _, line := range strings.Split(text, "\n") {
			row := map[string]string{}
			for _, pair := range strings.Split(line, ";") {
				name, entry, _ := strings.Cut(pair, "=")
				if name != "" {
					row[name] = entry
				}
			}
			in = append(in, row)
		}
		v, errs := field.ParseRows(in)
		if len(errs) > 0 {
			if v.Present() {
				t.Fatal("refused, yet there is a value")
			}
			mustExplain(t, errs, len(text))
			return
		}
		if len(v.Rows()) > field.MaxRows || v.Present() != (len(v.Rows()) > 0) {
			t.Fatalf("%d rows", len(v.Rows()))
		}
		var stored []map[string]string
		for _, row := range v.Rows() {
			if len(row) == 0 {
				t.Fatal("a blank row is kept")
			}
			entries := map[string]string{}
			for name, cell := range row {
				entries[name] = cell.Text()
			}
			stored = append(stored, entries)
		}
		if again, errs := field.ParseRows(stored); len(errs) > 0 || !again.Equal(v) {
			t.Fatalf("%v reads again as %v, %v", v, again, errs)
		}
	})
}

func FuzzNormalPostcode(f *testing.F) {
	for _, s := range []string{"gir 0aa", "UB7 0EB", "W1A 0AX", "m11ae", "", "🔥", "M1 1AC", "ſw1a 1aa",
		"\xff\xff\xff\xff\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		code, err := records.NormalPostcode(s)
		if err != nil {
			mustExplain(t, err, len(s))
			return
		}
		if again, err := records.NormalPostcode(code); err != nil || again != code || len(code) < 6 || len(code) > 8 ||
			code[len(code)-4] != ' ' {
			t.Fatalf("%q gives %q, then %q, %v", s, code, again, err)
		}
	})
}

// An accepted document, written out and read again, is the same record.
func FuzzDecodeRecord(f *testing.F) {
	for _, data := range sampleFiles(f) {
		f.Add(data)
	}
	f.Add([]byte(least))
	f.Add([]byte(`{"schema":1,"sections":{"heat":{"seconds":1e400}}}`))
	f.Add([]byte(`{"schema":1,"condition":{"entries":null}}`))
	f.Add([]byte(strings.Replace(least, `"customer":`,
		`"sections":{"tightness":{"runs":[{},{"pipe":"pe-20","feeds":null}]}},"condition":{},"instruments":[],"customer":`, 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := records.DecodeRecord(bytes.NewReader(data))
		if err != nil {
			mustExplain(t, err, len(data))
			return
		}
		once, err := records.EncodeRecord(r)
		if err != nil {
			t.Fatalf("accepted, but cannot be written: %v", err)
		}
		if len(once) > records.MaxDocument {
			return // white space between the rows was all that JSON needed
		}
		again, err := records.DecodeRecord(bytes.NewReader(once))
		if err != nil {
			t.Fatalf("written as %s\nwhich is refused: %v", once, err)
		}
		if twice := encoded(t, again); !bytes.Equal(once, twice) {
			t.Fatalf("first %s\nthen %s", once, twice)
		}
		for key, v := range r.Values {
			if !again.Values[key].Equal(v) {
				t.Fatalf("%s changed", key)
			}
		}
	})
}

// Any JSON object is read as stored: it is written again as the same bytes,
// what is set aside leaves a record that entry accepts again, and whatever
// entry accepts is read the same by both readers.
func FuzzDecodeStored(f *testing.F) {
	for _, data := range sampleFiles(f) {
		f.Add(data)
	}
	for _, doc := range []string{least, `{}`, `{"sections":{"heat":{"seconds":1e400,"seconds":2,"x":[{"a":[]}]}}}`,
		`{"property":[],"firm":{"fax":"\u0000\ud800"},"work_date":{}}`,
		`{"sections":{"":{"":1},"a.b":{},"flue":{"bends":[{},1]}}}`,
		` {"schema" : 1, "condition":null, "photos":[{"width":1.5}]} `} {
		f.Add([]byte(doc))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := records.DecodeStored(data)
		if object := json.Valid(data) && bytes.HasPrefix(bytes.TrimLeft(data, " \t\r\n"),
			[]byte("{")); object != (err == nil) {
			t.Fatalf("a JSON object: %v, error: %v", object, err)
		}
		if err != nil {
			mustExplain(t, err, len(data))
			return
		}
		if out := encoded(t, r); !bytes.Equal(out, data) {
			t.Fatalf("read\n%q\nwritten as\n%q", data, out)
		}
		if strict, err := records.DecodeRecord(bytes.NewReader(data)); err == nil {
			r.SetAside()
			if len(r.Rejected) > 0 || !sameValues(r.Values, strict.Values) {
				t.Fatalf("entry accepts what the store does not read alike: %v\n%v\n%v", r.Rejected, r.Values,
					strict.Values)
			}
		}
		r.SetAside()
		r.Purpose, r.WorkDate = records.Service, records.MustDate("2026-11-25")
		out := encoded(t, r)
		if again, err := records.DecodeRecord(bytes.NewReader(out)); again == nil && len(out) <= records.MaxDocument {
			t.Fatalf("what was not set aside is refused: %v\n%s", err, out)
		}
	})
}

// The canonical JSON of any version is read and written as the same bytes.
func FuzzDecodeIssued(f *testing.F) {
	for name := range sampleFiles(f) {
		f.Add(canonical(f, issuedSample(f, name)))
	}
	f.Add([]byte(`{"number":"1","issued_at":"9999-12-31T23:59:59-01:00","record":{"schema":1}}`))
	f.Add([]byte(`{"number":"1","record":[],"findings":[{"limit":{"low":"x"},"fields":[1]}],"earlier":[{"readings":{"a":1}}]}`))
	f.Add([]byte(`{"number":"1","record":null,"findings":{},"duties":null,"standing":3}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		i, err := records.DecodeIssued(data)
		if err != nil {
			mustExplain(t, err, len(data))
			return
		}
		if out := canonical(t, i); !bytes.Equal(out, data) {
			t.Fatalf("read\n%q\nwritten as\n%q", data, out)
		}
		i.Standing += "!" // changed, so written by today's program
		again, err := records.DecodeIssued(canonical(t, i))
		if err != nil || again.Number != i.Number || again.Standing != i.Standing {
			t.Fatalf("changed and written again: %v", err)
		}
	})
}

func FuzzNormalCode(f *testing.F) {
	for _, s := range []string{"0123-4567-89AB", "olio", "", "éééééé", "abcdé fghij", "\xc300é0000000"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		code := records.NormalCode(s)
		if again := records.NormalCode(code); again != code || !utf8.ValidString(code) {
			t.Fatalf("%q gives %q, then %q", s, code, again)
		}
	})
}

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"2026-11-25", "2028-02-29", "0000-00-00", "9999-12-31", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := records.ParseDate(s)
		if err != nil {
			mustExplain(t, err, len(s))
			return
		}
		if d.String() != s {
			t.Fatalf("%q reads as %s", s, d)
		}
	})
}

func TestEveryFieldIsDescribed(t *testing.T) {
	var seen []string
	for _, s := range records.Sections {
		if s.ID == "" || s.Title == "" || s.Intro == "" || records.SectionByID(s.ID) != s {
			t.Errorf("section %q is not described", s.ID)
		}
		for _, f := range s.Fields() {
			if f.Section() != s.ID || f.Label == "" || records.FieldByKey(f.Key) != f || slices.Contains(seen, f.Key) {
				t.Errorf("%s: in section %s, label %q", f.Key, s.ID, f.Label)
			}
			seen = append(seen, f.Key)
			if f.When != nil {
				on := records.FieldByKey(f.When.Key)
				if on == nil || on.Section() != s.ID {
					t.Errorf("%s is shown by %s, which is no field of its section", f.Key, f.When.Key)
					continue
				}
				for _, code := range f.When.In {
					if on.Kind == records.ChoiceKind && on.ChoiceLabel(code) == code {
						t.Errorf("%s is shown by code %q, which %s does not have", f.Key, code, on.Key)
					}
				}
			}
			for _, kind := range f.Wants {
				if !slices.Contains(records.InstrumentKinds, kind) {
					t.Errorf("%s wants a %q", f.Key, kind)
				}
			}
		}
	}
	for _, f := range everyField() {
		if f.Kind == records.NumberKind && (f.Min >= f.Max || f.Decimals < 0) {
			t.Errorf("%s accepts %v to %v with %d decimals", f.Key, f.Min, f.Max, f.Decimals)
		}
		if f.Kind == records.ChoiceKind && len(f.Choices) < 2 {
			t.Errorf("%s has no choice", f.Key)
		}
	}
}
