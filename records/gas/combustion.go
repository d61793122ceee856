package gas

// Oxygen contents that conventions divide by. An instrument takes air as
// 20.9 %, the loss formulae as 21 %; AirO2Percent is the physical one.
const (
	InstrumentO2Percent = 20.9
	SiegertO2Percent    = 21.0
	// maxFlueO2Percent keeps formulae with (20.9 - O2) below the line finite:
	// one step of a 0.1 % display below fresh air.
	maxFlueO2Percent = 20.8
	minFlueCO2       = 0.01
	maxCOPPM         = 100000.0
)

// CO2FromO2Percent is the dry CO2 that belongs to a dry O2 reading (0 to
// 20.9 %) for complete combustion: CO2max (20.9 - O2)/20.9. CO2max 1 to 25 %;
// it is 11.7 for methane, up to 11.9 for distributed natural gas, 13.7 for
// propane: an instrument's own choice shifts the result by up to 0.2 %.
// Errors: *RangeError. Source: common practice, as printed in analyser manuals.
func CO2FromO2Percent(o2Percent, co2MaxPercent float64) (float64, error) {
	if err := first(
		within("flue oxygen", o2Percent, 0, InstrumentO2Percent, "%"),
		withinCO2Max(co2MaxPercent),
	); err != nil {
		return 0, err
	}
	return co2MaxPercent * ((InstrumentO2Percent - o2Percent) / InstrumentO2Percent), nil // never above CO2max
}

// ExcessAirInstrumentPercent is the excess air as analysers print it,
// 100 O2/(20.9 - O2), for dry O2 of 0 to 20.8 %. It reads high: a true 25 % on
// methane shows as 28 %. Errors: *RangeError. Source: common practice.
func ExcessAirInstrumentPercent(o2Percent float64) (float64, error) {
	if err := withinFlueO2(o2Percent); err != nil {
		return 0, err
	}
	return 100 * o2Percent / (InstrumentO2Percent - o2Percent), nil
}

// ExcessAirPercent is the true excess air for complete combustion of the fuel
// with dry air, from dry O2 of 0 to 20.8 %. Errors: *RangeError.
// Source: derived from the stoichiometry.
func (s Stoichiometry) ExcessAirPercent(o2Percent float64) (float64, error) {
	if err := first(s.check(), withinFlueO2(o2Percent)); err != nil {
		return 0, err
	}
	return 100 * (s.DryProducts / s.Air) * o2Percent / (AirO2Percent - o2Percent), nil
}

// RatioCOToCO2 is the ratio of carbon monoxide (0 to 100 000 ppm) to carbon
// dioxide (0.01 to 25 %), both as measured; a plain number, to be compared
// unrounded and shown with four decimals. Dilution by air cancels out. Fresh
// air has no ratio: CO2 below 0.01 % is refused. Errors: *RangeError.
// Source: definition, BS 7967.
func RatioCOToCO2(coPPM, co2Percent float64) (float64, error) {
	if err := first(
		withinCO(coPPM),
		within("flue carbon dioxide", co2Percent, minFlueCO2, 25, "%"),
	); err != nil {
		return 0, err
	}
	return coPPM / (co2Percent * 10000), nil
}

// COAtO2PPM restates a CO reading (0 to 100 000 ppm) taken at a dry O2 of 0 to
// 20.8 % as it would be at a reference O2 of 0 to 20 %; 0 gives the air-free
// value, 3 the usual comparison. Errors: *RangeError.
// Source: dilution by air of 20.9 % oxygen, as printed in analyser manuals.
func COAtO2PPM(coPPM, o2Percent, referenceO2Percent float64) (float64, error) {
	if err := first(
		withinCO(coPPM),
		withinFlueO2(o2Percent),
		within("reference oxygen", referenceO2Percent, 0, 20, "%"),
	); err != nil {
		return 0, err
	}
	return coPPM * (InstrumentO2Percent - referenceO2Percent) / (InstrumentO2Percent - o2Percent), nil
}

// COAirFreePPM is COAtO2PPM at 0 % oxygen.
func COAirFreePPM(coPPM, o2Percent float64) (float64, error) {
	return COAtO2PPM(coPPM, o2Percent, 0)
}

func withinFlueO2(o2 float64) error {
	return within("flue oxygen", o2, 0, maxFlueO2Percent, "%")
}

func withinCO2Max(v float64) error {
	return within("greatest carbon dioxide of the fuel", v, 1, 25, "%")
}

func withinCO(ppm float64) error {
	return within("carbon monoxide", ppm, 0, maxCOPPM, "ppm")
}

func (s Stoichiometry) check() error {
	return first(
		within("air need of the fuel", s.Air, 0.2, 250, "mol/mol"),
		within("dry products of the fuel", s.DryProducts, 0.2, 250, "mol/mol"),
		within("water from the fuel", s.H2O, 0, 50, "mol/mol"),
		within("carbon dioxide from the fuel", s.CO2, 0, 50, "mol/mol"),
	)
}
