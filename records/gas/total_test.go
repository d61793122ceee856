package gas_test

import (
	"errors"
	"go/ast"
	"go/build"
	"go/parser"
	"go/token"
	"maps"
	"math"
	"reflect"
	"slices"
	"testing"

	"gaugebook/records/gas"

	"pgregory.net/rapid"
)

// total is one exported function with arguments that it accepts. The tests
// below spoil some of them and look at what comes out.
type total struct {
	valid []float64
	call  func(a []float64) (any, error)
}

// numbers are functions of plain numbers only.
func one(f func(float64) (float64, error), valid ...float64) total {
	return total{valid, func(a []float64) (any, error) { return f(a[0]) }}
}

func two(f func(_, _ float64) (float64, error), valid ...float64) total {
	return total{valid, func(a []float64) (any, error) { return f(a[0], a[1]) }}
}

func three(f func(_, _, _ float64) (float64, error), valid ...float64) total {
	return total{valid, func(a []float64) (any, error) { return f(a[0], a[1], a[2]) }}
}

// four also takes what returns a struct.
func four[T any](f func(_, _, _, _ float64) (T, error), valid ...float64) total {
	return total{valid, func(a []float64) (any, error) { return f(a[0], a[1], a[2], a[3]) }}
}

// spoiltFuel is methane with the data that functions read taken from a.
func spoiltFuel(a []float64) gas.Fuel {
	f, _ := gas.FuelByCode(gas.NaturalGas)
	f.GrossNetRatio, f.GrossMJPerM3, f.CompressionFactor = a[0], a[1], a[2]
	f.DensityKgPerM3, f.ViscosityPaS = a[3], a[4]
	f.Stoichiometry = spoiltStoichiometry(a[5:])
	f.Siegert = spoiltSiegert(a[10:])
	return f
}

func spoiltStoichiometry(a []float64) gas.Stoichiometry {
	return gas.Stoichiometry{O2: a[0], Air: a[1], CO2: a[2], H2O: a[3], DryProducts: a[4]}
}

func spoiltSiegert(a []float64) gas.SiegertConstants {
	return gas.SiegertConstants{A1: a[0], A2: a[1], B: a[2], CondensingLimitC: a[3], CondensingGainPercent: a[4]}
}

var (
	goodStoichiometry = []float64{2, 9.547, 1, 2, 8.547}
	goodSiegert       = []float64{0.37, 0.66, 0.009, 58, 9.6}
	goodFuel          = slices.Concat([]float64{1.11, 37.8, 0.998, 0.68, 1.08e-5}, goodStoichiometry, goodSiegert)
)

func ofFuel[T any](f func(fuel gas.Fuel, a []float64) (T, error), valid ...float64) total {
	n := len(valid)
	return total{slices.Concat(valid, goodFuel), func(a []float64) (any, error) {
		return f(spoiltFuel(a[n:]), a)
	}}
}

func mixtureOf(a []float64) gas.Mixture {
	c := gas.Component{Symbol: "X", MolarMass: a[1], GrossKJPerMol: a[2], SummationFactor: a[3], C: a[4], H: a[5],
		N: a[6], O: a[7]}
	methane, _ := gas.ComponentBySymbol("CH4")
	return gas.Mixture{{Component: c, Fraction: a[0]}, {Component: methane, Fraction: a[8]}}
}

func pipeOf(a []float64) gas.Pipe {
	return gas.Pipe{BoreMM: a[0], RoughnessMM: a[1], TabulatedM3PerM: a[2]}
}

var goodMixture = []float64{0.5, 16, 890, 0.04, 1, 4, 0, 0, 0.5}

func totals() map[string]total {
	all := map[string]total{}
	for _, group := range []map[string]total{fuelTotals(), combustionTotals(), pipeTotals(), heatTotals(),
		waterTotals(), uncertaintyTotals()} {
		maps.Copy(all, group)
	}
	return all
}

func fuelTotals() map[string]total {
	return map[string]total{
		"StoichiometryOf": {append(slices.Clone(goodMixture), 20.95), func(a []float64) (any, error) {
			return gas.StoichiometryOf(mixtureOf(a), a[9])
		}},
		"PropertiesOf": {goodMixture, func(a []float64) (any, error) { return gas.PropertiesOf(mixtureOf(a)) }},
		"Fuel.NetFromGrossKW": ofFuel(func(f gas.Fuel, a []float64) (float64, error) {
			return f.NetFromGrossKW(a[0])
		}, 24),
		"Fuel.GrossFromNetKW": ofFuel(func(f gas.Fuel, a []float64) (float64, error) {
			return f.GrossFromNetKW(a[0])
		}, 24),
		"Fuel.At": ofFuel(func(f gas.Fuel, a []float64) (gas.FlowingGas, error) { return f.At(a[0]) }, 21),
	}
}

