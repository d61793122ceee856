package rules_test

import (
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"

	"pgregory.net/rapid"
)

// datedFact sets one date of a record and is the rule that reads it.
type datedFact struct {
	rule string
	set  func(*records.Record, records.Date)
	past records.Outcome // when the date is before the day of the work
	none records.Outcome // when there is no date
}

func datedFacts() []datedFact {
	instrument := func(i int) func(*records.Record, records.Date) {
		return func(r *records.Record, d records.Date) {
			r.Instruments[i].CalibrationDue, r.Instruments[i].CalibratedOn = d, records.Date{}
		}
	}
	return []datedFact{
		{rule: "tightness.gauge", set: instrument(0), past: records.Doubtful, none: records.Missing},
		{rule: "pressure.gauge", set: instrument(0), past: records.Doubtful, none: records.Missing},
		{rule: "combustion.analyser", set: instrument(1), past: records.Doubtful, none: records.Missing},
		{rule: "handover.competence", past: records.Outside, none: records.Missing,
			set: func(r *records.Record, d records.Date) { r.Engineer.CompetenceUntil = d }},
		{rule: "ventilation.alarm_expiry", past: records.Outside, none: records.Missing,
			set: func(r *records.Record, d records.Date) {
				delete(r.Values, records.AlarmExpiry.Key)
				if !d.IsZero() {
					r.Values.Put(records.AlarmExpiry.Field, d.String())
				}
			}},
	}
}

// A date that ends something is good on its own day and not on the next, on
// every day of a leap year.
func TestDatesAreGoodOnTheirOwnDay(t *testing.T) {
	for _, c := range datedFacts() {
		for day := records.MustDate("2028-01-01"); day.Year < 2029; day = day.AddDays(13) {
			for off, want := range map[int]records.Outcome{-1: c.past, 0: records.Inside, 1: records.Inside} {
				r := rules.Sample()
				r.WorkDate = day
				c.set(r, day.AddDays(off))
				f, _ := findingOf(rules.Evaluate(r, records.Facts{}), c.rule)
				if f.Outcome != want || f.AtLimit != (off == 0) {
					t.Errorf("%s %d days from its date, %s: %s, at the limit %v", c.rule, off, day, f.Outcome,
						f.AtLimit)
				}
			}
		}
		r := rules.Sample()
		c.set(r, records.Date{})
		if f, _ := findingOf(rules.Evaluate(r, records.Facts{}), c.rule); f.Outcome != c.none {
			t.Errorf("%s without a date: %s, want %s", c.rule, f.Outcome, c.none)
		}
	}
}

// An instrument must be on the record, of a kind that takes the readings, and
// calibrated by the day of the work.
func TestInstrumentsThatProveNothing(t *testing.T) {
	for rule, field := range map[string]records.TextField{"tightness.gauge": records.TightnessGauge,
		"pressure.gauge": records.PressureGauge, "combustion.analyser": records.Analyser} {
		right, wrong := "gauge-1", "analyser-1"
		if rule == "combustion.analyser" {
			right, wrong = wrong, right
		}
		for id, want := range map[string]records.Outcome{right: records.Inside, wrong: records.Doubtful,
			"lost-9": records.Missing} {
			r := rules.Sample()
			r.Values.Put(field.Field, id)
			if f, _ := findingOf(rules.Evaluate(r, records.Facts{}), rule); f.Outcome != want {
				t.Errorf("%s with %s: %s (%s), want %s", rule, id, f.Outcome, f.Reason, want)
			}
		}
		r := rules.Sample()
		for i := range r.Instruments {
			r.Instruments[i].CalibratedOn = r.WorkDate.AddDays(1)
		}
		if f, _ := findingOf(rules.Evaluate(r, records.Facts{}), rule); f.Outcome != records.Doubtful {
			t.Errorf("%s calibrated after the work: %s", rule, f.Outcome)
		}
	}
}

// Of the owner's tables the one entered last counts, in whatever order they
// come; those of another fuel or edition are left alone.
func TestTheNewestDropTableCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tables := make([]records.DropBands, rapid.IntRange(0, 5).Draw(t, "tables"))
		newest := records.DropBands{}
		for i := range tables {
			b := records.DropBands{Edition: rapid.SampledFrom([]string{records.Edition3, records.Edition4}).Draw(t,
				"edition"),
				Fuel:      rapid.SampledFrom([]string{records.FuelNatural, records.FuelPropane}).Draw(t, "fuel"),
				EnteredOn: records.MustDate("2026-10-01").AddDays(i), Clause: "invented", EnteredBy: "nobody",
				Bands: []records.DropBand{{UpToM3: 0.02, DropMbar: float64(rapid.IntRange(1, 8).Draw(t, "drop"))}}}
			tables[i] = b
			if b.Edition == records.Edition4 && b.Fuel == records.FuelNatural {
				newest = b
			}
		}
		order := rapid.Permutation(tables).Draw(t, "order")
		r := rules.Sample()
		r.WorkDate = records.MustDate("2026-11-20")
		drop := float64(rapid.IntRange(1, 9).Draw(t, "reading"))
		put(r, records.DropMbar, drop)
		f, _ := findingOf(rules.Evaluate(r, records.Facts{DropBands: order}), "tightness.drop")
		want := records.Missing
		switch {
		case newest.Bands == nil:
		case drop <= newest.Bands[0].DropMbar:
			want = records.Inside
		default:
			want = records.Outside
		}
		if f.Outcome != want {
			t.Fatalf("%g mbar by %+v: %s, want %s", drop, order, f.Outcome, want)
		}
	})
}

// The meter never runs back from one record to the next.
func TestTheMeterSinceTheEarlierRecord(t *testing.T) {
	for _, c := range []struct {
		earlier string
		want    records.Outcome
	}{{"1400.000", records.Inside}, {"1482.316", records.Inside}, {"1482.317", records.Doubtful},
		{"1500", records.Doubtful}, {"", records.Exempt}} {
		r := rules.Sample()
		facts := records.Facts{Earlier: r.Values.Clone()}
		delete(facts.Earlier, records.HeatEndM3.Key)
		if c.earlier != "" {
			facts.Earlier.Put(records.HeatEndM3.Field, c.earlier)
		}
		if f, _ := findingOf(rules.Evaluate(r, facts), "heat.meter_since"); f.Outcome != c.want {
			t.Errorf("after %s: %s (%s), want %s", c.earlier, f.Outcome, f.Reason, c.want)
		}
	}
	if f, _ := findingOf(rules.Evaluate(rules.Sample(), records.Facts{}),
		"heat.meter_since"); f.Outcome != records.Exempt {
		t.Errorf("without an earlier record: %s", f.Outcome)
	}
}
