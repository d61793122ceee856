package gas_test

import (
	"math"
	"slices"
	"testing"

	"gaugebook/records/gas"

	"pgregory.net/rapid"
)

func float(t *rapid.T, name string, low, high float64) float64 {
	return rapid.Float64Range(low, high).Draw(t, name)
}

// flowing draws a gas and a bore whose loss stays below 1000 mbar.
func flowing(t *rapid.T) (gas.FlowingGas, gas.Bore) {
	g := gas.FlowingGas{DensityKgPerM3: float(t, "density", 0.5, 2.7),
		ViscosityPaS: float(t, "viscosity", 7e-6, 1.2e-5)}
	return g, gas.Bore{BoreMM: float(t, "bore", 8, 60), RoughnessMM: float(t, "roughness", 0, 0.05),
		LengthM: float(t, "length", 0.5, 40)}
}

// flowAt is the flow in m3/h at a Reynolds number.
func flowAt(g gas.FlowingGas, b gas.Bore, re float64) float64 {
	d := b.BoreMM / 1000
	return re * g.ViscosityPaS / g.DensityKgPerM3 * math.Pi / 4 * d * 3600
}

// Hagen and Poiseuille: laminar loss is 128 µ l Q / (π d⁴).
func TestLaminarLossIsHagenPoiseuille(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, b := flowing(t)
		flow := flowAt(g, b, float(t, "re", 1, 2299))
		l, err := gas.PipeLoss(g, flow, b)
		must(t, l, err)
		want := 128 * g.ViscosityPaS * b.LengthM * flow / 3600 / (math.Pi * math.Pow(b.BoreMM/1000, 4)) / 100
		if l.Regime != gas.RegimeLaminar || math.Abs(l.Mbar-want) > 1e-9*want {
			t.Fatalf("%s: %g mbar, want %g", l.Regime, l.Mbar, want)
		}
	})
}

// In turbulent flow the loss grows faster than the flow to the power 1.7 and
// no faster than its square.
func TestTurbulentLossGrowsNearlyWithTheSquare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, b := flowing(t)
		flow := flowAt(g, b, float(t, "re", 4001, 40000))
		one, err := gas.PipeLoss(g, flow, b)
		if err != nil {
			t.Skip("beyond 1000 mbar")
		}
		two, err := gas.PipeLoss(g, 2*flow, b)
		if err != nil {
			t.Skip("beyond 1000 mbar")
		}
		if power := math.Log2(two.Mbar / one.Mbar); power < 1.7 || power > 2+1e-9 {
			t.Fatalf("from Re %g: power %g", one.Reynolds, power)
		}
	})
}

// A wider pipe loses less, a rougher, longer or denser flow never less.
func TestLossRisesWithWhatHinders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, b := flowing(t)
		flow := flowAt(g, b, float(t, "re", 10, 30000))
		base, err := gas.PipeLoss(g, flow, b)
		if err != nil {
			t.Skip("beyond 1000 mbar")
		}
		wider, rougher, longer, denser := b, b, b, g
		wider.BoreMM *= 1.2
		rougher.RoughnessMM = min(b.RoughnessMM+0.02, 0.05*b.BoreMM)
		longer.LengthM *= 1.1
		denser.DensityKgPerM3 *= 1.1
		if l, err := gas.PipeLoss(g, flow, wider); err != nil || l.Mbar >= base.Mbar {
			t.Fatalf("wider: %g mbar, before %g (%v)", l.Mbar, base.Mbar, err)
		}
		for name, l := range map[string]func() (gas.Loss, error){
			"rougher": func() (gas.Loss, error) { return gas.PipeLoss(g, flow, rougher) },
			"longer":  func() (gas.Loss, error) { return gas.PipeLoss(g, flow, longer) },
			"denser":  func() (gas.Loss, error) { return gas.PipeLoss(denser, flow, b) },
		} {
			if got, err := l(); err == nil && got.Mbar < base.Mbar*(1-1e-12) {
				t.Fatalf("%s: %g mbar, before %g", name, got.Mbar, base.Mbar)
			}
		}
	})
}

// A run may be cut anywhere, and its segments put in any order.
func TestRunLossDoesNotDependOnCutsOrOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, err := anyFuel().Draw(t, "fuel").At(21)
		must(t, g, err)
		segments := make([]gas.Segment, rapid.IntRange(1, 4).Draw(t, "segments"))
		for i := range segments {
			segments[i] = gas.Segment{Pipe: rapid.SampledFrom(gas.Pipes()).Draw(t, "pipe"),
				LengthM: float(t, "m", 0.5, 10), FittingsM: float(t, "fittings", 0, 3),
				FlowM3PerHour: float(t, "flow", 0, 1.5)}
		}
		whole, err := gas.RunLossOf(g, segments)
		if err != nil {
			t.Skip("beyond 1000 mbar")
		}
		var cut []gas.Segment
		for _, s := range slices.Backward(segments) {
			first, rest := s, s
			first.LengthM, first.FittingsM = s.LengthM/3, 0
			rest.LengthM = s.LengthM - first.LengthM
			cut = append(cut, first, rest)
		}
		again, err := gas.RunLossOf(g, cut)
		if must(t, again, err); math.Abs(again.TotalMbar-whole.TotalMbar) > 1e-9*max(1, whole.TotalMbar) {
			t.Fatalf("%g mbar whole, %g in pieces", whole.TotalMbar, again.TotalMbar)
		}
		if whole.LeastTotalMbar > whole.TotalMbar {
			t.Fatalf("least %g above %g", whole.LeastTotalMbar, whole.TotalMbar)
		}
	})
}

