package gas_test

import (
	"hash/fnv"
	"math"
	"reflect"
	"slices"
	"testing"

	"gaugebook/records/gas"

	"pgregory.net/rapid"
)

func must[T any](t *rapid.T, v T, err error) T {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func ordered(t *rapid.T, lo, hi float64) (float64, float64) {
	a, b := rapid.Float64Range(lo, hi).Draw(t, "a"), rapid.Float64Range(lo, hi).Draw(t, "b")
	return min(a, b), max(a, b)
}

func anyFuel() *rapid.Generator[gas.Fuel] { return rapid.SampledFrom(gas.Fuels()) }

// near compares to the last bits of a few operations.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-12*max(1, math.Abs(a), math.Abs(b)) }

func TestMoreFlowLosesMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(gas.Pipes()).Draw(t, "pipe")
		g, err := anyFuel().Draw(t, "fuel").At(rapid.Float64Range(0, 75).Draw(t, "mbar"))
		must(t, g, err)
		less, more := ordered(t, 0, 6)
		b := gas.Bore{BoreMM: p.BoreMM, RoughnessMM: p.RoughnessMM, LengthM: rapid.Float64Range(0.1, 30).Draw(t, "m")}
		low, err := gas.PipeLoss(g, less, b)
		if err != nil {
			t.Skip("beyond 1000 mbar")
		}
		high, err := gas.PipeLoss(g, more, b)
		if err != nil {
			t.Skip("beyond 1000 mbar")
		}
		if low.Mbar > high.Mbar || (more > less*1.0001 && more > 1e-6 && low.Mbar >= high.Mbar) {
			t.Fatalf("%g m3/h loses %g mbar, %g m3/h loses %g", less, low.Mbar, more, high.Mbar)
		}
		longer := b
		longer.LengthM *= 2
		if twice, err := gas.PipeLoss(g, less, longer); err == nil && !near(twice.Mbar, 2*low.Mbar) {
			t.Fatalf("twice the length loses %g, once %g", twice.Mbar, low.Mbar)
		}
	})
}

func TestMoreAirMeansLessCO2AndMoreO2(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyFuel().Draw(t, "fuel")
		less, more := ordered(t, 0, 300)
		if more-less < 1e-6 {
			t.Skip("the same air")
		}
		lean, errLean := f.ProductsAt(more, gas.ReferenceMbar)
		rich, errRich := f.ProductsAt(less, gas.ReferenceMbar)
		must(t, lean, errLean)
		must(t, rich, errRich)
		if lean.CO2DryPercent >= rich.CO2DryPercent || lean.O2DryPercent <= rich.O2DryPercent ||
			lean.DewPointC >= rich.DewPointC {
			t.Fatalf("at %g %%: %+v, at %g %%: %+v", less, rich, more, lean)
		}
		// and back from the oxygen to the excess air
		back, err := f.Stoichiometry.ExcessAirPercent(lean.O2DryPercent)
		if must(t, back, err); math.Abs(back-more) > 1e-8*max(1, more) {
			t.Fatalf("%g %% excess air came back as %g", more, back)
		}
	})
}

func TestCO2FallsInAStraightLineWithO2(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		co2max := rapid.Float64Range(11, 15).Draw(t, "co2max")
		a, b := ordered(t, 0, 20.9)
		ca, errA := gas.CO2FromO2Percent(a, co2max)
		cb, errB := gas.CO2FromO2Percent(b, co2max)
		mid, errM := gas.CO2FromO2Percent((a+b)/2, co2max)
		must(t, ca, errA)
		must(t, cb, errB)
		must(t, mid, errM)
		if cb > ca || !near(mid, (ca+cb)/2) {
			t.Fatalf("CO2 %g, %g, %g", ca, mid, cb)
		}
		if o2 := gas.InstrumentO2Percent * (1 - ca/co2max); !near(o2, a) {
			t.Fatalf("O2 %g came back as %g", a, o2)
		}
	})
}

func TestRatioAndAirFreeCODoNotChangeWithDilution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		co := rapid.Float64Range(0, 2000).Draw(t, "co")
		co2 := rapid.Float64Range(5, 13).Draw(t, "co2")
		o2 := rapid.Float64Range(0, 10).Draw(t, "o2")
		air := rapid.Float64Range(0, 3).Draw(t, "air") // volumes of air for one of gas
		thin := func(v, inAir float64) float64 { return (v + air*inAir) / (1 + air) }
		before, err := gas.RatioCOToCO2(co, co2)
		must(t, before, err)
		after, err := gas.RatioCOToCO2(thin(co, 0), thin(co2, 0))
		if must(t, after, err); !near(before, after) {
			t.Fatalf("ratio %g became %g", before, after)
		}
		freeBefore, err := gas.COAirFreePPM(co, o2)
		must(t, freeBefore, err)
		freeAfter, err := gas.COAirFreePPM(thin(co, 0), thin(o2, gas.InstrumentO2Percent))
		if must(t, freeAfter, err); math.Abs(freeBefore-freeAfter) > 1e-9*max(1, freeBefore) {
			t.Fatalf("air-free CO %g became %g", freeBefore, freeAfter)
		}
	})
}

