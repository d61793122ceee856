package records_test

import (
	"bytes"
	"maps"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaugebook/records"
)

// Whatever entry accepts is read back from store as the same record, with
// nothing set aside: random values of every field.
func TestEntryIsReadBackFromStore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyRecord(t)
		once, err := records.EncodeRecord(r)
		if err != nil {
			t.Fatal(err)
		}
		strict, err := records.DecodeRecord(bytes.NewReader(once))
		if err != nil {
			t.Fatalf("entry refuses what it accepted: %v", err)
		}
		stored, err := records.DecodeStored(once)
		if err != nil {
			t.Fatal(err)
		}
		for _, got := range []*records.Record{strict, stored} {
			got.SetAside()
			if len(got.Rejected) > 0 || len(got.OldEntries()) > 0 || !sameValues(got.Values, r.Values) {
				t.Fatalf("rejected %v, kept %v\n%v\n%v", got.Rejected, got.OldEntries(), got.Values, r.Values)
			}
			if out, err := records.EncodeRecord(got); err != nil || !bytes.Equal(out, once) {
				t.Fatalf("written as\n%s\nthen\n%s, %v", once, out, err)
			}
		}
	})
}

func sameValues(a, b records.Values) bool {
	return maps.EqualFunc(a, b, records.Value.Equal)
}

// anyRecord draws a record with values that entry accepts.
func anyRecord(t *rapid.T) *records.Record {
	r, err := records.DecodeRecord(strings.NewReader(least))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			if rapid.IntRange(0, 3).Draw(t, "in") > 0 {
				continue
			}
			if f.Kind != records.RowsKind {
				put(t, r.Values, f, anyEntry(t, f))
				continue
			}
			rows := make([]map[string]string, rapid.IntRange(1, 3).Draw(t, "rows"))
			for i := range rows {
				rows[i] = map[string]string{}
				for _, c := range f.Columns {
					rows[i][c.Key] = anyEntry(t, c)
				}
			}
			v, errs := records.RowsField{Field: f}.ParseRows(rows)
			if errs != nil {
				t.Fatal(errs)
			}
			if v.Present() {
				r.Values[f.Key] = v
			}
		}
	}
	return r
}

func put(t *rapid.T, vs records.Values, f *records.Field, entry string) {
	v, err := f.Parse(entry)
	if err != nil {
		t.Fatalf("%s: %v", f.Key, err)
	}
	if v.Present() {
		vs[f.Key] = v
	}
}

// anyEntry draws an entry that the field accepts, or a blank one.
func anyEntry(t *rapid.T, f *records.Field) string {
	switch f.Kind {
	case records.NumberKind:
		x := rapid.Float64Range(f.Min, f.Max).Draw(t, f.Key)
		return records.FormatNumber(min(max(x, f.Min), f.Max), f.Decimals)
	case records.ChoiceKind:
		return rapid.SampledFrom(f.Choices).Draw(t, f.Key).Code
	case records.FlagKind:
		return rapid.SampledFrom([]string{"yes", "no"}).Draw(t, f.Key)
	case records.ClockKind:
		return rapid.StringMatching(`([01][0-9]|2[0-3]):[0-5][0-9]`).Draw(t, f.Key)
	case records.DateKind:
		return records.MustDate("2026-01-01").AddDays(rapid.IntRange(-9000, 9000).Draw(t, f.Key)).String()
	case records.StrokesKind:
		return rapid.StringMatching(`M[0-9]{1,4},[0-9]{1,4}( L[0-9]{1,4},[0-9]{1,4}){0,5}`).Draw(t, f.Key)
	case records.NotesKind:
		return rapid.StringMatching(`[ -~é<>&"\\\n]{0,40}`).Draw(t, f.Key)
	}
	return rapid.StringMatching(`[ -~é<>&"\\]{0,40}`).Draw(t, f.Key)
}
