package records_test

import (
	"testing"

	"gaugebook/records"
)

func TestWords(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{records.Shorten("flue", 4), "flue"}, {records.Shorten("flues", 4), "flu…"},
		{records.Shorten("ÄÖÜß", 3), "ÄÖ…"}, {records.Shorten("", 1), ""}, {records.Shorten("ab", 1), "…"},
		{records.UpperFirst("open flue"), "Open flue"}, {records.UpperFirst(""), ""},
		{records.LowerFirst("Open Flue"), "open Flue"}, {records.LowerFirst(""), ""},
		{records.Counted(0, "visit"), "0 visits"}, {records.Counted(1, "visit"), "1 visit"},
		{records.Counted(2, "visit"), "2 visits"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}
