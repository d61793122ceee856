package gas_test

import (
	"math"
	"testing"

	"gaugebook/records/gas"

	"pgregory.net/rapid"
)

// anyMixture draws fractions of all components that add up to 1, methane
// always among them so that it burns.
func anyMixture() *rapid.Generator[gas.Mixture] {
	return rapid.Custom(func(t *rapid.T) gas.Mixture {
		var m gas.Mixture
		total := 0.0
		for _, c := range gas.Components() {
			x := float(t, c.Symbol, 0, 1)
			if c.Symbol == "CH4" {
				x += 0.5
			}
			m, total = append(m, gas.Share{Component: c, Fraction: x}), total+x
		}
		for i := range m {
			m[i].Fraction /= total
		}
		return m
	})
}

// What goes in comes out: carbon, hydrogen, oxygen and nitrogen are conserved.
func TestCombustionConservesAtoms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, airO2 := anyMixture().Draw(t, "mixture"), float(t, "air", 20, 21.5)
		s, err := gas.StoichiometryOf(m, airO2)
		must(t, s, err)
		var c, h, n, o float64
		for _, share := range m {
			c += share.Fraction * share.Component.C
			h += share.Fraction * share.Component.H
			n += share.Fraction * share.Component.N
			o += share.Fraction * share.Component.O
		}
		fromAir := s.Air * airO2 / 100
		for name, pair := range map[string][2]float64{
			"carbon": {c, s.CO2}, "hydrogen": {h, 2 * s.H2O}, "oxygen": {o + 2*fromAir, 2*s.CO2 + s.H2O},
			"nitrogen":     {n + 2*(s.Air-fromAir), 2 * s.N2},
			"dry products": {s.DryProducts, s.CO2 + s.N2}, "wet products": {s.WetProducts, s.DryProducts + s.H2O},
			"CO2max": {s.CO2MaxPercent, 100 * s.CO2 / s.DryProducts},
		} {
			if !near(pair[0], pair[1]) {
				t.Fatalf("%s: %g and %g", name, pair[0], pair[1])
			}
		}
	})
}

// Molar quantities of a blend lie on a straight line between the two gases:
// air need, water, molar mass and, per mole, the heat.
func TestBlendsAreLinearPerMole(t *testing.T) {
	components := gas.Components()
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.SampledFrom(components[:5]).Draw(t, "a"), rapid.SampledFrom(components[:5]).Draw(t, "b")
		x := float(t, "x", 0, 1)
		of := func(fraction float64) gas.Properties {
			p, err := gas.PropertiesOf(gas.Mixture{{Component: a, Fraction: fraction},
				{Component: b, Fraction: 1 - fraction}})
			return must(t, p, err)
		}
		first, second, both := of(1), of(0), of(x)
		for name, pick := range map[string]func(gas.Properties) float64{
			"air":        func(p gas.Properties) float64 { return p.Stoichiometry.Air },
			"water":      func(p gas.Properties) float64 { return p.Stoichiometry.H2O },
			"molar mass": func(p gas.Properties) float64 { return p.MolarMass },
			"gross heat": func(p gas.Properties) float64 { return p.GrossMJPerM3 * p.CompressionFactor },
			"net heat":   func(p gas.Properties) float64 { return p.NetMJPerM3 * p.CompressionFactor },
		} {
			want := x*pick(first) + (1-x)*pick(second)
			if math.Abs(pick(both)-want) > 1e-9*want {
				t.Fatalf("%s of %g %s in %s: %g, want %g", name, x, a.Symbol, b.Symbol, pick(both), want)
			}
		}
	})
}

// Definitions that hold for any gas: gross above net by the heat of the water,
// Wobbe index, density, and that inert gas only takes heat away.
func TestPropertiesFollowTheirDefinitions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyMixture().Draw(t, "mixture")
		p, err := gas.PropertiesOf(m)
		must(t, p, err)
		root := math.Sqrt(p.RelativeDensity)
		switch {
		case !near(p.GrossWobbeMJPerM3*root, p.GrossMJPerM3) || !near(p.NetWobbeMJPerM3*root, p.NetMJPerM3):
			t.Fatalf("Wobbe %g and %g of %g and %g", p.GrossWobbeMJPerM3, p.NetWobbeMJPerM3, p.GrossMJPerM3,
				p.NetMJPerM3)
		case !near(p.GrossNetRatio, p.GrossMJPerM3/p.NetMJPerM3) || p.GrossNetRatio <= 1:
			t.Fatalf("ratio %g", p.GrossNetRatio)
		case p.CompressionFactor <= 0.95 || p.CompressionFactor > 1:
			t.Fatalf("compression factor %g", p.CompressionFactor)
		case math.Abs(p.DensityKgPerM3-p.RelativeDensity*1.2254) > 1e-9:
			t.Fatalf("density %g", p.DensityKgPerM3)
		}
		latent := (p.GrossMJPerM3 - p.NetMJPerM3) * p.CompressionFactor * 23.6449
		if want := p.Stoichiometry.H2O * 44.431; math.Abs(latent-want) > 1e-9*want {
			t.Fatalf("gross less net is %g kJ/mol, the water's heat %g", latent, want)
		}
		nitrogen, _ := gas.ComponentBySymbol("N2")
		thin := gas.Mixture{{Component: nitrogen, Fraction: 0.1}}
		for _, s := range m {
			thin = append(thin, gas.Share{Component: s.Component, Fraction: 0.9 * s.Fraction})
		}
		thinner, err := gas.PropertiesOf(thin)
		if must(t, thinner, err); thinner.GrossMJPerM3 >= p.GrossMJPerM3 ||
			thinner.Stoichiometry.Air >= p.Stoichiometry.Air {
			t.Fatalf("a tenth of nitrogen: %+v, before %+v", thinner, p)
		}
	})
}

