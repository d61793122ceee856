package gas

// Antoine's equation for water, log10(p/mmHg) = a - b/(c + t), 1 to 100 °C.
const (
	antoineA      = 8.07131
	antoineB      = 1730.63
	antoineC      = 233.426
	mbarPerMmHg   = 1013.25 / 760
	maxExcessAir  = 2000.0 // percent; above it nothing measures as flue gas
	normalLowMbar = 800.0  // atmospheric pressure, absolute
	normalTopMbar = 1100.0
)

// SaturationMbar is the absolute vapour pressure of water, 0 to 110 °C.
// Errors: *RangeError. Source: Antoine equation, within 1 % of IAPWS-IF97
// (testdata/gas/water_iapws.csv).
func SaturationMbar(temperatureC float64) (float64, error) {
	if err := within("water temperature", temperatureC, 0, 110, "°C"); err != nil {
		return 0, err
	}
	return saturationMbar(temperatureC), nil
}

func saturationMbar(t float64) float64 {
	return float64(mbarPerMmHg * exp(ln10*(antoineA-antoineB/(antoineC+t))))
}

// Products are the products of complete combustion with excess dry air.
type Products struct {
	AirM3PerM3    float64 // dry air used
	DryM3PerM3    float64 // dry products
	CO2DryPercent float64
	O2DryPercent  float64
	CO2WetPercent float64
	WaterPercent  float64 // of the wet products
	WaterKgPerKWh float64 // formed, per kWh of gross heat input
	DewPointC     float64 // of the wet products
}

// ProductsAt burns a fuel with a true excess air of 0 to 2000 % at an absolute
// atmospheric pressure of 800 to 1100 mbar. Air humidity is ignored: it raises
// the dew point by about 1 K. Errors: *RangeError. Source: stoichiometry;
// dew point by Antoine's equation.
func (f Fuel) ProductsAt(excessAirPercent, atmosphericMbar float64) (Products, error) {
	s := f.Stoichiometry
	if err := first(
		s.check(),
		within("water from the fuel", s.H2O, 0.01, 50, "mol/mol"),
		within("excess air", excessAirPercent, 0, maxExcessAir, "%"),
		within("atmospheric pressure", atmosphericMbar, normalLowMbar, normalTopMbar, "mbar"),
		within("gross calorific value of the fuel", f.GrossMJPerM3, 1, 500, "MJ/m3"),
		within("compression factor of the fuel", f.CompressionFactor, 0.5, 1.1, ""),
	); err != nil {
		return Products{}, err
	}
	extra := s.Air * excessAirPercent / 100
	p := Products{AirM3PerM3: s.Air + extra, DryM3PerM3: s.DryProducts + extra}
	wet := p.DryM3PerM3 + s.H2O
	p.CO2DryPercent = 100 * s.CO2 / p.DryM3PerM3
	p.O2DryPercent = extra * AirO2Percent / p.DryM3PerM3
	p.CO2WetPercent = 100 * s.CO2 / wet
	p.WaterPercent = 100 * s.H2O / wet
	// A real cubic metre of fuel holds 1/Z of the ideal number of moles.
	molPerM3 := 1000 / molarVolumeLitres / f.CompressionFactor
	p.WaterKgPerKWh = s.H2O * molPerM3 * waterMolarMass / 1000 / (f.GrossMJPerM3 / 3.6)
	p.DewPointC = antoineB/(antoineA-log10(p.WaterPercent/100*atmosphericMbar/mbarPerMmHg)) - antoineC
	if err := within("dew point", p.DewPointC, -60, 100, "°C"); err != nil {
		return Products{}, err
	}
	return p, nil
}

// DewPointC is the dew point of the fuel's products at a dry O2 reading of 0
// to 20 %, at 1013.25 mbar. Errors: *RangeError.
func (f Fuel) DewPointC(o2Percent float64) (float64, error) {
	p, err := f.productsAtO2(o2Percent)
	return p.DewPointC, err
}

func (f Fuel) productsAtO2(o2Percent float64) (Products, error) {
	if err := within("flue oxygen", o2Percent, 0, 20, "%"); err != nil {
		return Products{}, err
	}
	excess, err := f.Stoichiometry.ExcessAirPercent(o2Percent)
	if err != nil {
		return Products{}, err
	}
	return f.ProductsAt(excess, ReferenceMbar)
}

// Condensation is what cooling the products below their dew point gives.
type Condensation struct {
	DewPointC      float64
	Share          float64 // of the water formed, 0 to 1
	GainNetPercent float64 // latent heat gained, percent of net heat input
	KgPerKWh       float64 // condensate per kWh of gross heat input
}

// CondensationAt assumes that the products leave saturated at the flue
// temperature (0 to 600 °C) with a dry O2 of 0 to 20 %: what can condense at
// best. Above the dew point everything is 0. Errors: *RangeError.
// Source: derived from the stoichiometry and the vapour pressure of water.
func (f Fuel) CondensationAt(o2Percent, flueC float64) (Condensation, error) {
	p, err := f.productsAtO2(o2Percent)
	if err != nil {
		return Condensation{}, err
	}
	if err := first(
		within("flue temperature", flueC, 0, 600, "°C"),
		f.checkRatio(),
	); err != nil {
		return Condensation{}, err
	}
	c := Condensation{DewPointC: p.DewPointC}
	if flueC >= p.DewPointC {
		return c, nil
	}
	psat := saturationMbar(flueC)
	vapour := p.DryM3PerM3 * psat / (ReferenceMbar - psat)
	c.Share = max(0, 1-vapour/f.Stoichiometry.H2O)
	// The whole latent heat is the difference of gross and net value.
	c.GainNetPercent = c.Share * 100 * (f.GrossNetRatio - 1)
	c.KgPerKWh = c.Share * p.WaterKgPerKWh
	return c, nil
}

// AirFactorFromProducts is air used over air needed from a full dry analysis
// of CO2 (0.1 to 25 %), O2 (0 to 20.8 %) and CO (0 to 10 %), by the carbon
// balance, for a fuel without nitrogen. airO2Percent as StoichiometryOf.
// It also gives the air in mol per mol of fuel. Errors: *RangeError.
// Source: conservation of atoms; thermodynamics textbooks.
func (s Stoichiometry) AirFactorFromProducts(co2, o2, co, airO2Percent float64) (factor, airMolPerMol float64,
	err error) {
	if err := first(
		s.check(),
		within("carbon dioxide from the fuel", s.CO2, 0.1, 50, "mol/mol"),
		within("oxygen that the fuel needs", s.O2, 0.05, 50, "mol/mol"),
		within("flue carbon dioxide", co2, 0.1, 25, "%"),
		withinFlueO2(o2),
		within("flue carbon monoxide", co, 0, 10, "%"),
		within("oxygen in air", airO2Percent, 20, 21.5, "%"),
	); err != nil {
		return 0, 0, err
	}
	nitrogen := 100 - co2 - o2 - co
	airMolPerMol = nitrogen / (100 - airO2Percent) * 100 * s.CO2 / (co2 + co)
	return airMolPerMol * airO2Percent / 100 / s.O2, airMolPerMol, nil
}
