package records_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaugebook/records"
)

// bands returns an invented table: the standard's own is not ours to ship.
func bands(pairs ...float64) records.DropBands {
	b := records.DropBands{Edition: records.Edition4, Fuel: records.FuelNatural, Clause: "table 0 of an invented copy",
		EnteredBy: "Orla Venn", EnteredOn: records.MustDate("2026-10-02")}
	for i := 0; i < len(pairs); i += 2 {
		b.Bands = append(b.Bands, records.DropBand{UpToM3: pairs[i], DropMbar: pairs[i+1]})
	}
	return b
}

func TestDropBandsChecked(t *testing.T) {
	with := func(edit func(*records.DropBands)) records.DropBands {
		b := bands(0.01, 4, 0.02, 2)
		edit(&b)
		return b
	}
	many := func(n int) records.DropBands {
		b := bands()
		for i := range n {
			b.Bands = append(b.Bands, records.DropBand{UpToM3: float64(i+1) / 10000, DropMbar: 1})
		}
		return b
	}
	for _, c := range []struct {
		name  string
		b     records.DropBands
		field string // of the first error; "" for none
		says  string
	}{
		{"two bands", bands(0.01, 4, 0.02, 2), "", ""},
		{"one band", bands(0.035, 1), "", ""},
		{"equal drops", bands(0.01, 2, 0.02, 2), "", ""},
		{"no drop allowed", bands(0.01, 0), "", ""},
		{"the largest of each", bands(0.035, 8), "", ""},
		{"fifty bands", many(50), "", ""},
		{"40 typed for 4.0, first", bands(0.01, 40, 0.02, 2), "bands[0].drop_mbar",
			"Band 1, drop at most: out of range: “40” is not accepted: give a number from 0 to 8 mbar"},
		{"40 typed for 4.0, last", bands(0.01, 6, 0.02, 40), "bands[1].drop_mbar", "Band 2, drop at most"},
		{"40 typed for 4.0, alone", bands(0.035, 40), "bands[0].drop_mbar", "from 0 to 8 mbar"},
		{"just beyond the largest drop", bands(0.01, 8.001), "bands[0].drop_mbar", "out of range"},
		{"negative drop", bands(0.01, -1), "bands[0].drop_mbar", "out of range"},
		{"drop that is not a number", bands(0.01, math.NaN()), "bands[0].drop_mbar", "not a plain number"},
		{"endless drop", bands(0.01, math.Inf(1)), "bands[0].drop_mbar", "not a plain number"},
		{"too many decimals", bands(0.01, 1.0005), "bands[0].drop_mbar", "too many decimals"},
		{"larger drop for a larger volume", bands(0.01, 2, 0.02, 4), "bands[1].drop_mbar",
			"a larger volume is not allowed a larger drop: “4” is not accepted: give at most 2 mbar"},
		{"litres for cubic metres", bands(35, 1), "bands[0].up_to_m3", "give a number from 0 to 0.035 m³"},
		{"beyond the procedure", bands(0.0351, 1), "bands[0].up_to_m3", "out of range"},
		{"no volume", bands(0, 1), "bands[0].up_to_m3", "not in order of volume"},
		{"volume that is not a number", bands(math.NaN(), 1), "bands[0].up_to_m3", "not a plain number"},
		{"same volume twice", bands(0.02, 4, 0.02, 2), "bands[1].up_to_m3", "give more than 0.02 m³"},
		{"out of order", bands(0.02, 4, 0.01, 2), "bands[1].up_to_m3", "not in order of volume"},
		{"no bands", bands(), "bands", "“0 bands” is not accepted: give 1 to 50 bands"},
		{"51 bands", many(51), "bands", "51 bands"},
		{"an edition that no rule reads", with(func(b *records.DropBands) { b.Edition = records.Edition3 }), "edition",
			"“edition-3” is not accepted: give one of edition-4"},
		{"no edition", with(func(b *records.DropBands) { b.Edition = "" }), "edition", "edition-4"},
		{"a fuel that no rule reads", with(func(b *records.DropBands) { b.Fuel = records.FuelPropane }), "fuel",
			"give one of natural-gas"},
		{"no clause", with(func(b *records.DropBands) { b.Clause = " " }), "clause", "cannot be left blank"},
		{"nobody's", with(func(b *records.DropBands) { b.EnteredBy = "" }), "entered_by", "cannot be left blank"},
		{"clause of two lines", with(func(b *records.DropBands) { b.Clause = "a\nb" }), "clause", "one line"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.b.Checked()
			if c.field == "" {
				if err != nil {
					t.Errorf("refused: %v", err)
				}
				return
			}
			var es records.Errors
			if !errors.As(err, &es) || es[0].Kind != records.Invalid {
				t.Fatalf("%v", err)
			}
			if es[0].Field != c.field || !strings.Contains(err.Error(), c.says) {
				t.Errorf("field %q: %v\nwant %q: %s", es[0].Field, err, c.field, c.says)
			}
		})
	}
	tidy, err := with(func(b *records.DropBands) { b.Clause, b.EnteredBy = " table 0 ", " Orla Venn " }).Checked()
	if err != nil || tidy.Clause != "table 0" || tidy.EnteredBy != "Orla Venn" {
		t.Errorf("%+v, %v", tidy, err)
	}
}