// hydrocarbon is an independent derivation for CnHm burned with λ times the
// air it needs, from atoms alone: dry CO2 and O2, and the water of the wet
// products, in percent.
func hydrocarbon(n, m, lambda float64) (co2, o2, water float64) {
	const x = 0.2095
	need := n + m/4
	air := lambda * need / x
	left := (lambda - 1) * need
	dry := air*(1-x) + left + n
	return 100 * n / dry, 100 * left / dry, 100 * (m / 2) / (dry + m/2)
}

func TestProductsAgainstAnIndependentDerivation(t *testing.T) {
	atoms := map[gas.FuelCode][2]float64{gas.NaturalGas: {1, 4}, gas.Propane: {3, 8}, gas.Butane: {4, 10}}
	rapid.Check(t, func(t *rapid.T) {
		f := anyFuel().Draw(t, "fuel")
		lambda := float(t, "lambda", 1, 6)
		p, err := f.ProductsAt(100*(lambda-1), gas.ReferenceMbar)
		must(t, p, err)
		co2, o2, water := hydrocarbon(atoms[f.Code][0], atoms[f.Code][1], lambda)
		if math.Abs(p.CO2DryPercent-co2) > 1e-9 || math.Abs(p.O2DryPercent-o2) > 1e-9 ||
			math.Abs(p.WaterPercent-water) > 1e-9 {
			t.Fatalf("%s at %g: %+v, want %g, %g, %g", f.Code, lambda, p, co2, o2, water)
		}
		// The dew point is where saturation holds just that much water.
		if got := gas.SaturationMbar(p.DewPointC); math.Abs(got-water/100*gas.ReferenceMbar) > 1e-6 {
			t.Fatalf("%g mbar of water at the dew point %g °C, want %g", got, p.DewPointC, water/100*gas.ReferenceMbar)
		}
		// The straight line that instruments use differs from the atoms only by
		// its 20.9 % oxygen in air.
		line, err := gas.CO2FromO2Percent(min(o2, 20.9), f.Stoichiometry.CO2MaxPercent)
		if must(t, line, err); math.Abs(line-co2) > 0.04 {
			t.Fatalf("%s: the line gives %g, the atoms %g", f.Code, line, co2)
		}
	})
}

// Less pressure, lower dew point; condensate never exceeds the water formed.
func TestDewPointAndCondensate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyFuel().Draw(t, "fuel")
		excess := float(t, "excess", 0, 200)
		low, high := ordered(t, 800, 1100)
		a, errA := f.ProductsAt(excess, low)
		b, errB := f.ProductsAt(excess, high)
		must(t, a, errA)
		must(t, b, errB)
		if a.DewPointC > b.DewPointC || a.CO2DryPercent != b.CO2DryPercent {
			t.Fatalf("%g mbar: %+v, %g mbar: %+v", low, a, high, b)
		}
		o2 := float(t, "o2", 0, 15)
		c, err := f.CondensationAt(o2, float(t, "flue", 0, 90))
		must(t, c, err)
		if c.Share < 0 || c.Share > 1 || c.GainNetPercent > 100*(f.GrossNetRatio-1)+1e-9 ||
			c.KgPerKWh > a.WaterKgPerKWh*1.0000001 {
			t.Fatalf("%+v of %g kg/kWh formed", c, a.WaterKgPerKWh)
		}
	})
}

// Siegert's loss is proportional to the rise and falls as CO2 rises; the forms
// by CO2 and by O2 agree where the fuel's constants belong together.
func TestSiegertForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anyFuel().Draw(t, "fuel")
		air, rise, o2 := float(t, "air", -10, 40), float(t, "rise", 1, 250), float(t, "o2", 1, 12)
		loss, err := f.Siegert.LossFromO2Percent(o2, air+rise, air, gas.SiegertO2Percent)
		must(t, loss, err)
		twice, err := f.Siegert.LossFromO2Percent(o2, air+2*rise, air, gas.SiegertO2Percent)
		if must(t, twice, err); math.Abs(twice-2*loss) > 1e-9 {
			t.Fatalf("%g %% at %g K, %g %% at twice", loss, rise, twice)
		}
		worse, err := f.Siegert.LossFromO2Percent(o2+1, air+rise, air, gas.SiegertO2Percent)
		if must(t, worse, err); worse <= loss {
			t.Fatalf("%g %% at %g %% O2, %g %% at one more", loss, o2, worse)
		}
		co2, err := gas.CO2FromO2Percent(o2, f.PublishedCO2MaxLowPercent)
		must(t, co2, err)
		byCO2, err := f.Siegert.LossFromCO2Percent(co2, air+rise, air)
		if must(t, byCO2, err); math.Abs(byCO2-loss) > 0.04*loss {
			t.Fatalf("%s at %g %% O2: %g by CO2, %g by O2", f.Code, o2, byCO2, loss)
		}
	})
}
