package due_test

import (
	"testing"
	"time"
	_ "time/tzdata" // the zones are needed wherever the test runs

	"gaugebook/records"
	"gaugebook/records/due"

	"pgregory.net/rapid"
)

// lastDay is worked out from the rule of the Gregorian calendar, not from the
// library that the dates use.
func lastDay(year int, month time.Month) int {
	switch month {
	case time.April, time.June, time.September, time.November:
		return 30
	case time.February:
		if year%4 == 0 && year%100 != 0 || year%400 == 0 {
			return 29
		}
		return 28
	}
	return 31
}

// dayNumber counts days from 1 March of year 0 (Fliegel and Van Flandern,
// Communications of the ACM, 1968, in its usual form).
func dayNumber(d records.Date) int {
	y, m := d.Year, int(d.Month)
	if m < 3 {
		y, m = y-1, m+12
	}
	return 365*y + y/4 - y/100 + y/400 + (153*(m-3)+2)/5 + d.Day - 1
}

// Every day of 400 years follows the one before, by the calendar's own rule:
// the whole cycle of leap years, 146 097 days.
func TestEveryDayOfTheCycle(t *testing.T) {
	day := records.Date{Year: 2000, Month: time.January, Day: 1}
	for range 146097 {
		want := records.Date{Year: day.Year, Month: day.Month, Day: day.Day + 1}
		if want.Day > lastDay(day.Year, day.Month) {
			want.Month, want.Day = want.Month+1, 1
		}
		if want.Month > time.December {
			want.Year, want.Month = want.Year+1, time.January
		}
		next := day.AddDays(1)
		if next != want {
			t.Fatalf("the day after %s is %s, want %s", day, next, want)
		}
		day = next
	}
	if want := (records.Date{Year: 2400, Month: time.January, Day: 1}); day != want {
		t.Errorf("after 400 years %s, want %s", day, want)
	}
}

func TestDaysBetweenDates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyDate.Draw(t, "a")
		n := rapid.IntRange(-40000, 40000).Draw(t, "n")
		b := a.AddDays(n)
		if b.DaysSince(a) != n || a.DaysSince(b) != -n || dayNumber(b)-dayNumber(a) != n {
			t.Fatalf("%s and %s: %d days, want %d, by day numbers %d", a, b, b.DaysSince(a), n,
				dayNumber(b)-dayNumber(a))
		}
		if b.AddDays(-n) != a {
			t.Fatalf("%s, %+d and back: %s", a, n, b.AddDays(-n))
		}
		if a.Before(b) != (n > 0) || a.After(b) != (n < 0) || a.Compare(b) != -b.Compare(a) {
			t.Fatalf("order of %s and %s", a, b)
		}
	})
}

// The corresponding date rule: the month that many months on, and the same
// number, or the last day of a month that has no such day.
func TestMonthsLandOnTheCorrespondingDate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, n := anyDate.Draw(t, "d"), rapid.IntRange(-600, 600).Draw(t, "n")
		got := d.AddMonths(n)
		months := d.Year*12 + int(d.Month) - 1 + n
		year, month := months/12, time.Month(months%12+1)
		if got.Year != year || got.Month != month || got.Day != min(d.Day, lastDay(year, month)) {
			t.Fatalf("%s %+d months: %s", d, n, got)
		}
	})
}

// Months keep the order of dates, and going there and back comes home unless
// the day had to be cut, and then to an earlier day of the same month.
func TestMonthsKeepOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, n := anyDate.Draw(t, "d"), rapid.IntRange(-60, 60).Draw(t, "n")
		later := d.AddDays(rapid.IntRange(0, 60).Draw(t, "later"))
		if later.AddMonths(n).Before(d.AddMonths(n)) {
			t.Fatalf("%s and %s swap after %d months", d, later, n)
		}
		back := d.AddMonths(n).AddMonths(-n)
		if back.Month != d.Month || back.Year != d.Year || back.Day > d.Day || d.Day <= 28 && back != d {
			t.Fatalf("%s, %+d months and back: %s", d, n, back)
		}
		if twelve := d.AddMonths(12 * n); twelve.Month != d.Month || twelve.Year != d.Year+n {
			t.Fatalf("%s and %d years: %s", d, n, twelve)
		}
	})
}

// A chain that starts on 29 February stays on the 28th, in leap years too,
// and one on the 31st goes by the ends of months only once.
func TestChainsOverMonthEnds(t *testing.T) {
	for _, c := range []struct {
		from   string
		months int
		want   []string
	}{
		{"2024-02-29", 12, []string{"2025-02-28", "2026-02-28", "2027-02-28", "2028-02-28"}},
		{"2023-02-28", 12, []string{"2024-02-28", "2025-02-28"}},
		{"2026-08-31", 1, []string{"2026-09-30", "2026-10-30", "2026-11-30"}},
		{"2026-08-31", 6, []string{"2027-02-28", "2027-08-28"}},
		{"2027-08-31", 6, []string{"2028-02-29", "2028-08-29"}},
		{"2026-12-31", -2, []string{"2026-10-31", "2026-08-31"}},
		{"2027-04-30", -2, []string{"2027-02-28", "2026-12-28"}},
		{"2028-04-30", -2, []string{"2028-02-29", "2027-12-29"}},
		{"2100-01-31", 1, []string{"2100-02-28"}},
		{"2000-01-31", 1, []string{"2000-02-29"}},
	} {
		d := date(t, c.from)
		for _, want := range c.want {
			if d = d.AddMonths(c.months); d.String() != want {
				t.Errorf("from %s every %d months: %s, want %s", c.from, c.months, d, want)
			}
		}
	}
}

// Whatever the clock does, a deadline is a day: on each day of a year, from the
// first second to the last as people there see it, and whichever time of year
// the work was done in, the duties come out the same.
func TestDaylightSavingDoesNotMoveADeadline(t *testing.T) {
	for _, name := range []string{"Europe/London", "Pacific/Auckland", "America/New_York", "UTC"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		for day := records.MustDate("2026-01-01"); day.Year < 2027; day = day.AddDays(1) {
			first := time.Date(day.Year, day.Month, day.Day, 0, 0, 0, 0, zone)
			last := time.Date(day.Year, day.Month, day.Day, 23, 59, 59, 0, zone)
			if records.DateOf(first) != day || records.DateOf(last) != day {
				t.Fatalf("%s in %s runs from %s to %s", day, name, records.DateOf(first), records.DateOf(last))
			}
			for _, at := range []time.Time{first, last} {
				worked := records.DateOf(at)
				if d := due.AnnualService(worked, 12); d.Due != day.AddMonths(12) {
					t.Fatalf("%s in %s: service due %s", at, name, d.Due)
				}
				if d := due.TenantCopy(worked, records.England); d.Due.DaysSince(day) != 28 {
					t.Fatalf("%s in %s: copy due %s", at, name, d.Due)
				}
			}
		}
	}
}

// The clocks of Great Britain change on these days; a day counted across them
// is still one day.
func TestDaysAcrossAClockChange(t *testing.T) {
	for _, change := range []string{"2026-03-29", "2026-10-25", "2027-03-28", "2027-10-31"} {
		d := date(t, change)
		if d.AddDays(-1).AddDays(2) != d.AddDays(1) || d.AddDays(1).DaysSince(d.AddDays(-1)) != 2 {
			t.Errorf("days around %s", change)
		}
		check := due.LandlordCheck(d, d, records.England)
		if !check.Kept || check.Late || check.Next != d.AddMonths(12) {
			t.Errorf("a check on its deadline, %s: %+v", change, check)
		}
	}
}