// Every wrong figure is named at once, so that a table typed from paper is put
// right in one go.
func TestDropBandsCheckedTellsAll(t *testing.T) {
	b := bands(0.01, 40, 0.005, 50)
	b.Clause = ""
	_, err := b.Checked()
	var es records.Errors
	if !errors.As(err, &es) || len(es) != 4 {
		t.Fatalf("%v", err)
	}
	want := []string{"clause", "bands[0].drop_mbar", "bands[1].drop_mbar", "bands[1].up_to_m3"}
	for i, e := range es {
		if e.Field != want[i] {
			t.Errorf("error %d is about %s, want %s", i, e.Field, want[i])
		}
	}
}

// An accepted table never allows more at a larger volume, and nothing beyond
// what the two editions give: whatever was typed.
func TestDropBandsAcceptedAreSane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := bands()
		for range rapid.IntRange(0, 6).Draw(t, "bands") {
			b.Bands = append(b.Bands, records.DropBand{
				UpToM3:   float64(rapid.IntRange(-1, 40).Draw(t, "litres")) / 1000,
				DropMbar: float64(rapid.IntRange(-10, 90).Draw(t, "tenths")) / 10})
		}
		if _, err := b.Checked(); err != nil {
			return
		}
		for i, band := range b.Bands {
			if band.UpToM3 <= 0 || band.UpToM3 > 0.035 || band.DropMbar < 0 || band.DropMbar > 8 {
				t.Fatalf("band %d: %+v", i, band)
			}
			if i > 0 && (band.UpToM3 <= b.Bands[i-1].UpToM3 || band.DropMbar > b.Bands[i-1].DropMbar) {
				t.Fatalf("bands %d and %d: %+v", i-1, i, b.Bands)
			}
		}
	})
}

// The form reads a figure by the same description that the check uses.
func TestDropBandsFormAndCheckAgree(t *testing.T) {
	for _, drop := range []float64{-0.5, 0, 0.5, 4, 8, 8.5, 40, 0.0004} {
		_, typed := records.BandDropMbar.Parse(records.FormatNumber(drop, -1))
		_, stored := bands(0.01, drop).Checked()
		if (typed == nil) != (stored == nil) {
			t.Errorf("%v mbar: typed %v, stored %v", drop, typed, stored)
		}
	}
	for _, volume := range []float64{-0.01, 0.0001, 0.035, 0.0351, 1, 0.0000001} {
		_, typed := records.BandVolumeM3.Parse(records.FormatNumber(volume, -1))
		_, stored := bands(volume, 1).Checked()
		if (typed == nil) != (stored == nil) {
			t.Errorf("%v m³: typed %v, stored %v", volume, typed, stored)
		}
	}
}
