package rules_test

import (
	"fmt"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"

	"pgregory.net/rapid"
)

// tightnessTest is what decides a tightness test of natural gas at low
// pressure, in hundredths so that edges are exact.
type tightnessTest struct {
	day              string
	said             string // edition named, "" for none
	meter, pipe      string
	pipeMM, lengthCM int
	situation        string
	water            bool // gauge
	drop, alone      int  // hundredths of mbar; alone below 0: not taken
	testPressure     int
	bands            bool // 0.010: 7, 0.020: 3, 0.035: 1 mbar, invented
}

// permissible is edition 3's table as the trade-exam cards give it (over 28 mm
// from memory, unconfirmed), in hundredths of mbar.
var permissible = map[string][2]int{"none": {800, 400}, "e6": {800, 400}, "g4": {400, 250}, "g10": {100, 100}}

// litresPerM is IGEM/UP/1B's volume of pipe, and that of meters in litres.
var (
	litresPerM = map[string]float64{"copper-15": 0.14, "copper-22": 0.32, "copper-28": 0.54, "copper-35": 0.84}
	meterL     = map[string]float64{"none": 0, "e6": 2.4, "g4": 8, "g10": 25}
)

func (x tightnessTest) volumeL() float64 {
	return meterL[x.meter] + 1.1*litresPerM[x.pipe]*float64(x.lengthCM)/100
}

// edition is the one that judges, by Industry Standard Update 133: 3, 4, or 0
// where the engineer has to say.
func (x tightnessTest) edition() int {
	switch {
	case x.day < "2026-03-01":
		return 3
	case x.day > "2026-09-30":
		return 4
	case x.said == "edition-3":
		return 3
	case x.said == "edition-4":
		return 4
	}
	return 0
}

func (x tightnessTest) perceptible() int {
	if x.water {
		return 25
	}
	return 20
}

// dropOutcome is what the reference says of the drop, written apart from the
// rules.
func (x tightnessTest) dropOutcome() records.Outcome {
	edition := x.edition()
	switch {
	case edition == 0:
		return records.Missing
	case x.drop <= x.perceptible():
		return records.Inside
	case x.situation != "connected":
		return records.Outside
	case edition == 3:
		limit := permissible[x.meter][0]
		if x.pipeMM > 28 {
			limit = permissible[x.meter][1]
		}
		if x.drop <= limit {
			return records.Inside
		}
		return records.Outside
	case !x.bands && x.drop < 100:
		return records.Inside
	case !x.bands:
		return records.Missing
	}
	for _, band := range [][2]float64{{10, 700}, {20, 300}, {35, 100}} {
		if x.volumeL() <= band[0]+1e-6 {
			if float64(x.drop) <= band[1] {
				return records.Inside
			}
			return records.Outside
		}
	}
	return records.Missing // beyond the table
}

func (x tightnessTest) pipeworkOutcome() records.Outcome {
	switch {
	case x.alone >= 0 && x.edition() == 0:
		return records.Missing
	case x.alone > x.drop+x.perceptible():
		return records.Doubtful
	case x.alone >= 0 && x.alone <= x.perceptible():
		return records.Inside
	case x.alone >= 0: // a reading that is there is judged
		return records.Outside
	case x.situation != "connected":
		return records.Exempt
	case x.edition() == 0:
		return records.Missing
	case x.edition() == 3:
		return records.Exempt
	case x.drop <= x.perceptible():
		return records.Exempt
	}
	return records.Missing
}

func (x tightnessTest) pressureOutcome() records.Outcome {
	switch {
	case x.edition() == 0:
		return records.Missing
	case x.testPressure > 2100:
		return records.Outside
	case x.testPressure >= 2000, x.edition() == 4 && x.testPressure >= 1800:
		return records.Inside
	}
	return records.Outside
}

func (x tightnessTest) scopeOutcome() records.Outcome {
	switch {
	case x.edition() == 0:
		return records.Missing
	case x.volumeL() <= 35+1e-6:
		return records.Inside
	}
	return records.Outside
}

func hundredths(n int) string { return fmt.Sprintf("%d.%02d", n/100, n%100) }

