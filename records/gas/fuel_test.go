package gas_test

import (
	"errors"
	"math"
	"testing"

	"gaugebook/records/gas"
)

func (in inputs) mixture() gas.Mixture {
	in.t.Helper()
	var m gas.Mixture
	for _, name := range in.order {
		if c, ok := gas.ComponentBySymbol(name); ok {
			m = append(m, gas.Share{Component: c, Fraction: in.num(name)})
		}
	}
	return m
}

func (in inputs) stoichiometry() (gas.Stoichiometry, error) {
	o2 := gas.AirO2Percent
	if _, ok := in.pairs["air_o2"]; ok {
		o2 = in.num("air_o2")
	}
	return gas.StoichiometryOf(in.mixture(), o2)
}

func property(pick func(gas.Properties) float64) quantity {
	return func(in inputs) (float64, error) {
		p, err := gas.PropertiesOf(in.mixture())
		return pick(p), err
	}
}

func stoichiometric(pick func(gas.Stoichiometry) float64) quantity {
	return func(in inputs) (float64, error) {
		s, err := in.stoichiometry()
		return pick(s), err
	}
}

var fuelQuantities = map[string]quantity{
	"gross-cv":         property(func(p gas.Properties) float64 { return p.GrossMJPerM3 }),
	"net-cv":           property(func(p gas.Properties) float64 { return p.NetMJPerM3 }),
	"gross-wobbe":      property(func(p gas.Properties) float64 { return p.GrossWobbeMJPerM3 }),
	"net-wobbe":        property(func(p gas.Properties) float64 { return p.NetWobbeMJPerM3 }),
	"relative-density": property(func(p gas.Properties) float64 { return p.RelativeDensity }),
	"gross-net-ratio":  property(func(p gas.Properties) float64 { return p.GrossNetRatio }),

	"stoichiometric-air":      stoichiometric(func(s gas.Stoichiometry) float64 { return s.Air }),
	"stoichiometric-nitrogen": stoichiometric(func(s gas.Stoichiometry) float64 { return s.N2 }),
	"co2max":                  stoichiometric(func(s gas.Stoichiometry) float64 { return s.CO2MaxPercent }),
	"viscosity": func(in inputs) (float64, error) {
		c, _ := gas.ComponentBySymbol(in.text("symbol"))
		return c.ViscosityMicroPaS, nil
	},
	"fuel-viscosity": func(in inputs) (float64, error) { return in.fuel().ViscosityPaS * 1e6, nil },
	"dry-over-air":   stoichiometric(func(s gas.Stoichiometry) float64 { return s.DryProducts / s.Air }),
}

func TestEveryFuelIsComplete(t *testing.T) {
	for _, f := range gas.Fuels() {
		p, err := gas.PropertiesOf(f.Mixture)
		if err != nil || p != f.Properties {
			t.Errorf("%s: properties %+v, want %+v (%v)", f.Code, f.Properties, p, err)
		}
		found, ok := gas.FuelByCode(f.Code)
		if !ok || found.Label != f.Label {
			t.Errorf("%s is not found by its code", f.Code)
		}
		derived := f.Stoichiometry.CO2MaxPercent
		if derived < f.PublishedCO2MaxLowPercent-0.05 || derived > f.PublishedCO2MaxHighPercent+0.05 {
			t.Errorf("%s: derived CO2max %.2f is outside the published %.1f to %.1f", f.Code, derived,
				f.PublishedCO2MaxLowPercent, f.PublishedCO2MaxHighPercent)
		}
		if _, err := f.At(21); err != nil {
			t.Errorf("%s: %v", f.Code, err)
		}
	}
	if _, ok := gas.FuelByCode("coal"); ok {
		t.Error("coal is no fuel of ours")
	}
}

// The density that follows from the composition against the gas that weighs
// 0.680, 1.90 and 2.54 kg/m3 in handbooks (from memory, unconfirmed).
func TestDensityAtWorkingPressure(t *testing.T) {
	for code, want := range map[gas.FuelCode]float64{gas.NaturalGas: 0.680, gas.Propane: 1.90, gas.Butane: 2.54} {
		f, _ := gas.FuelByCode(code)
		atRest, err := f.At(0)
		if err != nil || math.Abs(atRest.DensityKgPerM3-want) > 0.01 {
			t.Errorf("%s: %.4f kg/m3, want %.3f (%v)", code, atRest.DensityKgPerM3, want, err)
		}
		working, _ := f.At(101.325)
		if math.Abs(working.DensityKgPerM3/atRest.DensityKgPerM3-1.1) > 1e-12 {
			t.Errorf("%s: a tenth more pressure must be a tenth more density", code)
		}
	}
}

func TestMixtureErrorsNameTheQuantity(t *testing.T) {
	methane, _ := gas.ComponentBySymbol("CH4")
	nitrogen, _ := gas.ComponentBySymbol("N2")
	for _, c := range []struct {
		name    string
		mixture gas.Mixture
		want    string
	}{
		{"empty", nil, "sum of mole fractions"},
		{"half missing", gas.Mixture{{Component: methane, Fraction: 0.5}}, "sum of mole fractions"},
		{"not a number", gas.Mixture{{Component: methane, Fraction: math.NaN()}}, "mole fraction of CH4"},
		{"negative", gas.Mixture{{Component: methane, Fraction: -1}}, "mole fraction of CH4"},
		{"does not burn", gas.Mixture{{Component: nitrogen, Fraction: 1}}, "oxygen that the mixture needs"},
	} {
		_, err := gas.PropertiesOf(c.mixture)
		var re *gas.RangeError
		if !errors.As(err, &re) || re.Quantity != c.want {
			t.Errorf("%s: error %v, want one about %s", c.name, err, c.want)
		}
	}
}

func TestRangeErrorText(t *testing.T) {
	_, err := gas.SlopeMMPerM(90)
	if got, want := err.Error(), "slope 90 ° is outside 0 to 45 °"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	_, err = gas.PurgeVolumeM3(1, math.Inf(1))
	if got, want := err.Error(), "volumes to purge +Inf is outside 1 to 10"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
