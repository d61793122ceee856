package records_test

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"gaugebook/records"
)

// Every refusal names the field, the entry and what would be accepted.
func TestParseRefuses(t *testing.T) {
	drop, ppm, turns := records.DropMbar.Field, records.COMaxPPM.Field, records.HeatTurns.Field
	huge := strings.Repeat("9", 10<<20)
	for _, c := range []struct {
		name  string
		field *records.Field
		entry string
		says  string // beyond field, entry and what is accepted
	}{
		{"comma", drop, "1,5", "decimal point, not a comma"},
		{"comma for thousands", ppm, "1,500", "decimal point, not a comma"},
		{"unit", drop, "5 mbar", "leave the unit out, the field is in mbar"},
		{"unit without space", drop, "5mbar", "leave the unit out"},
		{"unit with a plain 3", records.HeatEndM3.Field, "2.5m3", "leave the unit out, the field is in m³"},
		{"unit on a bare number", turns, "2 turns", "leave the unit out"},
		{"percent", records.CO2MaxPct.Field, "9.1%", "leave the unit out, the field is in %"},
		{"degrees", records.FlueTempMaxC.Field, "61 °C", "leave the unit out, the field is in °C"},
		{"text", drop, "about five", "not a plain number"},
		{"not a number", drop, "NaN", "not a plain number"},
		{"infinity", drop, "Inf", "not a plain number"},
		{"signed infinity", drop, "-inf", "not a plain number"},
		{"exponent", drop, "1e400", "not a plain number"},
		{"small exponent", drop, "1e1", "not a plain number"},
		{"hexadecimal", drop, "0x10", ""},
		{"underscore", drop, "1_0", "not a plain number"},
		{"plus", drop, "+5", "not a plain number"},
		{"two points", drop, "1.2.3", "not a plain number"},
		{"point alone", drop, ".", "not a plain number"},
		{"minus alone", drop, "-", "not a plain number"},
		{"nothing behind the point", drop, "5.", "not a plain number"},
		{"inner space", drop, "1 5", "not a plain number"},
		{"other digits", drop, "٣", "not a plain number"},
		{"negative", drop, "-0.1", "out of range"},
		{"too large", drop, "100.01", "out of range"},
		{"far too large", drop, strings.Repeat("9", 200), "out of range"},
		{"below the least", records.RatedInputKW.Field, "0", "out of range"},
		{"too many decimals", drop, "0.123", "too many decimals"},
		{"decimals of a whole number", ppm, "72.5", "too many decimals"},
		{"ten megabytes of digits", drop, huge, "too long"},
		{"ten megabytes of text", records.ApplianceMake.Field, huge, "too long"},
		{"ten megabytes of choice", records.ApplianceKind.Field, huge, "too long"},
		{"one character too many", records.ApplianceMake.Field, strings.Repeat("é", 61), "61 characters are too many"},
		{"control character", records.ApplianceMake.Field, "Tarn\x07holm", "control characters"},
		{"line end in a line", records.ApplianceMake.Field, "two\nlines", "control characters"},
		{"null in notes", records.ForUser.Field, "a\x00b", "control characters"},
		{"invalid UTF-8", records.ForUser.Field, "a\xffb", "not text"},
		{"unknown choice", records.ApplianceKind.Field, "boiler", ""},
		{"label for code", records.ApplianceKind.Field, "Combination boiler", ""},
		{"flag", records.SmellOfGas.Field, "maybe", ""},
		{"flag as bool", records.SmellOfGas.Field, "true", ""},
		{"clock", records.TightnessTime.Field, "25:00", ""},
		{"clock short", records.TightnessTime.Field, "9:05", ""},
		{"clock minutes", records.TightnessTime.Field, "09:60", ""},
		{"date of no month", records.AlarmExpiry.Field, "2031-13-01", ""},
		{"date the month lacks", records.AlarmExpiry.Field, "2031-02-29", ""},
		{"date as written here", records.AlarmExpiry.Field, "01/03/2031", ""},
		{"strokes", records.EngineerSignature.Field, "L1,2", ""},
		{"strokes with script", records.EngineerSignature.Field, "M1,2 <script>", ""},
		{"rows as text", records.TightnessRuns.Field, "one row", "one by one"},
	} {
		t.Run(c.name, func(t *testing.T) {
			v, err := c.field.Parse(c.entry)
			var e *records.Error
			if !errors.As(err, &e) {
				t.Fatalf("accepted as %q", v.Text())
			}
			if v.Present() {
				t.Errorf("refused, yet there is a value %q", v.Text())
			}
			if e.Kind != records.Invalid || e.Field != c.field.Key || e.Label != c.field.Label ||
				e.Want != c.field.Accepts() {
				t.Errorf("kind %q field %q label %q want %q", e.Kind, e.Field, e.Label, e.Want)
			}
			text := err.Error()
			if !strings.HasPrefix(text, c.field.Label+": ") || !strings.Contains(text, c.says) ||
				!strings.Contains(text, "give "+c.field.Accepts()) {
				t.Errorf("says %q", text)
			}
			if !utf8.ValidString(text) || len(text) > 2000 {
				t.Errorf("%d bytes, valid %v: %.200q", len(text), utf8.ValidString(text), text)
			}
			if shown := strings.ToValidUTF8(c.entry, "?"); len(shown) < 60 && !strings.Contains(text, shown) {
				t.Errorf("does not repeat the entry: %q", text)
			}
		})
	}
}

