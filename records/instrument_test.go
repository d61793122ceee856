package records_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
)

func quantity(t *testing.T, q records.Quantity) records.QuantityInfo {
	t.Helper()
	for _, info := range records.Quantities {
		if info.Quantity == q {
			return info
		}
	}
	t.Fatalf("no quantity %q", q)
	return records.QuantityInfo{}
}

// An accuracy is read as data sheets write it; the range is our own choice.
// Common practice, no published source.
func TestParseAccuracy(t *testing.T) {
	const p, co, o2, temp = records.QuantityPressure, records.QuantityCO, records.QuantityOxygen,
		records.QuantityTemperature
	for _, c := range []struct {
		q                   records.Quantity
		entry               string
		step, within, share float64 // step 0: refused
		again               string
	}{
		{p, "0.01 ± 0.1", 0.01, 0.1, 0, "0.01 ± 0.1"}, {p, "0.01±0.1", 0.01, 0.1, 0, "0.01 ± 0.1"},
		{p, "0.01 +/- 0.1", 0.01, 0.1, 0, "0.01 ± 0.1"}, {p, "0.01 mbar ± 0.1 mbar", 0.01, 0.1, 0, "0.01 ± 0.1"},
		{p, " 0.01mbar ±0.1mbar or 0.5% ", 0.01, 0.1, 0.5, "0.01 ± 0.1 or 0.5 %"},
		{co, "1 ± 20 or 5 %", 1, 20, 5, "1 ± 20 or 5 %"}, {co, "1 ppm ± 20 ppm or 5%", 1, 20, 5, "1 ± 20 or 5 %"},
		{co, "1 ± 0 or 5 %", 1, 0, 5, "1 ± 0 or 5 %"}, {co, "1 ± 20 or 0 %", 1, 20, 0, "1 ± 20"},
		{o2, "0.1 ± 0.3", 0.1, 0.3, 0, "0.1 ± 0.3"}, {o2, "0.1 % ± 0.3 %", 0.1, 0.3, 0, "0.1 ± 0.3"},
		{temp, "0.1 °C ± 1 °C or 50 %", 0.1, 1, 50, "0.1 ± 1 or 50 %"}, {temp, "0.1 ± 1 or 50.1 %", 0, 0, 0, ""},
		{p, "0.0001 ± 1000", 0.0001, 1000, 0, "0.0001 ± 1000"}, {p, "1000 ± 0", 1000, 0, 0, "1000 ± 0"},
		{p, "0.00009 ± 1", 0, 0, 0, ""}, {p, "1000.1 ± 1", 0, 0, 0, ""}, {p, "1 ± 1000.1", 0, 0, 0, ""},
		{p, "0 ± 0.1", 0, 0, 0, ""}, {p, "0.01", 0, 0, 0, ""}, {p, "± 0.1", 0, 0, 0, ""}, {p, "0.01 ±", 0, 0, 0, ""},
		{p, "0.01 ± 0.1 or 5", 0, 0, 0, ""}, {p, "0.01 ± 0.1 or %", 0, 0, 0, ""}, {p, "0.01 ± 0.1 or", 0, 0, 0, ""},
		{p, "0.01 kPa ± 0.1", 0, 0, 0, ""}, {p, "-0.01 ± 0.1", 0, 0, 0, ""}, {p, "0.01 ± -0.1", 0, 0, 0, ""},
		{p, "1e-2 ± 0.1", 0, 0, 0, ""}, {p, "NaN ± 0.1", 0, 0, 0, ""}, {p, "0.01 ± Inf", 0, 0, 0, ""},
		{p, "0,01 ± 0,1", 0, 0, 0, ""}, {p, "0.1.1 ± 1", 0, 0, 0, ""}, {p, "good", 0, 0, 0, ""},
	} {
		info := quantity(t, c.q)
		a, stated, err := records.ParseAccuracy(info, c.entry)
		if c.step == 0 {
			mustBeAbout(t, c.entry, err, "accuracy_"+string(c.q), "step ± accuracy, such as 1 ± 20")
			if stated || a != (records.Accuracy{}) {
				t.Errorf("%q: refused, yet %+v", c.entry, a)
			}
			continue
		}
		want := records.Accuracy{Quantity: c.q, Step: c.step, Within: c.within, WithinPercent: c.share}
		if err != nil || !stated || a != want || a.String() != c.again {
			t.Errorf("%q: %+v (%s), %v", c.entry, a, a, err)
		}
		if b, _, err := records.ParseAccuracy(info, a.String()); err != nil || b != a {
			t.Errorf("%q does not come back: %+v, %v", c.entry, b, err)
		}
	}
	for _, blank := range []string{"", " ", "\t"} {
		if _, stated, err := records.ParseAccuracy(quantity(t, p), blank); stated || err != nil {
			t.Errorf("%q: stated %v, %v", blank, stated, err)
		}
	}
}

// The larger of the two counts, for a suction too. Example: 20 ppm or 5 %, as
// EN 50379-2 has it of CO, from memory, unconfirmed.
func TestAccuracyOfAReading(t *testing.T) {
	a := records.Accuracy{Quantity: records.QuantityCO, Step: 1, Within: 20, WithinPercent: 5}
	for reading, want := range map[float64]float64{0: 20, 399: 20, 400: 20, 401: 20.05, -401: 20.05, 2000: 100} {
		if got := a.Of(reading); math.Abs(got-want) > 1e-12 {
			t.Errorf("of %g: ± %g, want %g", reading, got, want)
		}
	}
}

