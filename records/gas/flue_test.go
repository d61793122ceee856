package gas_test

import (
	"slices"
	"testing"

	"gaugebook/records/gas"
)

func compartment(pick func(gas.CompartmentArea) float64) quantity {
	return func(in inputs) (float64, error) {
		a, err := gas.CompartmentAreaOf(in.num("open") == 1, in.num("outside") == 1, in.num("kw"))
		return pick(a), err
	}
}

var flueQuantities = map[string]quantity{
	"slope": func(in inputs) (float64, error) { return gas.SlopeMMPerM(in.num("deg")) },
	"flue-length": func(in inputs) (float64, error) {
		return gas.EquivalentFlueLengthM(in.num("route"), []gas.FlueBend{
			{Count: in.num("n1"), EquivalentM: in.num("each1")},
			{Count: in.num("n2"), EquivalentM: in.num("each2")},
		})
	},
	"terminal": func(in inputs) (float64, error) {
		c, err := gas.TerminalClearanceOf(in.text("position"), gas.FlueKind(in.text("kind")), in.num("kw"))
		if err == nil && !c.Stated {
			in.t.Errorf("no figure: %s", c.Note)
		}
		return c.MinimumMM, err
	},
	"free-area": func(in inputs) (float64, error) {
		return gas.FreeAreaForOpenFlueCm2(in.num("kw"), in.num("airtight") == 1)
	},
	"compartment-high": compartment(func(a gas.CompartmentArea) float64 { return a.HighCm2 }),
	"compartment-low":  compartment(func(a gas.CompartmentArea) float64 { return a.LowCm2 }),
}

// positions are those that the table holds, each once.
func positions() []gas.TerminalPosition {
	var out []gas.TerminalPosition
	for _, c := range gas.TerminalClearances() {
		if !slices.Contains(out, c.Position) {
			out = append(out, c.Position)
		}
	}
	return out
}

func TestTerminalTableHoldsEveryPositionOnce(t *testing.T) {
	if n := len(positions()); n != 23 {
		t.Errorf("%d positions, want A to Q, KV and R to V", n)
	}
	kinds := []gas.FlueKind{gas.BalancedNatural, gas.BalancedFanned, gas.OpenFanned}
	for _, p := range positions() {
		if p.Name == "" {
			t.Errorf("position %s has no name", p.Letter)
		}
		for _, kind := range kinds {
			for _, kw := range []float64{0, 5, 5.01, 7, 7.01, 14, 14.01, 32, 32.01, 70} {
				c, err := gas.TerminalClearanceOf(p.Letter, kind, kw)
				if err != nil {
					t.Fatal(err)
				}
				matches := 0
				for _, row := range gas.TerminalClearances() {
					if row.Position.Letter == p.Letter && row.Kind == kind && kw > row.AboveNetKW &&
						kw <= row.UpToNetKW {
						matches++
					}
				}
				if matches > 1 {
					t.Errorf("%s %s %g kW: %d rows", p.Letter, kind, kw, matches)
				}
				if c.Stated != (c.MinimumMM > 0) || c.Source == "" || c.Confidence == "" ||
					(!c.Stated && c.Note == "") {
					t.Errorf("%s %s %g kW is incomplete: %+v", p.Letter, kind, kw, c)
				}
				if c.Position.Name != p.Name {
					t.Errorf("%s: name %q, want %q", p.Letter, c.Position.Name, p.Name)
				}
			}
		}
	}
}

func TestTerminalWithoutGenericFigureIsNotStated(t *testing.T) {
	for _, c := range []struct {
		letter string
		kind   gas.FlueKind
	}{{"Z", gas.BalancedFanned}, {"A", "open-natural"}, {"P", gas.OpenFanned}, {"O", gas.BalancedFanned},
		{"S", gas.OpenFanned}} {
		got, err := gas.TerminalClearanceOf(c.letter, c.kind, 24)
		if err != nil || got.Stated || got.MinimumMM != 0 || got.Note == "" {
			t.Errorf("%s %s: %+v, %v", c.letter, c.kind, got, err)
		}
	}
	if _, err := gas.TerminalClearanceOf("A", gas.BalancedFanned, 70.1); err == nil {
		t.Error("the table ends at 70 kW")
	}
}
