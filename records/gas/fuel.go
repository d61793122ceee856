package gas

// Reference conditions of every volume and calorific value in this package.
const (
	ReferenceC        = 15.0    // gas and combustion temperature
	ReferenceMbar     = 1013.25 // absolute pressure
	AirO2Percent      = 20.95   // oxygen in dry air, used for composition work
	kelvinOffset      = 273.15
	molarVolumeLitres = 23.6449 // ideal gas at 15 °C, 1013.25 mbar (ISO 6976)
	airMolarMass      = 28.9626 // g/mol (ISO 6976)
	airCompression    = 0.99958 // compression factor of air at 15 °C (ISO 6976)
	airDensityKgM3    = 1.2254  // at 15 °C, 1013.25 mbar (ISO 6976)
	// Heat of vaporisation of water at 15 °C, kJ/mol (ISO 6976).
	waterLatentKJPerMol = 44.431
	waterMolarMass      = 18.0153 // g/mol
)

// Component is one gas of a mixture: molar mass in g/mol, molar gross
// calorific value at 15 °C in kJ/mol, summation factor for the compression
// factor at 15 °C, and the atoms that burn or are already oxidised.
//
// Source: ISO 6976:1995 tables 1 to 3, the edition on which the test gases of
// EN 437 rest (from memory, unconfirmed; the EN 437 values that follow from
// them are checked in testdata/gas/fuel.csv).
type Component struct {
	Symbol            string
	MolarMass         float64
	GrossKJPerMol     float64
	SummationFactor   float64
	C, H, N, O        float64
	ViscosityMicroPaS float64 // dynamic, 15 °C, ambient pressure; 0 if not kept
}

// Components lists the gases that the fuels and their checks need.
func Components() []Component {
	return []Component{
		{Symbol: "CH4", MolarMass: 16.043, GrossKJPerMol: 891.56, SummationFactor: 0.0447, C: 1, H: 4, N: 0, O: 0,
			ViscosityMicroPaS: 10.8},
		{Symbol: "C2H6", MolarMass: 30.070, GrossKJPerMol: 1562.14, SummationFactor: 0.0922, C: 2, H: 6, N: 0, O: 0,
			ViscosityMicroPaS: 0},
		{Symbol: "C3H8", MolarMass: 44.097, GrossKJPerMol: 2221.10, SummationFactor: 0.1338, C: 3, H: 8, N: 0, O: 0,
			ViscosityMicroPaS: 7.9},
		{Symbol: "n-C4H10", MolarMass: 58.123, GrossKJPerMol: 2879.76, SummationFactor: 0.1871, C: 4, H: 10, N: 0,
			O: 0, ViscosityMicroPaS: 7.2},
		{Symbol: "i-C4H10", MolarMass: 58.123, GrossKJPerMol: 2870.58, SummationFactor: 0.1789, C: 4, H: 10, N: 0,
			O: 0, ViscosityMicroPaS: 7.3},
		{Symbol: "H2", MolarMass: 2.0159, GrossKJPerMol: 286.15, SummationFactor: -0.0048, C: 0, H: 2, N: 0, O: 0,
			ViscosityMicroPaS: 0},
		{Symbol: "N2", MolarMass: 28.0135, GrossKJPerMol: 0, SummationFactor: 0.0173, C: 0, H: 0, N: 2, O: 0,
			ViscosityMicroPaS: 0},
		{Symbol: "CO2", MolarMass: 44.010, GrossKJPerMol: 0, SummationFactor: 0.0748, C: 1, H: 0, N: 0, O: 2,
			ViscosityMicroPaS: 0},
	}
}

// ComponentBySymbol finds a component; false if it is not one of ours.
func ComponentBySymbol(symbol string) (Component, bool) {
	for _, c := range Components() {
		if c.Symbol == symbol {
			return c, true
		}
	}
	return Component{}, false
}

// Share is a component and its mole fraction, 0 to 1.
type Share struct {
	Component Component
	Fraction  float64
}

// Mixture is a dry gas by mole fractions that add up to 1.
type Mixture []Share

// Properties follow from a composition. Volumes are dry, real gas, at 15 °C
// and 1013.25 mbar.
type Properties struct {
	MolarMass         float64 // g/mol
	CompressionFactor float64 // Z, plain number
	RelativeDensity   float64 // to dry air, plain number
	DensityKgPerM3    float64
	GrossMJPerM3      float64
	NetMJPerM3        float64
	GrossWobbeMJPerM3 float64
	NetWobbeMJPerM3   float64
	GrossNetRatio     float64 // gross over net calorific value, above 1
	Stoichiometry     Stoichiometry
}

