package gas_test

import (
	"math"
	"testing"

	"gaugebook/records/gas"

	"pgregory.net/rapid"
)

// Water grows from a to b and from b to c as from a to c.
func TestExpansionsMultiply(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := float(t, "a", 0, 60)
		b := float(t, "b", a, 90)
		c := float(t, "c", b, 120)
		grow := func(from, to float64) float64 {
			e, err := gas.WaterExpansionPercent(from, to)
			return 1 + must(t, e, err)/100
		}
		if got, want := grow(a, b)*grow(b, c), grow(a, c); math.Abs(got-want) > 1e-12 {
			t.Fatalf("%g, %g, %g °C: %.15g in two steps, %.15g in one", a, b, c, got, want)
		}
	})
}

// Water is densest near 4 °C and only gets lighter above (CRC Handbook: 3.98 °C
// and 999.97 kg/m3, from memory, unconfirmed).
func TestWaterIsDensestAtFourDegrees(t *testing.T) {
	best, at := 0.0, 0.0
	for c := 0.0; c <= 120; c += 0.01 {
		d, err := gas.WaterDensityKgPerM3(c)
		if err != nil {
			t.Fatal(err)
		}
		if d > best {
			best, at = d, c
		}
	}
	if math.Abs(at-3.98) > 0.02 || math.Abs(best-999.97) > 0.01 {
		t.Errorf("densest at %g °C with %g kg/m3", at, best)
	}
}

// Boyle: the gas of the vessel, at its charge the whole vessel, is compressed
// to the fill and then to the final pressure; the difference is what it takes
// up.
func TestVesselIsBoyle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		charge := float(t, "charge", 0.3, 2)
		fill := float(t, "fill", charge, 2.5)
		final := float(t, "final", fill+0.05, 6)
		a, err := gas.VesselAcceptance(charge, fill, final)
		must(t, a, err)
		const atm = 1.013
		atFill := (charge + atm) / (fill + atm) // of the vessel, still gas
		atFinal := (charge + atm) / (final + atm)
		if !near(a, atFill-atFinal) || a <= 0 || a >= 1 {
			t.Fatalf("charge %g, fill %g, final %g: %g, want %g", charge, fill, final, a, atFill-atFinal)
		}
		litres, growth := float(t, "litres", 10, 500), float(t, "growth", 0.5, 6)
		v, err := gas.VesselLitres(litres, growth, 0, max(a, 0.01))
		must(t, v, err)
		if a >= 0.01 && !near(v*a, litres*growth/100) {
			t.Fatalf("%g l take up %g of %g l", v, v*a, litres*growth/100)
		}
		reserve := float(t, "reserve", 0, 10)
		more, err := gas.VesselLitres(litres, growth, reserve, max(a, 0.01))
		if must(t, more, err); more < v {
			t.Fatalf("%g l, with a reserve %g l", v, more)
		}
	})
}

// Estimates of the water in a system are proportional to what they go by, and
// a double panel counts as two single ones.
func TestSystemVolumeEstimates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		single, double := float64(rapid.IntRange(0, 40).Draw(t, "single")),
			float64(rapid.IntRange(0, 40).Draw(t, "double"))
		per := float(t, "per", 1, 20)
		v, err := gas.SystemLitresFromPanels(single, double, per)
		if must(t, v, err); !near(v, (single+2*double)*per) {
			t.Fatalf("%g single, %g double at %g l: %g l", single, double, per, v)
		}
		asSingle, err := gas.SystemLitresFromPanels(single+2*double, 0, per)
		if must(t, asSingle, err); !near(asSingle, v) {
			t.Fatalf("%g l, as single panels %g l", v, asSingle)
		}
		kw := float(t, "kw", 0, 60)
		byKW, err := gas.SystemLitresFromKW(kw, per)
		if must(t, byKW, err); !near(byKW, kw*per) {
			t.Fatalf("%g kW at %g l: %g l", kw, per, byKW)
		}
	})
}

// Dose and dissolved solids are shares; a system like the main is 0 % off.
func TestSharesOfWater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		litres, added := float(t, "litres", 1, 500), float(t, "added", 0, 10)
		pct, err := gas.DosePercent(added, litres)
		if must(t, pct, err); !near(pct*litres, 100*added) {
			t.Fatalf("%g l in %g l: %g %%", added, litres, pct)
		}
		mains, off := float(t, "mains", 20, 1500), float(t, "off", -0.9, 5)
		change, err := gas.DissolvedSolidsChangePercent(mains, mains*(1+off))
		if must(t, change, err); math.Abs(change-100*off) > 1e-9*max(1, math.Abs(100*off)) {
			t.Fatalf("%g, %g above: %g %%", mains, off, change)
		}
		same, err := gas.DissolvedSolidsChangePercent(mains, mains)
		if must(t, same, err); same != 0 {
			t.Fatalf("the main against itself: %g %%", same)
		}
	})
}

// Sources: a boiler manual, 10.2 m for 1 bar; and hydrostatics with water of
// 999.7 kg/m3 at 10 °C, which gives 10.2 m too.
func TestStaticHeadIsHydrostatics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := float(t, "m", 0, 100)
		bar, err := gas.StaticHeadBar(m)
		if want := m * 999.7 * 9.81 / 1e5; must(t, bar, err) > want*1.001 || bar < want*0.999 {
			t.Fatalf("%g m: %g bar, hydrostatics %g", m, bar, want)
		}
	})
}

// Steam table: 23.39, 73.85, 199.5, 474.2 and 1014.2 mbar at 20, 40, 60, 80 and
// 100 °C (IAPWS-IF97 as printed in steam tables, from memory, unconfirmed); and
// pressure rises with temperature everywhere.
func TestVapourPressure(t *testing.T) {
	for c, want := range map[float64]float64{20: 23.39, 40: 73.85, 60: 199.5, 80: 474.2, 100: 1014.2} {
		if got := gas.SaturationMbar(c); math.Abs(got/want-1) > 0.01 {
			t.Errorf("%g °C: %.2f mbar, want %.2f within 1 %%", c, got, want)
		}
	}
	for c, before := 0.1, gas.SaturationMbar(0); c <= 110; c += 0.1 {
		if now := gas.SaturationMbar(c); now <= before {
			t.Fatalf("%g mbar at %g °C, %g before", now, c, before)
		} else {
			before = now
		}
	}
}

// Twice the flow, or twice the rise, is twice the heat.
func TestWaterHeatIsProportional(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, k := float(t, "l", 0, 40), float(t, "k", 0, 50)
		kw, err := gas.WaterKW(l, k)
		if must(t, kw, err); !near(kw, l*k*4.19/60) {
			t.Fatalf("%g l/min, %g K: %g kW", l, k, kw)
		}
		if twice, err := gas.WaterKW(2*l, k); err != nil || !near(twice, 2*kw) {
			t.Fatalf("twice the flow: %g, once %g (%v)", twice, kw, err)
		}
		if twice, err := gas.WaterKW(l, 2*k); err != nil || !near(twice, 2*kw) {
			t.Fatalf("twice the rise: %g, once %g (%v)", twice, kw, err)
		}
	})
}
