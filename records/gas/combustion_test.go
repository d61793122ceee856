package gas_test

import (
	"testing"

	"gaugebook/records/gas"
)

func product(pick func(gas.Products) float64) quantity {
	return func(in inputs) (float64, error) {
		excess := 0.0
		if _, ok := in.pairs["excess"]; ok {
			excess = in.num("excess")
		}
		p, err := in.fuel().ProductsAt(excess, gas.ReferenceMbar)
		return pick(p), err
	}
}

var productQuantities = map[string]quantity{
	"dry-co2":       product(func(p gas.Products) float64 { return p.CO2DryPercent }),
	"dry-o2":        product(func(p gas.Products) float64 { return p.O2DryPercent }),
	"wet-co2":       product(func(p gas.Products) float64 { return p.CO2WetPercent }),
	"wet-water":     product(func(p gas.Products) float64 { return p.WaterPercent }),
	"dew-point":     product(func(p gas.Products) float64 { return p.DewPointC }),
	"water-per-kwh": product(func(p gas.Products) float64 { return p.WaterKgPerKWh }),
	"greatest-gain": func(in inputs) (float64, error) {
		c, err := in.fuel().CondensationAt(0, 0.01)
		return c.GainNetPercent / c.Share, err
	},
	"excess-air-exact": func(in inputs) (float64, error) {
		return in.fuel().Stoichiometry.ExcessAirPercent(in.num("o2"))
	},
}

func (in inputs) siegert() gas.SiegertConstants {
	return gas.SiegertConstants{A1: in.num("a1"), A2: in.num("a2"), B: in.num("b")}
}

func instrument(in inputs) (gas.Efficiency, error) {
	loss, err := siegertByO2(in)
	if err != nil {
		return gas.Efficiency{}, err
	}
	return in.fuel().InstrumentEfficiency(loss, in.num("o2"), in.num("flue"))
}

func siegertByO2(in inputs) (float64, error) {
	return in.fuel().Siegert.LossFromO2Percent(in.num("o2"), in.num("flue"), in.num("air"), in.num("zero"))
}

// blend is methane with a share of hydrogen.
func blend(pick func(gas.Stoichiometry) float64) quantity {
	return func(in inputs) (float64, error) {
		methane, _ := gas.ComponentBySymbol("CH4")
		hydrogen, _ := gas.ComponentBySymbol("H2")
		s, err := gas.StoichiometryOf(gas.Mixture{{Component: methane, Fraction: 1 - in.num("h2")},
			{Component: hydrogen, Fraction: in.num("h2")}}, gas.AirO2Percent)
		return pick(s), err
	}
}

var combustionQuantities = map[string]quantity{
	"co-ratio": func(in inputs) (float64, error) { return gas.RatioCOToCO2(in.num("co"), in.num("co2")) },
	"siegert-co2": func(in inputs) (float64, error) {
		return in.siegert().LossFromCO2Percent(in.num("co2"), in.num("flue"), in.num("air"))
	},
	"siegert-o2": siegertByO2,
	"instrument-net": func(in inputs) (float64, error) {
		e, err := instrument(in)
		return e.NetPercent, err
	},
	"instrument-gross": func(in inputs) (float64, error) {
		e, err := instrument(in)
		return e.GrossPercent, err
	},
	"siegert-constant": func(in inputs) (float64, error) {
		k := in.fuel().Siegert
		return map[string]float64{"a1": k.A1, "a2": k.A2, "b": k.B, "limit": k.CondensingLimitC,
			"gain": k.CondensingGainPercent}[in.text("name")], nil
	},
	"co2-from-o2": func(in inputs) (float64, error) {
		return gas.CO2FromO2Percent(in.num("o2"), in.num("co2max"))
	},
	"co-air-free": func(in inputs) (float64, error) { return gas.COAirFreePPM(in.num("co"), in.num("o2")) },
	"co-at-3":     func(in inputs) (float64, error) { return gas.COAtO2PPM(in.num("co"), in.num("o2"), 3) },
	"excess-air-instrument": func(in inputs) (float64, error) {
		return gas.ExcessAirInstrumentPercent(in.num("o2"))
	},
	"blend-co2max": blend(func(s gas.Stoichiometry) float64 { return s.CO2MaxPercent }),
	"blend-air":    blend(func(s gas.Stoichiometry) float64 { return s.Air }),
}

func TestCondensationStopsAtTheDewPoint(t *testing.T) {
	for _, f := range gas.Fuels() {
		dew, err := f.DewPointC(4.5)
		if err != nil {
			t.Fatal(err)
		}
		above, err := f.CondensationAt(4.5, dew+0.01)
		if err != nil || above.Share != 0 || above.GainNetPercent != 0 || above.KgPerKWh != 0 {
			t.Errorf("%s above the dew point: %+v (%v)", f.Code, above, err)
		}
		below, err := f.CondensationAt(4.5, dew-0.01)
		if err != nil || below.Share <= 0 || below.Share > 0.01 {
			t.Errorf("%s just below the dew point: %+v (%v)", f.Code, below, err)
		}
		// Most of the water is out at room temperature, never more than all.
		cold, err := f.CondensationAt(4.5, 20)
		if err != nil || cold.Share < 0.8 || cold.Share > 1 {
			t.Errorf("%s at 20 °C: %+v (%v)", f.Code, cold, err)
		}
	}
}

func TestFreshAirHasNoRatio(t *testing.T) {
	if r, err := gas.RatioCOToCO2(0, 0); err == nil {
		t.Errorf("ratio %g in fresh air", r)
	}
}
