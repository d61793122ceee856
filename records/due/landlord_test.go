package due_test

import (
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"

	"pgregory.net/rapid"
)

// twoMonthsBefore is the corresponding date, by the standard library's months:
// independent of records.Date.
func twoMonthsBefore(d records.Date) records.Date {
	first := time.Date(d.Year, d.Month-2, 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return records.DateOf(first.AddDate(0, 0, min(d.Day, last)-1))
}

// Every day from 100 before to 100 after each deadline of four years, a leap
// year among them: kept, early, read both ways or late, as regulation 36A says.
func TestEachDayAroundADeadline(t *testing.T) {
	for deadline := records.MustDate("2026-01-01"); deadline.Year < 2030; deadline = deadline.AddDays(1) {
		ambiguous := twoMonthsBefore(deadline)
		for shift := -100; shift <= 100; shift++ {
			done := deadline.AddDays(shift)
			c := due.LandlordCheck(deadline, done, records.Scotland)
			kept := done.After(ambiguous) && !done.After(deadline)
			late := done.After(deadline)
			switch {
			case c.Kept != kept || c.Late != late:
				t.Fatalf("%s for %s: kept %v, late %v", done, deadline, c.Kept, c.Late)
			case kept && c.Next != deadline.AddMonths(12), !kept && c.Next != done.AddMonths(12):
				t.Fatalf("%s for %s: next %s", done, deadline, c.Next)
			case (done == ambiguous) != !c.OtherNext.IsZero():
				t.Fatalf("%s for %s: other %s", done, deadline, c.OtherNext)
			case late != strings.Contains(c.Warning, "after the last day"):
				t.Fatalf("%s for %s: %q", done, deadline, c.Warning)
			}
		}
	}
}

// The window of two months is 59 to 62 days long and ends with the deadline.
func TestWindowIsTwoMonths(t *testing.T) {
	lengths := map[int]bool{}
	for deadline := records.MustDate("2026-01-01"); deadline.Year < 2034; deadline = deadline.AddDays(1) {
		first, last := due.Window(deadline)
		days := last.DaysSince(first) + 1
		if last != deadline || days < 59 || days > 62 || first != twoMonthsBefore(deadline).AddDays(1) {
			t.Fatalf("%s: %s to %s, %d days", deadline, first, last, days)
		}
		lengths[days] = true
	}
	if len(lengths) != 4 {
		t.Errorf("lengths seen: %v", lengths)
	}
}

// A landlord who always checks in the window keeps one date for ever and has
// one check a year; no two checks are more than 14 months apart.
func TestChecksInTheWindowKeepTheDate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nation := rapid.SampledFrom([]records.Nation{records.England, records.Wales, records.Scotland}).Draw(t,
			"nation")
		installed := anyDate.Draw(t, "installed")
		deadline := due.FirstLandlordDeadline(installed)
		before := installed
		for year := 1; year <= 20; year++ {
			first, last := due.Window(deadline)
			done := first.AddDays(rapid.IntRange(0, last.DaysSince(first)).Draw(t, "day"))
			if done.After(before.AddMonths(14)) {
				t.Fatalf("%s, then %s", before, done)
			}
			c := due.LandlordCheck(deadline, done, nation)
			want := records.Date{Year: installed.Year + year + 1, Month: installed.Month, Day: installed.Day}
			if installed.Month == time.February && installed.Day == 29 {
				want.Day = 28 // cut once, it stays
			}
			if !c.Kept || c.Next != want {
				t.Fatalf("year %d: done %s for %s, next %s, want %s", year, done, deadline, c.Next, want)
			}
			deadline, before = c.Next, done
		}
	})
}

// In Northern Ireland, where the early rule is unconfirmed, a check never
// gives a later date than it would in Great Britain, nor one later than a year
// after it was made.
func TestNorthernIrelandIsTheCautiousReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deadline := anyDate.Draw(t, "deadline")
		done := deadline.AddDays(rapid.IntRange(-100, 100).Draw(t, "shift"))
		ni, gb := due.LandlordCheck(deadline, done, records.NorthernIreland),
			due.LandlordCheck(deadline, done, records.Wales)
		if ni.Next.After(gb.Next) || ni.Next.After(done.AddMonths(12)) || ni.Late != gb.Late {
			t.Fatalf("%s for %s: Northern Ireland %+v, Wales %+v", done, deadline, ni, gb)
		}
		if gb.Kept && done != deadline && (ni.OtherNext != gb.Next || !strings.Contains(ni.Warning, "unconfirmed")) {
			t.Fatalf("%s for %s: %+v", done, deadline, ni)
		}
		if d := ni.Duty(); d.Source.Confidence != records.Unconfirmed ||
			!strings.Contains(d.Source.Document, "Northern Ireland") {
			t.Fatalf("source %+v", d.Source)
		}
	})
}

// Without a deadline on file a check counts from its own day, and nothing is
// said about early or late.
func TestCheckWithoutADeadline(t *testing.T) {
	for _, nation := range records.Nations {
		for day := records.MustDate("2028-01-01"); day.Year < 2029; day = day.AddDays(1) {
			c := due.LandlordCheck(records.Date{}, day, nation)
			if c.Kept || c.Late || c.Warning != "" || !c.OtherNext.IsZero() || c.Next != day.AddMonths(12) ||
				c.Effective != day {
				t.Fatalf("%s in %s: %+v", day, nation, c)
			}
		}
	}
}

// The duty of a check carries its date, its source and its warning.
func TestDutyOfACheck(t *testing.T) {
	for _, c := range []struct{ deadline, done, due, says string }{
		{"2027-06-15", "2027-05-01", "2028-06-15", "keeps the date"},
		{"2027-06-15", "2027-06-15", "2028-06-15", "keeps the date"},
		{"2027-06-15", "2027-04-15", "2028-04-15", "exactly two months"},
		{"2027-06-15", "2027-03-01", "2028-03-01", "Within 12 months of the check of 1 March 2027."},
		{"2027-06-15", "2027-06-16", "2028-06-16", "1 day after the last day for it, 15 June 2027"},
		{"2027-06-15", "2027-07-01", "2028-07-01", "16 days after the last day for it"},
		{"", "2028-02-29", "2029-02-28", "Within 12 months of the check of 29 February 2028."},
	} {
		d := due.LandlordCheck(date(t, c.deadline), date(t, c.done), records.England).Duty()
		if d.Kind != records.LandlordCheckDue || d.Due.String() != c.due || !strings.Contains(d.Why, c.says) {
			t.Errorf("%s for %s: %s, %q; want %s and %q", c.done, c.deadline, d.Due, d.Why, c.due, c.says)
		}
		if d.Source.Confidence != records.Confirmed || d.Source.From != records.MustDate("2018-04-06") {
			t.Errorf("source %+v", d.Source)
		}
	}
}