// An instrument serves by its kind, or by an accuracy stated of such a reading;
// what only an analyser reads does not make one.
func TestInstrumentServes(t *testing.T) {
	of := func(kind string, qs ...records.Quantity) records.Instrument {
		in := records.Instrument{Kind: kind}
		for _, q := range qs {
			in.Accuracy = append(in.Accuracy, records.Accuracy{Quantity: q, Step: 1})
		}
		return in
	}
	const p, co, temp = records.QuantityPressure, records.QuantityCO, records.QuantityTemperature
	for _, c := range []struct {
		in     records.Instrument
		serves []string // of the kinds a section may want
	}{
		{of("gauge"), []string{"gauge"}}, {of("analyser"), []string{"analyser"}}, {of("other"), []string{"other"}},
		{of("thermometer"), []string{"thermometer"}}, {of("leak detector"), []string{"leak detector"}},
		{of("analyser", p), []string{"gauge", "analyser"}}, {of("analyser", temp), []string{"analyser", "thermometer"}},
		{of("analyser", p, co, temp), []string{"gauge", "analyser", "thermometer"}},
		{of("gauge", co), []string{"gauge"}},
		{of("other", co, records.QuantityOxygen, records.QuantityCO2), []string{"other"}},
		{of("gauge", temp), []string{"gauge", "thermometer"}},
	} {
		if !c.in.Serves(nil) {
			t.Errorf("%+v does not serve where nothing is asked for", c.in)
		}
		for _, kind := range records.InstrumentKinds {
			if got := c.in.Serves([]string{kind}); got != slices.Contains(c.serves, kind) {
				t.Errorf("%+v as %s: %v", c.in, kind, got)
			}
		}
		if !c.in.Serves(append([]string{"barometer"}, c.serves...)) {
			t.Errorf("%+v: one of several kinds is enough", c.in)
		}
	}
	if a, ok := of("analyser", p, temp).Stated(temp); !ok || a.Quantity != temp {
		t.Errorf("stated of temperature: %+v, %v", a, ok)
	}
	if a, ok := of("analyser", p).Stated(temp); ok || a.Quantity != "" {
		t.Errorf("not stated of temperature: %+v", a)
	}
}

func TestInstrumentName(t *testing.T) {
	for want, in := range map[string]records.Instrument{
		"gauge, serial 7":                    {Kind: "gauge", Serial: "7"},
		"gauge Fennick, serial 7":            {Kind: "gauge", Make: "Fennick", Serial: "7"},
		"gauge M2, serial 7":                 {Kind: "gauge", Model: "M2", Serial: "7"},
		"analyser Fennick A5 Pro, serial 88": {Kind: "analyser", Make: "Fennick", Model: "A5 Pro", Serial: "88"},
	} {
		if got := in.Name(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// Stated figures that came in another way than by ParseAccuracy.
func TestCheckedAccuracy(t *testing.T) {
	ok := records.Accuracy{Quantity: records.QuantityCO, Step: 1, Within: 20, WithinPercent: 5}
	other := records.Accuracy{Quantity: records.QuantityOxygen, Step: 0.1}
	edit := func(f func(*records.Accuracy)) []records.Accuracy {
		a := ok
		f(&a)
		return []records.Accuracy{other, a}
	}
	for _, c := range []struct {
		stated []records.Accuracy
		wants  []string
	}{
		{nil, nil}, {[]records.Accuracy{ok, other}, nil},
		{[]records.Accuracy{other, ok, other}, []string{"accuracy[2]: each quantity once"}},
		{[]records.Accuracy{ok, ok, ok}, []string{"accuracy[1]: each quantity once", "accuracy[2]: each quantity once"}},
		{edit(func(a *records.Accuracy) { a.Quantity = "draught" }),
			[]string{"accuracy[1]: a quantity that an instrument reads"}},
		{edit(func(a *records.Accuracy) { a.Step = 0 }), []string{"accuracy[1]: a smallest step from 0.0001 to 1000"}},
		{edit(func(a *records.Accuracy) { a.Step = math.NaN() }), []string{"accuracy[1]: a smallest step"}},
		{edit(func(a *records.Accuracy) { a.Within = -0.1 }), []string{"accuracy[1]: ± from 0 to 1000"}},
		{edit(func(a *records.Accuracy) { a.Within = math.Inf(1) }), []string{"accuracy[1]: ± from 0 to 1000"}},
		{edit(func(a *records.Accuracy) { a.WithinPercent = 50.5 }), []string{"accuracy[1]: ± from 0 to 50 %"}},
		{edit(func(a *records.Accuracy) { a.WithinPercent = math.NaN() }), []string{"accuracy[1]: ± from 0 to 50 %"}},
	} {
		err := records.Instrument{Kind: "analyser", Accuracy: c.stated}.CheckedAccuracy()
		es, _ := err.(records.Errors)
		if len(es) != len(c.wants) || (err == nil) != (c.wants == nil) {
			t.Errorf("%v: %v", c.stated, err)
			continue
		}
		for i, e := range es {
			if !strings.HasPrefix(e.Field+": "+e.Want, c.wants[i]) || e.Kind != records.Invalid {
				t.Errorf("%v: %s: %s, want %s", c.stated, e.Field, e.Want, c.wants[i])
			}
		}
	}
}