// Meter and pipes add up; the order of the runs, and how a run is cut, do not
// matter; fittings are a tenth of the pipe.
func TestInstallationVolumeAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(gas.Meters()).Draw(t, "meter")
		runs := make([]gas.PipeRun, rapid.IntRange(0, 5).Draw(t, "runs"))
		want := 0.0
		for i := range runs {
			runs[i] = gas.PipeRun{Pipe: rapid.SampledFrom(gas.Pipes()).Draw(t, "pipe"),
				LengthM: float(t, "m", 0.05, 30)}
			per, err := runs[i].Pipe.VolumeM3PerM()
			want += must(t, per, err) * runs[i].LengthM
		}
		v, err := gas.InstallationVolumeOf(m, runs)
		must(t, v, err)
		if math.Abs(v.PipeM3-want) > 1e-15+1e-12*want || !near(v.FittingsM3, v.PipeM3/10) ||
			!near(v.TotalM3, m.M3+1.1*v.PipeM3) {
			t.Fatalf("%+v, want pipe %g", v, want)
		}
		var cut []gas.PipeRun
		for _, r := range slices.Backward(runs) {
			cut = append(cut, gas.PipeRun{Pipe: r.Pipe, LengthM: r.LengthM / 4},
				gas.PipeRun{Pipe: r.Pipe, LengthM: r.LengthM * 3 / 4})
		}
		again, err := gas.InstallationVolumeOf(m, cut)
		if must(t, again, err); !near(again.TotalM3, v.TotalM3) || !near(again.BoreTotalM3, v.BoreTotalM3) {
			t.Fatalf("%g m3 whole, %g in pieces", v.TotalM3, again.TotalM3)
		}
	})
}

// The leak behind a drop doubles with volume and with drop, and halves with
// time.
func TestLeakRateIsProportional(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		iv, drop, s := float(t, "iv", 0.001, 0.04), float(t, "drop", 0.01, 20), float(t, "s", 60, 600)
		one, err := gas.LeakRateM3PerHour(iv, drop, s)
		must(t, one, err)
		for name, args := range map[string][3]float64{"volume": {2 * iv, drop, s}, "drop": {iv, 2 * drop, s},
			"time": {iv, drop, s / 2}} {
			two, err := gas.LeakRateM3PerHour(args[0], args[1], args[2])
			if must(t, two, err); !near(two, 2*one) {
				t.Fatalf("%s: %g, once %g", name, two, one)
			}
		}
		// Boyle: the gas lost, brought to the atmosphere, is volume × drop.
		if lost := one * s / 3600; !near(lost*gas.ReferenceMbar, iv*drop) {
			t.Fatalf("%g m3 lost at the atmosphere, want %g", lost, iv*drop/gas.ReferenceMbar)
		}
	})
}

// Gay-Lussac: heated at constant volume by 1 K from T, pressure grows by p/T.
func TestTemperatureEffectIsGayLussac(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, c := float(t, "mbar", 0, 100), float(t, "c", -20, 50)
		perK, err := gas.TemperatureEffectMbarPerK(p, c)
		if must(t, perK, err); math.Abs(perK-(1013.25+p)/(273.15+c)) > 1e-9 {
			t.Fatalf("%g mbar/K at %g mbar and %g °C", perK, p, c)
		}
	})
}

// Heat input is proportional to the gas, to its calorific value, and inversely
// to the time; what the billing factor adds is 2.264 %.
func TestHeatInputIsProportional(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m3, s, cv := float(t, "m3", 0.001, 1), float(t, "s", 10, 600), float(t, "cv", 30, 120)
		rate, err := gas.GasRateM3PerHour(m3, s)
		must(t, rate, err)
		kw, err := gas.HeatInputGrossKW(rate, cv)
		if must(t, kw, err); !near(kw, m3*cv*1000/s) {
			t.Fatalf("%g kW, want %g MJ in %g s", kw, m3*cv, s)
		}
		billed, err := gas.BilledKWh(rate, cv)
		if must(t, billed, err); !near(billed/max(kw, 1e-9), 1.02264) {
			t.Fatalf("billed %g of %g", billed, kw)
		}
		digit, err := gas.DigitPercent(0.001, m3)
		if must(t, digit, err); !near(digit*m3, 0.1) {
			t.Fatalf("one litre is %g %% of %g m3", digit, m3)
		}
	})
}

// The balance of equal heats is 100 %; its band is symmetric, widens with
// either uncertainty and contains the result.
func TestHeatBalanceBand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in, out := float(t, "in", 1, 100), float(t, "out", 0, 120)
		u, v := float(t, "u", 0, 40), float(t, "v", 0, 40)
		b, err := gas.HeatBalanceOf(in, out, u, v)
		must(t, b, err)
		if !near(b.Percent, 100*out/in) || !near(b.Percent-b.LowPercent, b.HighPercent-b.Percent) ||
			b.LowPercent > b.HighPercent {
			t.Fatalf("%+v", b)
		}
		wider, err := gas.HeatBalanceOf(in, out, u+5, v)
		if must(t, wider, err); wider.HighPercent < b.HighPercent {
			t.Fatalf("%+v with %g %%, %+v with %g %%", b, u, wider, u+5)
		}
		swapped, err := gas.HeatBalanceOf(in, out, v, u)
		if must(t, swapped, err); !near(swapped.LowPercent, b.LowPercent) {
			t.Fatalf("%+v, uncertainties swapped %+v", b, swapped)
		}
	})
}
