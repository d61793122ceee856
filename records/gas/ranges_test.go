package gas_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"gaugebook/records/gas"
)

// accepted is one input of one function with the range that its docstring
// states, both ends included.
type accepted struct {
	function, quantity string
	min, max           float64
	unit               string
	call               func(x float64) error
}

// errorOf drops the result of a computation.
func errorOf[T any](_ T, err error) error { return err }

func fuelOf(code gas.FuelCode) gas.Fuel {
	f, _ := gas.FuelByCode(code)
	return f
}

func combustionRanges() []accepted {
	methane := fuelOf(gas.NaturalGas)
	return []accepted{
		{"CO2FromO2Percent", "flue oxygen", 0, 20.9, "%", func(x float64) error {
			return errorOf(gas.CO2FromO2Percent(x, 11.7))
		}},
		{"CO2FromO2Percent", "greatest carbon dioxide of the fuel", 1, 25, "%", func(x float64) error {
			return errorOf(gas.CO2FromO2Percent(5, x))
		}},
		{"ExcessAirInstrumentPercent", "flue oxygen", 0, 20.8, "%", func(x float64) error {
			return errorOf(gas.ExcessAirInstrumentPercent(x))
		}},
		{"Stoichiometry.ExcessAirPercent", "flue oxygen", 0, 20.8, "%", func(x float64) error {
			return errorOf(methane.Stoichiometry.ExcessAirPercent(x))
		}},
		{"RatioCOToCO2", "carbon monoxide", 0, 100000, "ppm", func(x float64) error {
			return errorOf(gas.RatioCOToCO2(x, 9))
		}},
		{"RatioCOToCO2", "flue carbon dioxide", 0.01, 25, "%", func(x float64) error {
			return errorOf(gas.RatioCOToCO2(90, x))
		}},
		{"COAtO2PPM", "carbon monoxide", 0, 100000, "ppm", func(x float64) error {
			return errorOf(gas.COAtO2PPM(x, 5, 3))
		}},
		{"COAtO2PPM", "flue oxygen", 0, 20.8, "%", func(x float64) error {
			return errorOf(gas.COAtO2PPM(90, x, 3))
		}},
		{"COAtO2PPM", "reference oxygen", 0, 20, "%", func(x float64) error {
			return errorOf(gas.COAtO2PPM(90, 5, x))
		}},
		{"LossFromCO2Percent", "flue carbon dioxide", 1, 25, "%", func(x float64) error {
			return errorOf(methane.Siegert.LossFromCO2Percent(x, 150, 20))
		}},
		{"LossFromCO2Percent", "flue temperature", 20, 600, "°C", func(x float64) error {
			return errorOf(methane.Siegert.LossFromCO2Percent(9, x, 20))
		}},
		{"LossFromCO2Percent", "combustion air temperature", -30, 60, "°C", func(x float64) error {
			return errorOf(methane.Siegert.LossFromCO2Percent(9, 150, x))
		}},
		{"LossFromO2Percent", "flue oxygen", 0, 20, "%", func(x float64) error {
			return errorOf(methane.Siegert.LossFromO2Percent(x, 150, 20, 21))
		}},
		{"LossFromO2Percent", "oxygen of air in the formula", 20.9, 21, "%", func(x float64) error {
			return errorOf(methane.Siegert.LossFromO2Percent(5, 150, 20, x))
		}},
		{"InstrumentEfficiency", "flue loss", 0, 100, "%", func(x float64) error {
			return errorOf(methane.InstrumentEfficiency(x, 5, 60))
		}},
		{"InstrumentEfficiency", "flue temperature", -30, 600, "°C", func(x float64) error {
			return errorOf(methane.InstrumentEfficiency(6, 5, x))
		}},
		{"ProductsAt", "excess air", 0, 2000, "%", func(x float64) error {
			return errorOf(methane.ProductsAt(x, 1013.25))
		}},
		{"ProductsAt", "atmospheric pressure", 800, 1100, "mbar", func(x float64) error {
			return errorOf(methane.ProductsAt(20, x))
		}},
		{"DewPointC", "flue oxygen", 0, 20, "%", func(x float64) error { return errorOf(methane.DewPointC(x)) }},
		{"CondensationAt", "flue temperature", 0, 600, "°C", func(x float64) error {
			return errorOf(methane.CondensationAt(5, x))
		}},
		{"StoichiometryOf", "oxygen in air", 20, 21.5, "%", func(x float64) error {
			return errorOf(gas.StoichiometryOf(methane.Mixture, x))
		}},
		{"NetFromGrossKW", "gross heat input", 0, 100000, "kW", func(x float64) error {
			return errorOf(methane.NetFromGrossKW(x))
		}},
		{"GrossFromNetKW", "net heat input", 0, 100000, "kW", func(x float64) error {
			return errorOf(methane.GrossFromNetKW(x))
		}},
	}
}

