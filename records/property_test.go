package records_test

import (
	"errors"
	"strings"
	"testing"

	"gaugebook/records"
)

// Source: the shapes and letter rules published with the government's bulk
// data transfer specification of 12 November 2015, and the postal operator's
// list of shapes (A9 9AA to AA9A 9AA and GIR 0AA).
func TestNormalPostcode(t *testing.T) {
	for in, want := range map[string]string{
		"gir 0aa": "GIR 0AA", "UB7 0EB": "UB7 0EB", "BX9 1AX": "BX9 1AX", "W1A 0AX": "W1A 0AX",
		"m11ae": "M1 1AE", " b33 8th ": "B33 8TH", "CR2 6XH": "CR2 6XH", "DN55 1PT": "DN55 1PT", "EC1A 1BB": "EC1A 1BB",
		"e c 1 a 1 b b": "EC1A 1BB", "W1P\t1HQ": "W1P 1HQ",
	} {
		got, err := records.NormalPostcode(in)
		if err != nil || got != want {
			t.Errorf("%q: %q, %v", in, got, err)
		}
	}
	for name, in := range map[string]string{
		"blank": "", "space": " ", "outward half only": "YO9", "inward half only": "2AB",
		"first letter Q": "Q1 1AA", "first letter V": "V1 1AA", "first letter X": "X1 1AA",
		"second letter I": "AI1 1AA", "second letter J": "AJ1 1AA", "second letter Z": "AZ1 1AA",
		"C at the end": "M1 1AC", "I at the end": "M1 1IA", "K": "M1 1KA", "M": "M1 1AM", "O": "M1 1OA", "V": "M1 1AV",
		"third letter not of the list": "W1I 0AX", "letter for the inward digit": "M1 AAA", "four digits": "M111 1AE",
		"appended": "M1 1AEX", "prefixed": "XM1 1AE", "special with more": "GIR 0AAA", "inner dash": "M1-1AE",
		"other digits": "M١ 1AE", "emoji": "🔥🔥🔥🔥", "ten megabytes": strings.Repeat("M1", 5<<20),
	} {
		got, err := records.NormalPostcode(in)
		var e *records.Error
		if !errors.As(err, &e) || got != "" || e.Field != "postcode" ||
			!strings.Contains(err.Error(), "give a postcode such as AB12 3XY") || len(err.Error()) > 500 {
			t.Errorf("%s: %q, %.300v", name, got, err)
		}
	}
}

func TestDates(t *testing.T) {
	for _, s := range []string{"", "2026-02-29", "2026-11-31", "2026-1-01", "26-11-25", "25/11/2026",
		"2026-11-25T00:00:00Z", "0000-01-01", "2026-11-25 ", "٢٠٢٦-11-25"} {
		if d, err := records.ParseDate(s); records.KindOf(err) != records.Invalid || !d.IsZero() ||
			!strings.Contains(err.Error(), "YYYY-MM-DD") {
			t.Errorf("%q: %v, %v", s, d, err)
		}
	}
	d := records.MustDate("2028-02-29")
	if d.String() != "2028-02-29" || d.Long() != "29 February 2028" || (records.Date{}).Long() != "" ||
		(records.Date{}).String() != "" {
		t.Errorf("%s, %s", d, d.Long())
	}
	if n := records.MustDate("2028-03-01").DaysSince(records.MustDate("2027-03-01")); n != 366 {
		t.Errorf("%d days", n)
	}
	today := records.MustDate("2026-11-25")
	for s, ok := range map[string]bool{"2026-11-25": true, "2026-11-26": false, "1986-11-25": true,
		"1986-11-24": false} {
		if err := records.CheckWorkDate(records.MustDate(s), today); (err == nil) != ok {
			t.Errorf("work on %s: %v", s, err)
		}
	}
	if records.CheckWorkDate(records.Date{}, today) == nil {
		t.Error("work on no date")
	}
}
