package gas_test

import "gaugebook/records/gas"

// vesselFactor follows the manual's table: 4.9 % expansion, final pressure
// 0.35 bar below the safety valve.
func vesselFactor(in inputs, litres float64) (float64, error) {
	initial := in.num("initial")
	a, err := gas.VesselAcceptance(initial, initial, in.num("valve")-0.35)
	if err != nil {
		return 0, err
	}
	return gas.VesselLitres(litres, 4.9, 0, a)
}

var waterQuantities = map[string]quantity{
	"saturation-pressure": func(in inputs) (float64, error) { return gas.SaturationMbar(in.num("c")), nil },
	"water-density":       func(in inputs) (float64, error) { return gas.WaterDensityKgPerM3(in.num("c")) },
	"water-expansion": func(in inputs) (float64, error) {
		return gas.WaterExpansionPercent(in.num("cold_c"), in.num("hot_c"))
	},
	"vessel": func(in inputs) (float64, error) {
		return gas.VesselLitres(in.num("litres"), in.num("e"), 0, in.num("acceptance"))
	},
	"vessel-factor":        func(in inputs) (float64, error) { return vesselFactor(in, 1) },
	"vessel-factor-litres": func(in inputs) (float64, error) { return vesselFactor(in, in.num("litres")) },
	"vessel-full": func(in inputs) (float64, error) {
		e, err := gas.WaterExpansionPercent(in.num("cold_c"), in.num("hot_c"))
		if err != nil {
			return 0, err
		}
		a, err := gas.VesselAcceptance(in.num("charge"), in.num("charge"), in.num("final"))
		if err != nil {
			return 0, err
		}
		return gas.VesselLitres(in.num("litres"), e, 0, a)
	},
	"static-head": func(in inputs) (float64, error) { return gas.StaticHeadBar(in.num("m")) },
	"panels": func(in inputs) (float64, error) {
		return gas.SystemLitresFromPanels(in.num("single"), in.num("double"), in.num("per"))
	},
	"litres-from-kw": func(in inputs) (float64, error) { return gas.SystemLitresFromKW(in.num("kw"), in.num("per")) },
	"dose":           func(in inputs) (float64, error) { return gas.DosePercent(in.num("added"), in.num("litres")) },
	"dissolved-solids": func(in inputs) (float64, error) {
		return gas.DissolvedSolidsChangePercent(in.num("mains"), in.num("system"))
	},
	"slope": func(in inputs) (float64, error) { return gas.SlopeMMPerM(in.num("deg")) },
	"condensate": func(in inputs) (float64, error) {
		c, err := in.fuel().CondensationAt(in.num("o2"), in.num("flue"))
		return in.num("kw") * c.KgPerKWh, err // 1 kg to the litre
	},
}