func heatRanges() []accepted {
	return []accepted{
		{"GasRateM3PerHour", "gas passed", 0, 1000, "m3", func(x float64) error {
			return errorOf(gas.GasRateM3PerHour(x, 60))
		}},
		{"GasRateM3PerHour", "time", 1, 86400, "s", func(x float64) error {
			return errorOf(gas.GasRateM3PerHour(0.04, x))
		}},
		{"GasRateFt3PerHour", "volume of one turn of the test dial", 0.01, 100, "ft3", func(x float64) error {
			return errorOf(gas.GasRateFt3PerHour(x, 1, 60))
		}},
		{"GasRateFt3PerHour", "turns of the test dial", 1, 10000, "", func(x float64) error {
			return errorOf(gas.GasRateFt3PerHour(1, x, 60))
		}},
		{"GasRateFt3PerHour", "time", 1, 86400, "s", func(x float64) error {
			return errorOf(gas.GasRateFt3PerHour(1, 1, x))
		}},
		{"M3FromFt3", "volume", 0, 1e7, "ft3", func(x float64) error { return errorOf(gas.M3FromFt3(x)) }},
		{"HeatInputGrossKW", "gas rate", 0, 1e7, "m3/h", func(x float64) error {
			return errorOf(gas.HeatInputGrossKW(x, 39))
		}},
		{"HeatInputGrossKW", "gross calorific value", 5, 150, "MJ/m3", func(x float64) error {
			return errorOf(gas.HeatInputGrossKW(2.5, x))
		}},
		{"GasRateForGrossKW", "gross heat input", 0, 100000, "kW", func(x float64) error {
			return errorOf(gas.GasRateForGrossKW(x, 39))
		}},
		{"GasRateForGrossKW", "gross calorific value", 5, 150, "MJ/m3", func(x float64) error {
			return errorOf(gas.GasRateForGrossKW(24, x))
		}},
		{"BilledKWh", "metered volume", 0, 1e9, "m3", func(x float64) error { return errorOf(gas.BilledKWh(x, 39)) }},
		{"DigitPercent", "last digit of the meter", 1e-6, 10, "m3", func(x float64) error {
			return errorOf(gas.DigitPercent(x, 20))
		}},
		{"DigitPercent", "gas passed", 0.001, 1000, "m3", func(x float64) error {
			return errorOf(gas.DigitPercent(0.001, x))
		}},
		{"WaterKW", "water flow", 0, 10000, "l/min", func(x float64) error { return errorOf(gas.WaterKW(x, 30)) }},
		{"WaterKW", "temperature rise", 0, 100, "K", func(x float64) error { return errorOf(gas.WaterKW(10, x)) }},
		{"HeatBalanceOf", "heat input", 0.1, 100000, "kW", func(x float64) error {
			return errorOf(gas.HeatBalanceOf(x, 20, 5, 5))
		}},
		{"HeatBalanceOf", "heat output", 0, 100000, "kW", func(x float64) error {
			return errorOf(gas.HeatBalanceOf(24, x, 5, 5))
		}},
		{"HeatBalanceOf", "uncertainty of the heat input", 0, 50, "%", func(x float64) error {
			return errorOf(gas.HeatBalanceOf(24, 20, x, 5))
		}},
		{"HeatBalanceOf", "uncertainty of the heat output", 0, 50, "%", func(x float64) error {
			return errorOf(gas.HeatBalanceOf(24, 20, 5, x))
		}},
	}
}