// Stoichiometry is the complete combustion of one mole of fuel with just
// enough dry air; the same numbers hold for volumes of ideal gas (m3/m3).
type Stoichiometry struct {
	O2, Air, CO2, H2O, N2 float64 // mol per mol of fuel
	DryProducts           float64 // CO2 + N2
	WetProducts           float64 // DryProducts + H2O
	CO2MaxPercent         float64 // of the dry products
}

func (m Mixture) check() error {
	total := 0.0
	for _, s := range m {
		c := s.Component
		if err := first(
			within("mole fraction of "+c.Symbol, s.Fraction, 0, 1, ""),
			within("molar mass of "+c.Symbol, c.MolarMass, 1, 500, "g/mol"),
			within("molar calorific value of "+c.Symbol, c.GrossKJPerMol, 0, 20000, "kJ/mol"),
			within("summation factor of "+c.Symbol, c.SummationFactor, -0.1, 0.5, ""),
			within("carbon atoms of "+c.Symbol, c.C, 0, 20, ""),
			within("hydrogen atoms of "+c.Symbol, c.H, 0, 50, ""),
			within("nitrogen atoms of "+c.Symbol, c.N, 0, 10, ""),
			within("oxygen atoms of "+c.Symbol, c.O, 0, 10, ""),
		); err != nil {
			return err
		}
		total += s.Fraction
	}
	return within("sum of mole fractions", total, 0.9999, 1.0001, "")
}

// StoichiometryOf burns a mixture completely in dry air with the given oxygen
// content in percent by volume (20 to 21.5; AirO2Percent unless a source uses
// another). Errors: a *RangeError for a fraction, a component datum or the
// oxygen content out of range, or for a mixture that does not burn.
// Source: conservation of atoms.
func StoichiometryOf(m Mixture, airO2Percent float64) (Stoichiometry, error) {
	if err := first(m.check(), within("oxygen in air", airO2Percent, 20, 21.5, "%")); err != nil {
		return Stoichiometry{}, err
	}
	var s Stoichiometry
	fuelN2 := 0.0
	for _, share := range m {
		c, x := share.Component, share.Fraction
		s.O2 += float64(x * (c.C + float64(c.H/4) - float64(c.O/2)))
		s.CO2 += float64(x * c.C)
		s.H2O += float64(x * c.H / 2)
		fuelN2 += float64(x * c.N / 2)
	}
	if err := within("oxygen that the mixture needs", s.O2, 0.05, 50, "mol/mol"); err != nil {
		return Stoichiometry{}, err
	}
	s.Air = s.O2 * 100 / airO2Percent
	s.N2 = (s.Air - s.O2) + fuelN2
	s.DryProducts = s.CO2 + s.N2
	s.WetProducts = s.DryProducts + s.H2O
	s.CO2MaxPercent = 100 * s.CO2 / s.DryProducts
	return s, nil
}

// PropertiesOf derives the properties of a mixture: real-gas calorific values
// and relative density by the summation method, combustion in air with
// AirO2Percent of oxygen. Errors: as StoichiometryOf, and a *RangeError when
// the net calorific value is not positive. Source: ISO 6976 method.
func PropertiesOf(m Mixture) (Properties, error) {
	s, err := StoichiometryOf(m, AirO2Percent)
	if err != nil {
		return Properties{}, err
	}
	var mass, gross, summation float64
	for _, share := range m {
		c, x := share.Component, share.Fraction
		mass += float64(x * c.MolarMass)
		gross += float64(x * c.GrossKJPerMol)
		summation += float64(x * c.SummationFactor)
	}
	net := gross - float64(s.H2O*waterLatentKJPerMol)
	if err := within("molar net calorific value", net, 1, 20000, "kJ/mol"); err != nil {
		return Properties{}, err
	}
	z := 1 - float64(summation*summation)
	p := Properties{
		MolarMass:         mass,
		CompressionFactor: z,
		RelativeDensity:   mass / airMolarMass * airCompression / z,
		GrossMJPerM3:      gross / molarVolumeLitres / z,
		NetMJPerM3:        net / molarVolumeLitres / z,
		GrossNetRatio:     gross / net,
		Stoichiometry:     s,
	}
	p.DensityKgPerM3 = p.RelativeDensity * airDensityKgM3
	root := sqrt(p.RelativeDensity)
	p.GrossWobbeMJPerM3 = p.GrossMJPerM3 / root
	p.NetWobbeMJPerM3 = p.NetMJPerM3 / root
	return p, nil
}