func TestNetEfficiencyIsNeverBelowGross(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyFuel().Draw(t, "fuel")
		o2 := rapid.Float64Range(0, 15).Draw(t, "o2")
		airC, flueC := ordered(t, 0, 60)
		flueC += rapid.Float64Range(0, 150).Draw(t, "rise")
		loss, err := f.Siegert.LossFromO2Percent(o2, flueC, airC, gas.SiegertO2Percent)
		must(t, loss, err)
		e, err := f.InstrumentEfficiency(loss, o2, flueC)
		if must(t, e, err); e.NetPercent < e.GrossPercent {
			t.Fatalf("Siegert: %+v", e)
		}
		none, err := f.Siegert.LossFromO2Percent(o2, airC, airC, gas.InstrumentO2Percent)
		if must(t, none, err); none != 0 {
			t.Fatalf("a flue at the temperature of the air loses %g", none)
		}
	})
}

func TestUnitsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(0.001, 1000).Draw(t, "x")
		f := anyFuel().Draw(t, "fuel")
		m3, err := gas.M3FromFt3(x / gas.M3PerFt3)
		if must(t, m3, err); !near(m3, x) {
			t.Fatalf("%g m3 came back as %g", x, m3)
		}
		net, err := f.NetFromGrossKW(x)
		must(t, net, err)
		gross, err := f.GrossFromNetKW(net)
		if must(t, gross, err); !near(gross, x) || net >= x {
			t.Fatalf("%g kW gross, %g net, %g gross", x, net, gross)
		}
		cv := rapid.Float64Range(30, 130).Draw(t, "cv")
		rate, err := gas.GasRateForGrossKW(x, cv)
		must(t, rate, err)
		kw, err := gas.HeatInputGrossKW(rate, cv)
		if must(t, kw, err); !near(kw, x) {
			t.Fatalf("%g kW came back as %g", x, kw)
		}
		rise := rapid.Float64Range(1, 100).Draw(t, "rise")
		water, err := gas.WaterKW(x, rise)
		must(t, water, err)
		if less, err := gas.WaterKW(x*rise/100, 100); err != nil || !near(less, water) {
			t.Fatalf("%g kW with %g l/min and %g K, %g kW with %g l/min and 100 K", water, x, rise, less, x*rise/100)
		}
		// one turn of an imperial dial and the same volume on a metric meter
		imperial, err := gas.GasRateFt3PerHour(1, 1, x+1)
		must(t, imperial, err)
		metric, err := gas.GasRateM3PerHour(gas.M3PerFt3, x+1)
		must(t, metric, err)
		if asMetric, err := gas.M3FromFt3(imperial); err != nil || !near(asMetric, metric) {
			t.Fatalf("%g ft3/h is %g m3/h, want %g (%v)", imperial, asMetric, metric, err)
		}
	})
}

func TestCoolerFlueCondensesMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyFuel().Draw(t, "fuel")
		o2 := rapid.Float64Range(0, 12).Draw(t, "o2")
		cool, warm := ordered(t, 1, 90)
		c, errC := f.CondensationAt(o2, cool)
		w, errW := f.CondensationAt(o2, warm)
		must(t, c, errC)
		must(t, w, errW)
		if c.Share < w.Share || c.GainNetPercent < w.GainNetPercent || c.GainNetPercent > 100*(f.GrossNetRatio-1) {
			t.Fatalf("at %g °C %+v, at %g °C %+v", cool, c, warm, w)
		}
	})
}

func TestLargerVesselForLowerChargeOrHotterWater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fill := rapid.Float64Range(0.5, 2).Draw(t, "fill")
		low, high := ordered(t, 0.2, fill)
		a, errA := gas.VesselAcceptance(low, fill, 2.65)
		b, errB := gas.VesselAcceptance(high, fill, 2.65)
		must(t, a, errA)
		must(t, b, errB)
		if a > b {
			t.Fatalf("charge %g accepts %g, charge %g accepts %g", low, a, high, b)
		}
		// With the charge at the fill pressure it is the short form 1 - pi/pf.
		equal, err := gas.VesselAcceptance(fill, fill, 2.65)
		if must(t, equal, err); !near(equal, 1-(fill+1.013)/(2.65+1.013)) {
			t.Fatalf("acceptance %g", equal)
		}
		cool, hot := ordered(t, 10, 110)
		e, err := gas.WaterExpansionPercent(cool, hot)
		if must(t, e, err); e < 0 || (hot > cool+0.1 && e == 0) {
			t.Fatalf("water from %g to %g °C grows by %g %%", cool, hot, e)
		}
	})
}

// The phone and the server must get the same bits. The number was taken on
// amd64; a machine that rounds otherwise gives another one. When a constant or
// a formula changes on purpose, take the new number from the message. To try a
// browser's machine (needs node), in this folder:
//
//	GOOS=js GOARCH=wasm go test -exec "$(go env GOROOT)/lib/wasm/go_js_wasm_exec" -run SameBits .
func TestSameBitsOnEveryMachine(t *testing.T) {
	const want = 0x1efbd74f21c81d2e
	h := fnv.New64a()
	table := totals()
	names := make([]string, 0, len(table))
	for name := range table {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		f := table[name]
		for step := range 50 {
			a := slices.Clone(f.valid)
			for i := range a {
				a[i] *= 1 + float64(step*(i+1))/1000
			}
			if got, err := f.call(a); err == nil {
				hashFloats(h.Write, reflect.ValueOf(got))
			}
		}
	}
	if got := h.Sum64(); got != want {
		t.Errorf("the bits of all results hash to %#x, want %#x", got, uint64(want))
	}
}

func hashFloats(write func([]byte) (int, error), v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		bits := math.Float64bits(v.Float())
		for shift := 0; shift < 64; shift += 8 {
			_, _ = write([]byte{byte(bits >> shift)})
		}
	case reflect.Struct:
		for i := range v.NumField() {
			hashFloats(write, v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			hashFloats(write, v.Index(i))
		}
	}
}
