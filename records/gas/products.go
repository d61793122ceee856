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
