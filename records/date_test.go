package records_test

import (
	"encoding/json"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gaugebook/records"
)

// A month later is the same day number, or the last day of a month that lacks
// it; a legal deadline must not slide into the month after. The many-month
// table of testdata/due is checked in package due.
func TestAddMonths(t *testing.T) {
	for _, c := range []struct {
		from   string
		months int
		want   string
	}{
		{"2026-01-31", 1, "2026-02-28"},
		{"2028-01-31", 1, "2028-02-29"},
		{"2028-02-29", 12, "2029-02-28"},
		{"2028-02-29", 48, "2032-02-29"},
		{"2026-03-31", -1, "2026-02-28"},
		{"2026-01-15", -1, "2025-12-15"},
		{"2026-12-31", 2, "2027-02-28"},
		{"2026-11-25", 0, "2026-11-25"},
		{"2026-11-30", 12, "2027-11-30"},
		{"2100-01-31", 1, "2100-02-28"}, // no leap year
		{"2000-01-31", 1, "2000-02-29"}, // a leap year
	} {
		if got := records.MustDate(c.from).AddMonths(c.months); got.String() != c.want {
			t.Errorf("%s and %d months: %s, want %s", c.from, c.months, got, c.want)
		}
	}
}

func anyDate(t *rapid.T, name string) records.Date {
	return records.MustDate("2026-01-01").AddDays(rapid.IntRange(-60000, 60000).Draw(t, name))
}

// Days and order of dates agree with the standard library's instants, and a
// day is never lost or doubled on the way there and back.
func TestDateArithmetic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, e := anyDate(t, "d"), anyDate(t, "e")
		n := rapid.IntRange(-40000, 40000).Draw(t, "n")
		if got := d.AddDays(n); got.DaysSince(d) != n || got.AddDays(-n) != d {
			t.Fatalf("%s and %d days is %s, which is %d days later", d, n, got, got.DaysSince(d))
		}
		a := time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC)
		b := time.Date(e.Year, e.Month, e.Day, 0, 0, 0, 0, time.UTC)
		if d.Before(e) != a.Before(b) || d.After(e) != a.After(b) || d.Compare(e) != a.Compare(b) ||
			d.Before(e) != (d.String() < e.String()) {
			t.Fatalf("%s and %s are in another order than their instants or their text", d, e)
		}
		if !d.Time().Equal(a) || records.DateOf(a) != d {
			t.Fatalf("%s is the instant %s", d, d.Time())
		}
		m := rapid.IntRange(-600, 600).Draw(t, "m")
		later := d.AddMonths(m)
		if months := (later.Year-d.Year)*12 + int(later.Month-d.Month); months != m || later.Day > d.Day ||
			later.Day < d.Day && later.AddDays(1).Day != 1 {
			t.Fatalf("%s and %d months is %s", d, m, later)
		}
		if back, err := records.ParseDate(d.String()); err != nil || back != d {
			t.Fatalf("%s reads as %s, %v", d, back, err)
		}
	})
}

// The date of an instant is that of the zone it is told in: work done after
// midnight in summer time is not of the day before.
func TestDateOfIsLocal(t *testing.T) {
	late := time.Date(2026, 6, 30, 23, 30, 0, 0, time.UTC)
	if got := records.DateOf(late.In(time.FixedZone("", 3600))); got != records.MustDate("2026-07-01") {
		t.Errorf("%s", got)
	}
	if got := records.DateOf(late); got != records.MustDate("2026-06-30") {
		t.Errorf("%s", got)
	}
	if got := records.NewDate(2026, time.February, 29); got != records.MustDate("2026-03-01") {
		t.Errorf("29 February 2026 is %s", got)
	}
	if got := records.NewDate(1899, time.December, 30); got.String() != "1899-12-30" {
		t.Errorf("%s", got)
	}
}

// No date is the empty text in JSON, both ways, and is left out where it may
// be.
func TestDateJSON(t *testing.T) {
	in := struct {
		Due records.Date `json:"due"`
		On  records.Date `json:"on,omitzero"`
	}{Due: records.MustDate("2026-11-25")}
	out, err := json.Marshal(in)
	if err != nil || string(out) != `{"due":"2026-11-25"}` {
		t.Errorf("%s, %v", out, err)
	}
	in.Due = records.Date{}
	if out, err = json.Marshal(in); err != nil || string(out) != `{"due":""}` {
		t.Errorf("%s, %v", out, err)
	}
	in.On = records.MustDate("2026-01-01")
	if err := json.Unmarshal([]byte(`{"due":"2028-02-29","on":""}`), &in); err != nil ||
		in.Due != records.MustDate("2028-02-29") || !in.On.IsZero() {
		t.Errorf("%+v, %v", in, err)
	}
	if err := json.Unmarshal([]byte(`{"due":"2027-02-29"}`), &in); records.KindOf(err) != records.Invalid {
		t.Errorf("29 February 2027: %v", err)
	}
}

func TestMustDatePanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("a wrong date in code goes unnoticed")
		}
	}()
	records.MustDate("2026-13-01")
}

// A source is in force from its first day to its last, both included; an open
// end has no bound.
func TestSourceInForce(t *testing.T) {
	from, until := records.MustDate("2026-03-01"), records.MustDate("2026-09-30")
	for _, c := range []struct {
		source records.Source
		day    string
		want   bool
	}{
		{records.Source{From: from, Until: until}, "2026-02-28", false},
		{records.Source{From: from, Until: until}, "2026-03-01", true},
		{records.Source{From: from, Until: until}, "2026-09-30", true},
		{records.Source{From: from, Until: until}, "2026-10-01", false},
		{records.Source{Until: until}, "1990-01-01", true},
		{records.Source{Until: until}, "2026-10-01", false},
		{records.Source{From: from}, "2090-01-01", true},
		{records.Source{From: from}, "2026-02-28", false},
		{records.Source{}, "2026-02-28", true},
	} {
		if got := c.source.InForce(records.MustDate(c.day)); got != c.want {
			t.Errorf("%+v on %s: %v", c.source, c.day, got)
		}
	}
	for want, s := range map[string]records.Source{
		"IGEM/UP/1B, Edition 4, scope": {Document: "IGEM/UP/1B", Edition: "Edition 4", Clause: "scope"},
		"BS 6891, 2015":                {Document: "BS 6891", Edition: "2015"},
		"Instructions, page 12":        {Document: "Instructions", Clause: "page 12"},
		"Physics":                      {Document: "Physics", Confidence: records.Confirmed},
	} {
		if got := s.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
