package exchange

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"gaugebook/records"
)

// Dates finds out how the dates of one list are written. All of them are added
// before the first is read: only the others show whether 03/04/2025 is in March
// or April.
type Dates struct {
	iso, slashed int // first row of each, 0 for none
	dayFirst     int // first row that cannot be month first
	monthFirst   int // first row that cannot be day first
}

var (
	isoDate     = regexp.MustCompile(`^(\d{4}-\d{2}-\d{2})(?:[ T]00:00(?::00(?:\.0+)?)?Z?)?$`)
	slashedDate = regexp.MustCompile(`^(\d{1,2})[/.](\d{1,2})[/.](\d{4})(?: 00:00(?::00)?)?$`)
)

const dateWant = "a date as YYYY-MM-DD or DD/MM/YYYY, for example 2026-11-25 or 25/11/2026"

// Add looks at a cell of a row.
func (d *Dates) Add(row int, cell string) {
	cell = strings.TrimSpace(cell)
	note := func(at *int) {
		if *at == 0 {
			*at = row
		}
	}
	if isoDate.MatchString(cell) {
		note(&d.iso)
		return
	}
	m := slashedDate.FindStringSubmatch(cell)
	if m == nil {
		return
	}
	note(&d.slashed)
	a, _ := strconv.Atoi(m[1])
	b, _ := strconv.Atoi(m[2])
	if a > 12 {
		note(&d.dayFirst)
	}
	if b > 12 {
		note(&d.monthFirst)
	}
}

// Check refuses dates whose order of day and month cannot be relied on: two
// ways of writing in one list, or the month first.
func (d *Dates) Check() error {
	refuse := func(msg string) error {
		return &records.Error{Kind: records.Invalid, Field: string(LastService), Label: "Dates of the list", Msg: msg,
			Want: "all of them in the same way: YYYY-MM-DD or DD/MM/YYYY"}
	}
	switch {
	case d.iso > 0 && d.slashed > 0:
		return refuse(fmt.Sprintf("row %d begins with the year, row %d does not, so the order of day and month "+
			"is uncertain", d.iso, d.slashed))
	case d.monthFirst > 0 && d.dayFirst > 0:
		return refuse(fmt.Sprintf("row %d has the day first, row %d the month", d.dayFirst, d.monthFirst))
	case d.monthFirst > 0:
		return refuse(fmt.Sprintf("row %d has the month first", d.monthFirst))
	}
	return nil
}

// Order describes how the dates are read, "" when there are none.
func (d *Dates) Order() string {
	switch {
	case d.iso > 0:
		return "year, month, day"
	case d.dayFirst > 0:
		return "day, month, year"
	case d.slashed > 0:
		return "day, month, year (assumed: no date in the list has a day after the twelfth)"
	}
	return ""
}

// parseDate reads one date, day first unless it is ISO. Errors: Invalid.
func parseDate(cell string) (records.Date, error) {
	cell = strings.TrimSpace(cell)
	if m := isoDate.FindStringSubmatch(cell); m != nil {
		if d, err := records.ParseDate(m[1]); err == nil {
			return d, nil
		}
	}
	if m := slashedDate.FindStringSubmatch(cell); m != nil {
		day, _ := strconv.Atoi(m[1])
		month, _ := strconv.Atoi(m[2])
		year, _ := strconv.Atoi(m[3])
		if d := records.NewDate(year, time.Month(month), day); year > 0 && d.Day == day && int(d.Month) == month {
			return d, nil
		}
	}
	return records.Date{}, &records.Error{Kind: records.Invalid, Value: clip(cell), Want: dateWant}
}

func clip(s string) string {
	s = strings.ToValidUTF8(s, "?")
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}
