package rules_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// sweep is the values of a number field to try: ends and middle of its range,
// and a dense run of steps around where the record has it.
func sweep(f *records.Field, now float64) []float64 {
	scale := math.Pow10(f.Decimals)
	round := func(x float64) float64 { return math.Round(x*scale) / scale }
	var out []float64
	for i := range 13 {
		out = append(out, round(f.Min+(f.Max-f.Min)*float64(i)/12))
	}
	for _, share := range []float64{0.02, 0.05, 0.1, 0.3, 0.5, 0.8, 0.9, 0.97, 1, 1.03, 1.1, 1.2, 1.5, 2, 3, 5, 10} {
		out = append(out, round(now*share))
	}
	out = slices.DeleteFunc(out, func(x float64) bool { return x < f.Min || x > f.Max })
	slices.Sort(out)
	return slices.Compact(out)
}

// twoSpells are rules with a reading that is right, then wrong, then right
// again as one field rises, each with why that is meant.
var twoSpells = map[string]string{
	"combustion.fuel_set":     "a reading between the lines of two fuels names neither",
	"heat.rate_from_pipe":     "data plate and meter agree again at one gas rate",
	"pressure.predicted_drop": "goes by the data plate where the meter gives no gas rate",
}

// As one reading rises through its range, all else left alone, the values that
// are inside follow one another: nothing that is better on both sides of a bad
// value, for any rule and any number that a record can hold.
func TestValuesInsideAreOneRange(t *testing.T) {
	for base, more := range map[string]string{"clear": "", "propane": "", "fire": "",
		"unlimited": "tightness.situation=new"} {
		c := ruleCase{file: "sweep", base: base, changes: more}
		for _, f := range numberFields() {
			r, facts, err := c.build()
			if err != nil {
				t.Fatal(err)
			}
			now, ok := r.Values[f.Key].Reading()
			if !ok {
				continue
			}
			state := map[string]int{} // 0 before the first inside, 1 inside, 2 after it
			for _, x := range sweep(f, now.Value) {
				v, err := f.Parse(records.FormatNumber(x, f.Decimals))
				if err != nil {
					t.Fatalf("%s: %v", f.Key, err)
				}
				r.Values[f.Key] = v
				for _, found := range rules.Evaluate(r, facts) {
					inside := found.Outcome == records.Inside
					switch {
					case state[found.Rule] == 0 && inside:
						state[found.Rule] = 1
					case state[found.Rule] == 1 && !inside:
						state[found.Rule] = 2
					case state[found.Rule] == 2 && inside && twoSpells[found.Rule] == "":
						t.Errorf("%s on %s: %s = %v is %s again (%s)", found.Rule, base, f.Key, x, found.Outcome,
							found.Reason)
						state[found.Rule] = 1
					}
				}
			}
		}
	}
}

func numberFields() []*records.Field {
	var out []*records.Field
	for _, f := range allFields() {
		if f.Kind == records.NumberKind {
			out = append(out, f)
		}
	}
	return out
}

// A rule may be left alone only if it exists.
func TestRulesWithTwoSpellsExist(t *testing.T) {
	for id, why := range twoSpells {
		if _, ok := rules.ByID(id); !ok || why == "" {
			t.Errorf("%s: %q", id, why)
		}
	}
}

// A reading taken away alone makes no finding outside, and some rule asks for
// it by its name, unless it is one that need not be there.
func TestAReadingTakenAwayIsAskedFor(t *testing.T) {
	optional := map[string]string{
		records.HeatCV.Key: "there is a general figure", records.AlarmFromWallMM.Key: "of an alarm on a ceiling",
		records.VentOpeningCm2.Key: "a room-sealed appliance needs none", records.ServiceMonths.Key: "twelve is usual",
		records.BeforeDropMbar.Key:   "not every installation is tested before the work",
		records.InhibitorTreatsL.Key: "asked for as the figure on the product's label",
		records.HeatingFlowL.Key:     "not every boiler shows it",
		records.O2MaxPct.Key:         "some analysers show CO₂ alone",
		records.O2MinPct.Key:         "some analysers show CO₂ alone",
		records.FlueTempMinC.Key:     "the rate may not be held for long",
		records.RatedOutputKW.Key:    "the data plate may not state it",
	}
	for _, f := range numberFields() {
		r := rules.Sample()
		if !r.Values[f.Key].Present() || strings.HasPrefix(f.Name(), "stated_") {
			continue
		}
		before := outcomes(rules.Evaluate(r, records.Facts{}))
		delete(r.Values, f.Key)
		asked := false
		for _, found := range rules.Evaluate(r, records.Facts{}) {
			switch {
			case found.Outcome == records.Outside:
				t.Errorf("without %s, %s is outside: %s", f.Key, found.Rule, found.Reason)
			case found.Outcome == records.Missing && before[found.Rule].Outcome != records.Missing:
				asked = asked || strings.Contains(strings.ToLower(found.Reason), strings.ToLower(f.Label))
			}
		}
		if _, may := optional[f.Key]; !asked && !may {
			t.Errorf("nothing asks for %s (%s)", f.Key, f.Label)
		}
	}
}