func TestParseAccepts(t *testing.T) {
	for _, c := range []struct {
		field       *records.Field
		entry, want string
	}{
		{records.DropMbar.Field, "", ""},
		{records.DropMbar.Field, " \t ", ""},
		{records.DropMbar.Field, " 0.5 ", "0.5"},
		{records.DropMbar.Field, ".5", "0.5"},
		{records.DropMbar.Field, "00.50", "0.50"},
		{records.DropMbar.Field, "-0", "0"},
		{records.DropMbar.Field, "-0.00", "0.00"},
		{records.DropMbar.Field, "100", "100"},
		{records.GasTempChangeK.Field, "-20", "-20"},
		{records.GasTempChangeK.Field, "-.5", "-0.5"},
		{records.ApplianceMake.Field, "  Tarnholm  ", "Tarnholm"},
		{records.ApplianceMake.Field, strings.Repeat("é", 60), strings.Repeat("é", 60)},
		{records.ForUser.Field, "one\r\ntwo\n", "one\ntwo"},
		{records.ApplianceKind.Field, "cooker", "cooker"},
		{records.SmellOfGas.Field, "no", "no"},
		{records.TightnessTime.Field, "23:59", "23:59"},
		{records.EngineerSignature.Field, "M1,2 L3,4", "M1,2 L3,4"},
	} {
		v, err := c.field.Parse(c.entry)
		if err != nil || v.Text() != c.want || v.Present() != (c.want != "") {
			t.Errorf("%s %q: %q, %v; want %q", c.field.Key, c.entry, v.Text(), err, c.want)
		}
	}
}

// A number keeps the resolution that it was read with.
func TestReadingKeepsItsDecimals(t *testing.T) {
	for entry, want := range map[string]records.Reading{"5": {5, 0}, "5.0": {5, 1}, "5.00": {5, 2}, "0.25": {0.25, 2}} {
		vs := records.Values{}
		vs.Put(records.DropMbar.Field, entry)
		if got, ok := vs.Number(records.DropMbar); !ok || got != want {
			t.Errorf("%s: %v %v, want %v", entry, got, ok, want)
		}
	}
	if _, ok := (records.Values{}).Number(records.DropMbar); ok {
		t.Error("a blank field has a reading")
	}
}

func runs(n int, row map[string]string) []map[string]string {
	out := make([]map[string]string, n)
	for i := range out {
		out[i] = row
	}
	return out
}