func combustionTotals() map[string]total {
	return map[string]total{
		"CO2FromO2Percent":           two(gas.CO2FromO2Percent, 5, 11.7),
		"ExcessAirInstrumentPercent": one(gas.ExcessAirInstrumentPercent, 5),
		"Stoichiometry.ExcessAirPercent": {append([]float64{5}, goodStoichiometry...), func(a []float64) (any, error) {
			return spoiltStoichiometry(a[1:]).ExcessAirPercent(a[0])
		}},
		"RatioCOToCO2": two(gas.RatioCOToCO2, 40, 9),
		"COAtO2PPM":    three(gas.COAtO2PPM, 100, 5, 3),
		"COAirFreePPM": two(gas.COAirFreePPM, 100, 5),
		"SiegertConstants.LossFromCO2Percent": {append([]float64{9, 150, 20}, goodSiegert...),
			func(a []float64) (any, error) {
				return spoiltSiegert(a[3:]).LossFromCO2Percent(a[0], a[1], a[2])
			}},
		"SiegertConstants.LossFromO2Percent": {append([]float64{5, 150, 20, 21}, goodSiegert...),
			func(a []float64) (any, error) {
				return spoiltSiegert(a[4:]).LossFromO2Percent(a[0], a[1], a[2], a[3])
			}},
		"Fuel.InstrumentEfficiency": ofFuel(func(f gas.Fuel, a []float64) (gas.Efficiency, error) {
			return f.InstrumentEfficiency(a[0], a[1], a[2])
		}, 2, 5, 50),
		"Fuel.ProductsAt": ofFuel(func(f gas.Fuel, a []float64) (gas.Products, error) {
			return f.ProductsAt(a[0], a[1])
		}, 25, 1013),
		"Fuel.DewPointC": ofFuel(func(f gas.Fuel, a []float64) (float64, error) { return f.DewPointC(a[0]) }, 5),
		"Fuel.CondensationAt": ofFuel(func(f gas.Fuel, a []float64) (gas.Condensation, error) {
			return f.CondensationAt(a[0], a[1])
		}, 5, 40),
	}
}

func pipeTotals() map[string]total {
	return map[string]total{
		"CorrugatedPipe": {[]float64{22, 0.0004}, func(a []float64) (any, error) {
			return gas.CorrugatedPipe(a[0], a[1])
		}},
		"Pipe.BoreM3PerM": {[]float64{20, 0.001, 0.0003}, func(a []float64) (any, error) {
			return pipeOf(a).BoreM3PerM()
		}},
		"Pipe.VolumeM3PerM": {[]float64{20, 0.001, 0.0003}, func(a []float64) (any, error) {
			return pipeOf(a).VolumeM3PerM()
		}},
		"InstallationVolumeOf": {[]float64{20, 0.001, 0.0003, 9, 0.008}, func(a []float64) (any, error) {
			run := gas.PipeRun{Pipe: pipeOf(a), LengthM: a[3]}
			return gas.InstallationVolumeOf(gas.Meter{M3: a[4]}, []gas.PipeRun{run, run})
		}},
		"PurgeVolumeM3":             two(gas.PurgeVolumeM3, 0.02, 1.5),
		"LeakRateM3PerHour":         three(gas.LeakRateM3PerHour, 0.01, 4, 120),
		"TemperatureEffectMbarPerK": two(gas.TemperatureEffectMbarPerK, 21, 15),
		"PipeLoss": {[]float64{0.7, 1.1e-5, 2.5, 20, 0.0015, 9}, func(a []float64) (any, error) {
			return gas.PipeLoss(gas.FlowingGas{DensityKgPerM3: a[0], ViscosityPaS: a[1]}, a[2],
				gas.Bore{BoreMM: a[3], RoughnessMM: a[4], LengthM: a[5]})
		}},
		"RunLossOf": {[]float64{20, 0.0015, 0.0003, 9, 1, 2.5, 0.7, 1.1e-5}, func(a []float64) (any, error) {
			s := gas.Segment{Pipe: pipeOf(a), LengthM: a[3], FittingsM: a[4], FlowM3PerHour: a[5]}
			return gas.RunLossOf(gas.FlowingGas{DensityKgPerM3: a[6], ViscosityPaS: a[7]}, []gas.Segment{s, s})
		}},
		"EquivalentFlueLengthM": {[]float64{4, 2, 1}, func(a []float64) (any, error) {
			return gas.EquivalentFlueLengthM(a[0], []gas.FlueBend{{Count: a[1], EquivalentM: a[2]}})
		}},
		"SlopeMMPerM": one(gas.SlopeMMPerM, 2.5),
		"TerminalClearanceOf": {[]float64{24}, func(a []float64) (any, error) {
			return gas.TerminalClearanceOf("A", gas.BalancedNatural, a[0])
		}},
		"FreeAreaForOpenFlueCm2": {[]float64{20}, func(a []float64) (any, error) {
			return gas.FreeAreaForOpenFlueCm2(a[0], false)
		}},
		"CompartmentAreaOf": {[]float64{20}, func(a []float64) (any, error) {
			return gas.CompartmentAreaOf(true, true, a[0])
		}},
	}
}