func waterRanges() []accepted {
	return []accepted{
		{"SystemLitresFromPanels", "single panel radiators", 0, 1000, "", func(x float64) error {
			return errorOf(gas.SystemLitresFromPanels(x, 1, 10))
		}},
		{"SystemLitresFromPanels", "double panel radiators", 0, 1000, "", func(x float64) error {
			return errorOf(gas.SystemLitresFromPanels(1, x, 10))
		}},
		{"SystemLitresFromPanels", "litres per panel", 1, 50, "l", func(x float64) error {
			return errorOf(gas.SystemLitresFromPanels(1, 1, x))
		}},
		{"SystemLitresFromKW", "heat output", 0, 100000, "kW", func(x float64) error {
			return errorOf(gas.SystemLitresFromKW(x, 6))
		}},
		{"SystemLitresFromKW", "litres per kW", 0.5, 50, "l/kW", func(x float64) error {
			return errorOf(gas.SystemLitresFromKW(24, x))
		}},
		{"WaterDensityKgPerM3", "water temperature", 0, 120, "°C", func(x float64) error {
			return errorOf(gas.WaterDensityKgPerM3(x))
		}},
		{"WaterExpansionPercent", "operating temperature", 10, 120, "°C", func(x float64) error {
			return errorOf(gas.WaterExpansionPercent(10, x))
		}},
		{"VesselAcceptance", "vessel charge", 0, 10, "bar", func(x float64) error {
			return errorOf(gas.VesselAcceptance(x, 10, 11))
		}},
		{"VesselAcceptance", "cold fill pressure", 1, 10, "bar", func(x float64) error {
			return errorOf(gas.VesselAcceptance(1, x, 12))
		}},
		{"VesselAcceptance", "final pressure", 1.25, 15, "bar", func(x float64) error {
			return errorOf(gas.VesselAcceptance(1, 1.2, x))
		}},
		{"VesselLitres", "system volume", 0, 100000, "l", func(x float64) error {
			return errorOf(gas.VesselLitres(x, 3, 0, 0.4))
		}},
		{"VesselLitres", "expansion of water", 0, 10, "%", func(x float64) error {
			return errorOf(gas.VesselLitres(100, x, 0, 0.4))
		}},
		{"VesselLitres", "reserve", 0, 1000, "l", func(x float64) error {
			return errorOf(gas.VesselLitres(100, 3, x, 0.4))
		}},
		{"VesselLitres", "acceptance of the vessel", 0.01, 1, "", func(x float64) error {
			return errorOf(gas.VesselLitres(100, 3, 0, x))
		}},
		{"StaticHeadBar", "height of the system", 0, 500, "m", func(x float64) error {
			return errorOf(gas.StaticHeadBar(x))
		}},
		{"DosePercent", "inhibitor added", 0, 1000, "l", func(x float64) error {
			return errorOf(gas.DosePercent(x, 100))
		}},
		{"DosePercent", "system volume", 1, 100000, "l", func(x float64) error {
			return errorOf(gas.DosePercent(1, x))
		}},
		{"DissolvedSolidsChangePercent", "dissolved solids of the cold main", 1, 20000, "mg/l",
			func(x float64) error { return errorOf(gas.DissolvedSolidsChangePercent(x, 300)) }},
		{"DissolvedSolidsChangePercent", "dissolved solids of the system", 0, 100000, "mg/l",
			func(x float64) error { return errorOf(gas.DissolvedSolidsChangePercent(300, x)) }},
	}
}