func TestParseRows(t *testing.T) {
	good := map[string]string{"pipe": "copper-15", "length_m": "1.20", "feeds": "yes"}
	v, errs := records.TightnessRuns.ParseRows(append(runs(60, good), runs(500, map[string]string{"pipe": " "})...))
	if len(errs) > 0 || len(v.Rows()) != 60 {
		t.Fatalf("60 rows and blank ones: %d rows, %v", len(v.Rows()), errs)
	}
	if got := v.Rows()[0]; got.Text("pipe") != "copper-15" || got.Float("length_m") != 1.2 || len(got) != 3 {
		t.Errorf("first row %v", got)
	}
	if v, errs := records.TightnessRuns.ParseRows(nil); v.Present() || errs != nil {
		t.Errorf("no rows: %v %v", v, errs)
	}
	for _, c := range []struct {
		name  string
		in    []map[string]string
		field string
		says  string
		many  int
	}{
		{"200 pipe runs", runs(200, good), "tightness.runs",
			"Pipe runs: “200 rows” is not accepted: give at most 60 rows", 1},
		{"100,000 bad rows", runs(100000, map[string]string{"pipe": "lead"}), "tightness.runs", "“100000 rows”", 1},
		{"bad cell", []map[string]string{good, {"pipe": "lead"}}, "tightness.runs[1].pipe",
			"Pipe runs, row 2, Pipe: “lead” is not accepted", 1},
		{"two bad cells", []map[string]string{{"pipe": "lead", "length_m": "long"}}, "tightness.runs[0].pipe",
			"row 1, Length", 2},
		{"unknown column", []map[string]string{{"pipe": "copper-15", "colour": "red"}}, "tightness.runs[0].colour",
			"“colour” is not accepted: give a column that is one of pipe, length_m", 1},
	} {
		v, errs := records.TightnessRuns.ParseRows(c.in)
		if v.Present() || len(errs) != c.many || errs[0].Field != c.field || !strings.Contains(errs.Error(), c.says) {
			t.Errorf("%s: %d errors, first for %q: %.300v", c.name, len(errs), errs[0].Field, errs)
		}
	}
	first := ""
	for range 20 {
		_, errs := records.TightnessRuns.ParseRows([]map[string]string{{"b": "1", "a": "1", "c": "1", "pipe": "lead"}})
		if first == "" {
			first = errs.Error()
		}
		if errs.Error() != first {
			t.Fatal("errors come in random order")
		}
	}
}

// Every description of what a field takes reads as the end of "give …".
func TestAcceptsReadsWell(t *testing.T) {
	for field, want := range map[*records.Field]string{
		records.DropMbar.Field:             "a number from 0 to 100 mbar, at most 2 decimals",
		records.StatedInputPlusPct.Field:   "a number from 0 to 30 %, at most 1 decimal",
		records.COMaxPPM.Field:             "a whole number from 0 to 20000 ppm",
		records.HeatTurns.Field:            "a whole number from 1 to 100",
		records.StatedRatioMax.Field:       "a number from 0.0001 to 0.1, at most 5 decimals",
		records.RatedInputBasis.Field:      "one of net, gross",
		records.SmellOfGas.Field:           "yes or no",
		records.TightnessTime.Field:        "a time of day as HH:MM, for example 14:05",
		records.ApplianceMake.Field:        "text of at most 60 characters",
		records.TightnessRuns.Field:        "at most 60 rows",
		records.PressureGauge.Field:        "the id of one of the firm's instruments",
		records.GasTempChangeK.Field:       "a number from -20 to 20 K, at most 1 decimal",
		records.RatedOutputKW.Field:        "a number from 0.5 to 100 kW, at most 2 decimals",
		records.StatedDropSource.Field:     "text of at most 120 characters",
		records.ReceivedSignature.Field:    "pen strokes as M and L with whole-number coordinates",
		records.FlueDistances.Columns[1]:   "a whole number from 0 to 20000 mm",
		records.TightnessRuns.Columns[1]:   "a number from 0.05 to 200 m, at most 2 decimals",
		records.FlueLow.Field:              "yes or no",
		records.StatedFlueLengthMaxM.Field: "a number from 0.1 to 60 m, at most 2 decimals",
	} {
		if got := field.Accepts(); got != want {
			t.Errorf("%s: %q, want %q", field.Key, got, want)
		}
	}
}