func heatTotals() map[string]total {
	return map[string]total{
		"GasRateM3PerHour":  two(gas.GasRateM3PerHour, 0.04, 120),
		"GasRateFt3PerHour": three(gas.GasRateFt3PerHour, 1, 1, 80),
		"M3FromFt3":         one(gas.M3FromFt3, 3),
		"HeatInputGrossKW":  two(gas.HeatInputGrossKW, 1.2, 39),
		"GasRateForGrossKW": two(gas.GasRateForGrossKW, 24, 39),
		"BilledKWh":         two(gas.BilledKWh, 2, 39),
		"DigitPercent":      two(gas.DigitPercent, 0.001, 0.037),
		"WaterKW":           two(gas.WaterKW, 10, 35),
		"HeatBalanceOf":     four(gas.HeatBalanceOf, 30, 27, 3, 4),
	}
}

func waterTotals() map[string]total {
	return map[string]total{
		"SystemLitresFromPanels":       three(gas.SystemLitresFromPanels, 6, 5, 7),
		"SystemLitresFromKW":           two(gas.SystemLitresFromKW, 24, 6),
		"WaterDensityKgPerM3":          one(gas.WaterDensityKgPerM3, 60),
		"WaterExpansionPercent":        two(gas.WaterExpansionPercent, 10, 82),
		"VesselAcceptance":             three(gas.VesselAcceptance, 1, 1.2, 2.65),
		"VesselLitres":                 four(gas.VesselLitres, 100, 3, 1, 0.4),
		"StaticHeadBar":                one(gas.StaticHeadBar, 6),
		"DosePercent":                  two(gas.DosePercent, 0.5, 125),
		"DissolvedSolidsChangePercent": two(gas.DissolvedSolidsChangePercent, 300, 329),
	}
}

// anyFloat is every kind of number that could be typed, sent or computed.
func anyFloat() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, math.Copysign(0, -1), 1, -1,
			math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, 20.8, 20.9, 20.95, 21, 1e-6, 1e6}),
		rapid.Float64(),
		rapid.Float64Range(-5, 30),
		rapid.Float64Range(0, 1200),
	)
}

func TestNoFunctionReturnsNaNOrInfinity(t *testing.T) {
	for name, f := range totals() {
		t.Run(name, func(t *testing.T) {
			if got, err := f.call(f.valid); err != nil || !allFinite(reflect.ValueOf(got)) {
				t.Fatalf("%v: %v (%v)", f.valid, got, err)
			}
			refused := 0
			rapid.Check(t, func(t *rapid.T) {
				a := slices.Clone(f.valid)
				for range rapid.IntRange(1, min(3, len(a))).Draw(t, "spoilt") {
					a[rapid.IntRange(0, len(a)-1).Draw(t, "which")] = anyFloat().Draw(t, "value")
				}
				got, err := f.call(a)
				if err != nil {
					refused++
					checkRefusal(t, got, err)
				} else if !allFinite(reflect.ValueOf(got)) {
					t.Fatalf("%v gives %+v", a, got)
				}
			})
			if refused == 0 {
				t.Error("no input was ever refused")
			}
		})
	}
}

// checkRefusal wants a RangeError that makes sense, and no number beside it.
func checkRefusal(t *rapid.T, got any, err error) {
	var re *gas.RangeError
	if !errors.As(err, &re) {
		t.Fatalf("error %v is no RangeError", err)
	}
	if re.Quantity == "" || !(re.Min <= re.Max) || math.IsInf(re.Min, 0) || math.IsInf(re.Max, 0) ||
		(re.Value >= re.Min && re.Value <= re.Max) {
		t.Fatalf("senseless range error %+v", re)
	}
	if v := reflect.ValueOf(got); v.Kind() == reflect.Slice {
		for i := range v.Len() {
			if !v.Index(i).IsZero() {
				t.Fatalf("error %v beside the number %v", err, got)
			}
		}
	} else if !v.IsZero() {
		t.Fatalf("error %v beside the number %v", err, got)
	}
}

// allFinite walks structs and slices.
func allFinite(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Float64:
		return !math.IsNaN(v.Float()) && !math.IsInf(v.Float(), 0)
	case reflect.Struct:
		for i := range v.NumField() {
			if !allFinite(v.Field(i)) {
				return false
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			if !allFinite(v.Index(i)) {
				return false
			}
		}
	}
	return true
}

// Every exported function that can fail must be in the table above, so that a
// new one cannot escape the test.
func TestTableOfFunctionsIsComplete(t *testing.T) {
	pkg, err := build.ImportDir(".", 0)
	if err != nil {
		t.Fatal(err)
	}
	known, found := totals(), 0
	for _, name := range pkg.GoFiles {
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || !f.Name.IsExported() || !returnsError(f) {
				continue
			}
			name := f.Name.Name
			if f.Recv != nil {
				name = f.Recv.List[0].Type.(*ast.Ident).Name + "." + name
			}
			found++
			if _, ok := known[name]; !ok {
				t.Errorf("%s is not in the table", name)
			}
		}
	}
	if found != len(known) {
		t.Errorf("%d functions found, %d in the table", found, len(known))
	}
}

func returnsError(f *ast.FuncDecl) bool {
	if f.Type.Results == nil {
		return false
	}
	results := f.Type.Results.List
	id, ok := results[len(results)-1].Type.(*ast.Ident)
	return ok && id.Name == "error"
}