func (x tightnessTest) record() (*records.Record, records.Facts) {
	r := rules.Sample()
	r.WorkDate = records.MustDate(x.day)
	put := func(f *records.Field, entry string) {
		delete(r.Values, f.Key)
		if entry != "" {
			r.Values.Put(f, entry)
		}
	}
	gauge := records.GaugeElectronic
	if x.water {
		gauge = records.GaugeWater
	}
	put(records.TightnessEdition.Field, x.said)
	put(records.TightnessMeter.Field, x.meter)
	put(records.TightnessSituation.Field, x.situation)
	put(records.TightnessGaugeHow.Field, gauge)
	put(records.DropMbar.Field, hundredths(x.drop))
	put(records.TestPressureMbar.Field, hundredths(x.testPressure))
	put(records.PipeworkDropMbar.Field, "")
	if x.alone >= 0 {
		put(records.PipeworkDropMbar.Field, hundredths(x.alone))
	}
	r.Values.PutRows(records.TightnessRuns, map[string]string{"pipe": x.pipe, "length_m": hundredths(x.lengthCM)})
	var facts records.Facts
	if x.bands {
		facts.DropBands = []records.DropBands{{Edition: records.Edition4, Fuel: records.FuelNatural, Clause: "invented",
			EnteredBy: "nobody", Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 7}, {UpToM3: 0.02, DropMbar: 3},
				{UpToM3: 0.035, DropMbar: 1}}}}
	}
	return r, facts
}

// near draws a number close to one of the edges.
func near(t *rapid.T, name string, edges ...int) int {
	return max(0, rapid.SampledFrom(edges).Draw(t, name)+rapid.SampledFrom([]int{-60, -1, 0, 1, 60}).Draw(t, "off"))
}

// Many tests near every edge, judged by the rules and by the reference as
// written above.
func TestTightnessAgainstTheReference(t *testing.T) {
	sizes := map[string]int{"copper-15": 15, "copper-22": 22, "copper-28": 28, "copper-35": 35}
	seen := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		x := tightnessTest{
			day: rapid.SampledFrom([]string{"2025-06-01", "2026-02-28", "2026-03-01", "2026-06-15", "2026-09-30",
				"2026-10-01", "2026-11-20"}).Draw(t, "day"),
			said:  rapid.SampledFrom([]string{"", "edition-3", "edition-4"}).Draw(t, "said"),
			meter: rapid.SampledFrom([]string{"none", "e6", "g4", "g10"}).Draw(t, "meter"),
			pipe:  rapid.SampledFrom([]string{"copper-15", "copper-22", "copper-28", "copper-35"}).Draw(t, "pipe"),
			situation: rapid.SampledFrom([]string{"new", "connected", "connected", "none-connected"}).Draw(t,
				"situation"),
			water: rapid.Bool().Draw(t, "water"),
			drop:  near(t, "drop", 20, 25, 100, 250, 300, 400, 700, 800),
			alone: rapid.SampledFrom([]int{-1, 0, 20, 21, 25, 26, 400}).Draw(t, "alone"),
			bands: rapid.Bool().Draw(t, "bands"), testPressure: near(t, "pressure", 1800, 2000, 2100),
		}
		x.pipeMM = sizes[x.pipe]
		x.lengthCM = rapid.IntRange(100, 4000).Draw(t, "length")
		r, facts := x.record()
		got := outcomes(rules.Evaluate(r, facts))
		// Tabulated pipe volumes and those from the bores differ by 4 %: a
		// volume that close to the edge of a band is doubtful, and left out.
		volume := x.volumeL()
		for _, edge := range []float64{10, 20, 35} {
			if x.bands && volume > edge*0.95 && volume < edge*1.05 {
				t.Skip("at the edge of a band")
			}
		}
		for rule, want := range map[string]records.Outcome{"tightness.drop": x.dropOutcome(),
			"tightness.pipework": x.pipeworkOutcome(), "tightness.test_pressure": x.pressureOutcome(),
			"tightness.scope": x.scopeOutcome()} {
			seen[rule+" "+string(want)]++
			if got[rule].Outcome != want {
				t.Fatalf("%s: %s (%s), the reference says %s\n%+v, %g l", rule, got[rule].Outcome, got[rule].Reason,
					want,
					x, volume)
			}
		}
	})
	if len(seen) < 12 {
		t.Errorf("kinds of outcome seen: %v", seen)
	}
}