func pipeRanges() []accepted {
	g := gas.FlowingGas{DensityKgPerM3: 0.7, ViscosityPaS: 1.1e-5}
	bore := gas.Bore{BoreMM: 20, RoughnessMM: 0.0015, LengthM: 9}
	methane := fuelOf(gas.NaturalGas)
	return []accepted{
		{"Fuel.At", "working pressure", 0, 1000, "mbar", func(x float64) error { return errorOf(methane.At(x)) }},
		{"PipeLoss", "gas density", 0.01, 20, "kg/m3", func(x float64) error {
			return errorOf(gas.PipeLoss(gas.FlowingGas{DensityKgPerM3: x, ViscosityPaS: 1e-5}, 2, bore))
		}},
		{"PipeLoss", "gas viscosity", 1e-6, 1e-4, "Pa·s", func(x float64) error {
			return errorOf(gas.PipeLoss(gas.FlowingGas{DensityKgPerM3: 0.7, ViscosityPaS: x}, 2, bore))
		}},
		{"PipeLoss", "roughness of pipe", 0, 1, "mm", func(x float64) error {
			return errorOf(gas.PipeLoss(g, 2, gas.Bore{BoreMM: 20, RoughnessMM: x, LengthM: 9}))
		}},
		{"PipeLoss", "length of pipe", 0, 10000, "m", func(x float64) error {
			return errorOf(gas.PipeLoss(g, 0.1, gas.Bore{BoreMM: 20, LengthM: x}))
		}},
		{"PipeLoss", "gas flow", 0, 1000, "m3/h", func(x float64) error {
			return errorOf(gas.PipeLoss(g, x, gas.Bore{BoreMM: 500, LengthM: 1}))
		}},
		{"PurgeVolumeM3", "volumes to purge", 1, 10, "", func(x float64) error {
			return errorOf(gas.PurgeVolumeM3(0.01, x))
		}},
		{"LeakRateM3PerHour", "pressure drop", 0, 1000, "mbar", func(x float64) error {
			return errorOf(gas.LeakRateM3PerHour(0.01, x, 120))
		}},
		{"LeakRateM3PerHour", "test time", 1, 86400, "s", func(x float64) error {
			return errorOf(gas.LeakRateM3PerHour(0.01, 1, x))
		}},
		{"CorrugatedPipe", "nominal size of corrugated pipe", 5, 100, "mm", func(x float64) error {
			return errorOf(gas.CorrugatedPipe(x, 0.0004))
		}},
		{"CorrugatedPipe", "stated volume of corrugated pipe", 0.00001, 0.01, "m3/m", func(x float64) error {
			return errorOf(gas.CorrugatedPipe(22, x))
		}},
		{"SlopeMMPerM", "slope", 0, 45, "°", func(x float64) error { return errorOf(gas.SlopeMMPerM(x)) }},
		{"EquivalentFlueLengthM", "flue route", 0, 1000, "m", func(x float64) error {
			return errorOf(gas.EquivalentFlueLengthM(x, nil))
		}},
		{"EquivalentFlueLengthM", "number of flue bends", 0, 100, "", func(x float64) error {
			return errorOf(gas.EquivalentFlueLengthM(1, []gas.FlueBend{{Count: x, EquivalentM: 1}}))
		}},
		{"EquivalentFlueLengthM", "equivalent length of a flue bend", 0, 20, "m", func(x float64) error {
			return errorOf(gas.EquivalentFlueLengthM(1, []gas.FlueBend{{Count: 1, EquivalentM: x}}))
		}},
		{"TerminalClearanceOf", "net heat input", 0, 70, "kW", func(x float64) error {
			return errorOf(gas.TerminalClearanceOf("A", gas.BalancedNatural, x))
		}},
		{"FreeAreaForOpenFlueCm2", "net heat input", 0, 70, "kW", func(x float64) error {
			return errorOf(gas.FreeAreaForOpenFlueCm2(x, false))
		}},
		{"CompartmentAreaOf", "net heat input", 0, 70, "kW", func(x float64) error {
			return errorOf(gas.CompartmentAreaOf(true, true, x))
		}},
	}
}

// Both ends of a stated range are accepted, the next number beyond is refused
// with an error that names quantity, value, range and unit.
func TestStatedRangesHoldAtBothEnds(t *testing.T) {
	seen := map[string]bool{}
	for _, group := range [][]accepted{combustionRanges(), heatRanges(), waterRanges(), pipeRanges()} {
		for _, c := range group {
			name := c.function + ", " + c.quantity
			if seen[name] {
				t.Errorf("%s: twice", name)
			}
			seen[name] = true
			for _, x := range []float64{c.min, c.max, (c.min + c.max) / 2} {
				if err := c.call(x); err != nil {
					t.Errorf("%s: %g is refused: %v", name, x, err)
				}
			}
			for _, x := range []float64{math.Nextafter(c.min, math.Inf(-1)), math.Nextafter(c.max, math.Inf(1)),
				math.NaN(), math.Inf(1), math.Inf(-1)} {
				var re *gas.RangeError
				err := c.call(x)
				if !errors.As(err, &re) {
					t.Errorf("%s: %g gives %v, want a RangeError", name, x, err)
					continue
				}
				same := re.Value == x || math.IsNaN(re.Value) && math.IsNaN(x)
				if re.Quantity != c.quantity || re.Unit != c.unit || re.Min != c.min || re.Max != c.max || !same {
					t.Errorf("%s: %g gives %+v, want %g to %g %s", name, x, *re, c.min, c.max, c.unit)
				}
			}
		}
	}
	if len(seen) < 75 {
		t.Errorf("only %d ranges", len(seen))
	}
}

func TestRangeErrorsReadAsASentence(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{errorOf(gas.StaticHeadBar(501)), "height of the system 501 m is outside 0 to 500 m"},
		{errorOf(gas.GasRateFt3PerHour(1, 0, 60)), "turns of the test dial 0 is outside 1 to 10000"},
		{errorOf(gas.WaterKW(math.NaN(), 30)), "water flow NaN l/min is outside 0 to 10000 l/min"},
		{errorOf(gas.StaticHeadBar(501.23456789)), "height of the system 501.235 m is outside 0 to 500 m"},
		{errorOf(gas.StaticHeadBar(500.000000001)), "height of the system 500.000000001 m is outside 0 to 500 m"},
		{errorOf(gas.DigitPercent(0.01, 0.005)), "gas passed 0.005 m3 is outside 0.01 to 1000 m3"},
	} {
		if got := fmt.Sprint(c.err); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
