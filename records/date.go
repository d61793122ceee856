package records

import (
	"fmt"
	"time"
)

// Date is a calendar date without time of day or zone. Duties and editions
// are counted in whole days where the work was done, so a zone would only
// let a date slip by one. The zero Date means "no date".
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// NewDate returns the date, normalised as time.Date does.
func NewDate(year int, month time.Month, day int) Date {
	return DateOf(time.Date(year, month, day, 0, 0, 0, 0, time.UTC))
}

// DateOf returns the calendar date of t in t's own zone.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// ParseDate reads YYYY-MM-DD. Any other shape, and a day that the month does
// not have, is an Invalid error.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse("2006-01-02", s)
	if err != nil || t.Year() < 1 {
		return Date{}, &Error{Kind: Invalid, Value: clip(s), Want: "a date as YYYY-MM-DD, for example 2026-11-25"}
	}
	return DateOf(t), nil
}

// MustDate is ParseDate for dates written in code.
func MustDate(s string) Date {
	d, err := ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

// String returns YYYY-MM-DD, or "" for no date.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day)
}

// Long returns the date as people here write it: 25 November 2026.
func (d Date) Long() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%d %s %d", d.Day, d.Month, d.Year)
}

// IsZero reports whether there is no date.
func (d Date) IsZero() bool { return d == Date{} }

// Time returns midnight UTC of the date.
func (d Date) Time() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// Compare returns -1, 0 or +1.
func (d Date) Compare(e Date) int { return d.Time().Compare(e.Time()) }

// Before reports whether d comes before e.
func (d Date) Before(e Date) bool { return d.Compare(e) < 0 }

// After reports whether d comes after e.
func (d Date) After(e Date) bool { return d.Compare(e) > 0 }

// AddDays returns the date n days later.
func (d Date) AddDays(n int) Date { return DateOf(d.Time().AddDate(0, 0, n)) }

// DaysSince returns the number of days from e to d.
func (d Date) DaysSince(e Date) int { return int(d.Time().Sub(e.Time()) / (24 * time.Hour)) }

// AddMonths returns the corresponding date n months later: the same day
// number, or the last day of that month where it has no such day. (The
// standard library would roll 30 February over into March, which moves a
// legal deadline.)
func (d Date) AddMonths(n int) Date {
	months := d.Year*12 + int(d.Month) - 1 + n
	year, month := months/12, time.Month(months%12+1)
	last := time.Date(year, month+1, 0, 0, 0, 0, 0, time.UTC).Day()
	return Date{year, month, min(d.Day, last)}
}

// MarshalText writes YYYY-MM-DD; no date is the empty text.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads YYYY-MM-DD or the empty text.
func (d *Date) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = Date{}
		return nil
	}
	v, err := ParseDate(string(b))
	if err != nil {
		return err
	}
	*d = v
	return nil
}
