package gas_test

import (
	"math"
	"testing"

	"gaugebook/records/gas"
)

// tableGas is what the discharge tables assume: relative density 0.6.
var tableGas = gas.FlowingGas{DensityKgPerM3: 0.6 * 1.225, ViscosityPaS: 1.1e-5}

var flowQuantities = map[string]quantity{
	"run-loss": func(in inputs) (float64, error) {
		r, err := gas.RunLossOf(tableGas, []gas.Segment{{
			Pipe: in.pipe(), LengthM: in.num("m"), FlowM3PerHour: in.num("m3h"),
		}})
		return r.TotalMbar, err
	},
}

func TestPipeLossAgainstFluidsLibrary(t *testing.T) {
	const tolerance = 0.0005 // relative
	rows := readCheckRows(t, fluidsFile)
	if len(rows) < 200 {
		t.Fatalf("%d rows, want at least 200", len(rows))
	}
	worst, regimes := 0.0, map[string]int{}
	for _, row := range rows {
		num := func(name string) float64 { return parseNumber(t, row[name]) }
		l, err := gas.PipeLoss(
			gas.FlowingGas{DensityKgPerM3: num("density_kg_per_m3"), ViscosityPaS: num("viscosity_pa_s")},
			num("flow_m3_per_h"),
			gas.Bore{BoreMM: num("bore_mm"), RoughnessMM: num("roughness_mm"), LengthM: num("length_m")})
		if err != nil {
			t.Fatalf("%s: %v", row["id"], err)
		}
		want := num("drop_mbar")
		off := math.Abs(l.Mbar/want - 1)
		worst = max(worst, off)
		regimes[l.Regime]++
		if off > tolerance {
			t.Errorf("%s: %.8g mbar, want %.8g", row["id"], l.Mbar, want)
		}
	}
	if regimes[gas.RegimeLaminar] < 50 || regimes[gas.RegimeTurbulent] < 50 || regimes[gas.RegimeTransition] > 0 {
		t.Errorf("regimes covered: %v", regimes)
	}
	t.Logf("%d points %v, worst %.2g relative", len(rows), regimes, worst)
}

func TestTransitionTakesTheLargerLoss(t *testing.T) {
	b := gas.Bore{BoreMM: 13.6, RoughnessMM: 0.0015, LengthM: 12}
	flowAt := func(re float64) float64 {
		d := b.BoreMM / 1000
		return re * tableGas.ViscosityPaS / (tableGas.DensityKgPerM3 * d) * math.Pi / 4 * d * d * 3600
	}
	for _, c := range []struct {
		re     float64
		regime string
	}{{2299, gas.RegimeLaminar}, {2301, gas.RegimeTransition}, {3999, gas.RegimeTransition},
		{4001, gas.RegimeTurbulent}} {
		l, err := gas.PipeLoss(tableGas, flowAt(c.re), b)
		if err != nil || l.Regime != c.regime {
			t.Errorf("Re %g: %q, want %q (%v)", c.re, l.Regime, c.regime, err)
		}
		laminar := 64 / l.Reynolds * l.Mbar / l.FrictionFactor
		if l.Regime == gas.RegimeTransition && (l.Mbar <= laminar || math.Abs(l.LeastMbar/laminar-1) > 1e-9) {
			t.Errorf("Re %g: %g mbar, least %g, laminar %g", c.re, l.Mbar, l.LeastMbar, laminar)
		}
		if l.Regime != gas.RegimeTransition && l.LeastMbar != l.Mbar {
			t.Errorf("Re %g: least %g, want %g", c.re, l.LeastMbar, l.Mbar)
		}
	}
}

func TestRunAddsSegmentsWithTheirOwnFlow(t *testing.T) {
	p22, _ := gas.PipeByCode("copper-22")
	p15, _ := gas.PipeByCode("copper-15")
	segments := []gas.Segment{
		{Pipe: p22, LengthM: 6, FittingsM: 1.2, FlowM3PerHour: 3.4},
		{Pipe: p15, LengthM: 4, FittingsM: 0.6, FlowM3PerHour: 0.9},
	}
	run, err := gas.RunLossOf(tableGas, segments)
	if err != nil || len(run.Segments) != 2 {
		t.Fatalf("%+v, %v", run, err)
	}
	if run.TotalMbar != run.Segments[0].Mbar+run.Segments[1].Mbar {
		t.Error("the total is not the sum of the segments")
	}
	plain, _ := gas.PipeLoss(tableGas, 3.4, gas.Bore{BoreMM: 20.2, RoughnessMM: 0.0015, LengthM: 7.2})
	if run.Segments[0] != plain {
		t.Errorf("first segment %+v, want %+v", run.Segments[0], plain)
	}
	if none, err := gas.RunLossOf(tableGas, nil); err != nil || none.TotalMbar != 0 {
		t.Errorf("no segments: %+v, %v", none, err)
	}
	still, err := gas.PipeLoss(tableGas, 0, gas.Bore{BoreMM: 13.6, LengthM: 10})
	if err != nil || still.Mbar != 0 || still.Regime != gas.RegimeStill {
		t.Errorf("no flow: %+v, %v", still, err)
	}
}

// Source: BS 6891:2005 and BS 6891:2015, equivalent lengths of fittings (H).
func TestFittingLengths(t *testing.T) {
	for _, c := range []struct {
		edition, kind string
		nominal, want float64
		ok            bool
	}{
		{gas.BS6891Of2005, gas.Bend90, 28, 0.3, true},
		{gas.BS6891Of2005, gas.Elbow90, 15, 0.5, true},
		{gas.BS6891Of2005, gas.TeePiece, 22, 0.5, true},
		{gas.BS6891Of2015, gas.Bend45, 15, 0.15, true},
		{gas.BS6891Of2015, gas.Bend90, 15, 0.20, true},
		{gas.BS6891Of2015, gas.Elbow90, 15, 0.40, true},
		{gas.BS6891Of2015, gas.Bend45, 22, 0.20, true},
		{gas.BS6891Of2015, gas.Bend90, 22, 0.30, true},
		{gas.BS6891Of2015, gas.Elbow90, 22, 0.60, true},
		{gas.BS6891Of2015, gas.Elbow90, 28, 0, false},
		{"BS 6891:1998", gas.Bend90, 15, 0, false},
	} {
		got, ok := gas.FittingLengthOf(c.edition, c.kind, c.nominal)
		if ok != c.ok || got.EquivalentM != c.want {
			t.Errorf("%s %s %g: %g, %v", c.edition, c.kind, c.nominal, got.EquivalentM, ok)
		}
	}
}

func BenchmarkRunLoss(b *testing.B) {
	p, _ := gas.PipeByCode("copper-22")
	segments := []gas.Segment{{Pipe: p, LengthM: 6, FlowM3PerHour: 3.4}, {Pipe: p, LengthM: 4, FlowM3PerHour: 1}}
	for b.Loop() {
		if _, err := gas.RunLossOf(tableGas, segments); err != nil {
			b.Fatal(err)
		}
	}
}
