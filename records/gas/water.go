package gas

// Rules of thumb for the water in a heating system, in litres.
// Sources: a boiler manual, a chemical maker and a general page (all M); the
// user's own figure comes first.
const (
	LitresPerPanelCautious = 10.0 // one radiator panel; a store up to 100 l included
	LitresPerKWSmall       = 6.0  // small domestic or microbore
	LitresPerKWSteelPanels = 11.0
	LitresPerKWCastIron    = 14.0
	LitresPerKWUnderfloor  = 23.0
)

// SystemLitresFromPanels estimates the water in a system from its radiator
// panels: single ones (0 to 1000) and double ones, which count twice, at
// litresPerPanel (1 to 50). Errors: *RangeError. Source: see the constants.
func SystemLitresFromPanels(single, double, litresPerPanel float64) (float64, error) {
	if err := first(
		within("single panel radiators", single, 0, 1000, ""),
		within("double panel radiators", double, 0, 1000, ""),
		within("litres per panel", litresPerPanel, 1, 50, "l"),
	); err != nil {
		return 0, err
	}
	return (single + float64(2*double)) * litresPerPanel, nil
}

// SystemLitresFromKW estimates it from the heat output (0 to 100 000 kW) at
// litresPerKW (0.5 to 50). Errors: *RangeError. Source: see the constants.
func SystemLitresFromKW(kw, litresPerKW float64) (float64, error) {
	if err := first(withinKW("heat output", kw), within("litres per kW", litresPerKW, 0.5, 50, "l/kW")); err != nil {
		return 0, err
	}
	return kw * litresPerKW, nil
}

// WaterDensityKgPerM3 is the density of water at atmospheric pressure, 0 to
// 120 °C. Errors: *RangeError. Source: Kell's equation (1975); within 0.05 %
// of IAPWS-IF97 (testdata/gas/water_iapws.csv).
func WaterDensityKgPerM3(temperatureC float64) (float64, error) {
	if err := within("water temperature", temperatureC, 0, 120, "°C"); err != nil {
		return 0, err
	}
	t := temperatureC
	sum := 0.0
	for _, c := range [...]float64{-280.54253e-12, 105.56302e-9, -46.170461e-6, -7.9870401e-3, 16.945176, 999.83952} {
		sum = float64(sum*t) + c
	}
	return sum / (1 + float64(16.879850e-3*t)), nil
}

// WaterExpansionPercent is how much water grows between a fill temperature and
// a higher operating temperature (both 0 to 120 °C), in percent of the cold
// volume. Errors: *RangeError. Source: ratio of densities.
func WaterExpansionPercent(coldC, hotC float64) (float64, error) {
	cold, err := WaterDensityKgPerM3(coldC)
	if err != nil {
		return 0, err
	}
	if err := within("operating temperature", hotC, coldC, 120, "°C"); err != nil {
		return 0, err
	}
	hot, err := WaterDensityKgPerM3(hotC)
	if err != nil {
		return 0, err
	}
	return 100 * (cold/hot - 1), nil
}

// barPerAtmosphere is added to a gauge pressure; the vessel tables use it.
const barPerAtmosphere = 1.013

// VesselAcceptance is the share of a vessel's volume that can take up
// expanded water: p0 (1/pi - 1/pf) in absolute pressures, which is
// 1 - pi/pf when the charge equals the cold fill pressure. Gauge bar: charge 0
// to 10, fill from charge to 10, final up to 15 and at least 0.05 above fill.
// Errors: *RangeError. Source: BS 7074-1 and EN 12828 family (M), Boyle's law.
func VesselAcceptance(chargeBar, fillBar, finalBar float64) (float64, error) {
	if err := within("vessel charge", chargeBar, 0, 10, "bar"); err != nil {
		return 0, err
	}
	if err := within("cold fill pressure", fillBar, chargeBar, 10, "bar"); err != nil {
		return 0, err
	}
	if err := within("final pressure", finalBar, fillBar+0.05, 15, "bar"); err != nil {
		return 0, err
	}
	p0, pi, pf := chargeBar+barPerAtmosphere, fillBar+barPerAtmosphere, finalBar+barPerAtmosphere
	return p0 * (1/pi - 1/pf), nil
}

// VesselLitres is the expansion vessel that a system needs: expansion of the
// system water (0 to 100 000 l at 0 to 10 %) plus a reserve (0 to 1000 l),
// over the acceptance (0.01 to 1). Manufacturers' tables differ by up to
// 30 %: their figure comes first. Errors: *RangeError. Source: as VesselAcceptance.
func VesselLitres(systemLitres, expansionPercent, reserveLitres, acceptance float64) (float64, error) {
	if err := first(
		withinSystem(systemLitres),
		within("expansion of water", expansionPercent, 0, 10, "%"),
		within("reserve", reserveLitres, 0, 1000, "l"),
		within("acceptance of the vessel", acceptance, 0.01, 1, ""),
	); err != nil {
		return 0, err
	}
	return (float64(systemLitres*expansionPercent)/100 + reserveLitres) / acceptance, nil
}

// StaticHeadBar is the pressure of a column of cold water 0 to 500 m high:
// 1 bar for 10.2 m. The vessel charge must not be below it.
// Errors: *RangeError. Source: hydrostatics.
func StaticHeadBar(heightM float64) (float64, error) {
	if err := within("height of the system", heightM, 0, 500, "m"); err != nil {
		return 0, err
	}
	return heightM / 10.2, nil
}

// DosePercent is the inhibitor added (0 to 1000 l) in percent of the system
// water (1 to 100 000 l). Compare it with the product's own figure only.
// Errors: *RangeError.
func DosePercent(productLitres, systemLitres float64) (float64, error) {
	if err := first(
		within("inhibitor added", productLitres, 0, 1000, "l"),
		within("system volume", systemLitres, 1, 100000, "l"),
	); err != nil {
		return 0, err
	}
	return 100 * productLitres / systemLitres, nil
}

// DissolvedSolidsChangePercent is how far the dissolved solids of the system
// water stand above (or below) those of the cold main (1 to 20 000 mg/l) after
// flushing, system 0 to 100 000 mg/l. Errors: *RangeError.
func DissolvedSolidsChangePercent(mains, system float64) (float64, error) {
	if err := first(
		within("dissolved solids of the cold main", mains, 1, 20000, "mg/l"),
		within("dissolved solids of the system", system, 0, 100000, "mg/l"),
	); err != nil {
		return 0, err
	}
	return 100 * (system - mains) / mains, nil
}

func withinSystem(litres float64) error {
	return within("system volume", litres, 0, 100000, "l")
}
