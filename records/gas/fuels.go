package gas

// FuelCode is the stable code of a fuel in records.
type FuelCode string

// The fuels of the record.
const (
	NaturalGas FuelCode = "natural-gas"
	Propane    FuelCode = "propane"
	Butane     FuelCode = "butane"
)

// Fuel is a gas as appliances are tested with it. Natural gas is the reference
// gas G20 (methane); what a house really gets is described by its stated
// calorific value, which the heat input functions take.
type Fuel struct {
	Code    FuelCode
	Label   string
	TestGas string // name of the reference gas in EN 437
	Mixture Mixture
	Properties
	ViscosityPaS float64 // dynamic, 15 °C
	// CO2 of the dry products at zero excess air as published for the fuel,
	// lowest to highest in use; Properties.Stoichiometry holds the derived one.
	PublishedCO2MaxLowPercent, PublishedCO2MaxHighPercent float64
	Siegert                                               SiegertConstants
}

// Fuels lists the fuels in the order in which a person should see them.
func Fuels() []Fuel {
	return []Fuel{naturalGas(), propane(), butane()}
}

// FuelByCode finds a fuel; false if the code is not one of ours.
func FuelByCode(code FuelCode) (Fuel, bool) {
	for _, f := range Fuels() {
		if f.Code == code {
			return f, true
		}
	}
	return Fuel{}, false
}

func naturalGas() Fuel {
	return Fuel{
		Code: NaturalGas, Label: "Natural gas", TestGas: "G20",
		Mixture:                   pure("CH4"),
		PublishedCO2MaxLowPercent: 11.7, PublishedCO2MaxHighPercent: 11.9,
		Siegert: SiegertConstants{A1: 0.37, A2: 0.66, B: 0.009, CondensingLimitC: 58, CondensingGainPercent: 9.6},
	}.derived()
}

func propane() Fuel {
	return Fuel{
		Code: Propane, Label: "Propane", TestGas: "G31",
		Mixture:                   pure("C3H8"),
		PublishedCO2MaxLowPercent: 13.7, PublishedCO2MaxHighPercent: 13.8,
		Siegert: SiegertConstants{A1: 0.42, A2: 0.63, B: 0.008, CondensingLimitC: 54, CondensingGainPercent: 7.6},
	}.derived()
}

func butane() Fuel {
	return Fuel{
		Code: Butane, Label: "Butane", TestGas: "G30",
		Mixture:                   half("n-C4H10", "i-C4H10"),
		PublishedCO2MaxLowPercent: 14.0, PublishedCO2MaxHighPercent: 14.1,
		Siegert: SiegertConstants{A1: 0.42, A2: 0.63, B: 0.008},
	}.derived()
}

// derived fills in what follows from the composition. The mixtures above are
// constants that a test walks through, so the error cannot happen here.
func (f Fuel) derived() Fuel {
	f.Properties, _ = PropertiesOf(f.Mixture)
	for _, s := range f.Mixture {
		f.ViscosityPaS += float64(s.Fraction * s.Component.ViscosityMicroPaS * 1e-6)
	}
	return f
}

func pure(symbol string) Mixture {
	c, _ := ComponentBySymbol(symbol)
	return Mixture{{c, 1}}
}

func half(one, other string) Mixture {
	a, _ := ComponentBySymbol(one)
	b, _ := ComponentBySymbol(other)
	return Mixture{{a, 0.5}, {b, 0.5}}
}

// NetFromGrossKW turns a heat input on gross calorific value into net, by the
// fuel's own ratio (natural gas 1.110). kW 0 to 100 000; errors: *RangeError.
func (f Fuel) NetFromGrossKW(grossKW float64) (float64, error) {
	if err := first(f.checkRatio(), withinKW("gross heat input", grossKW)); err != nil {
		return 0, err
	}
	return grossKW / f.GrossNetRatio, nil
}

// GrossFromNetKW is the inverse of NetFromGrossKW.
func (f Fuel) GrossFromNetKW(netKW float64) (float64, error) {
	if err := first(f.checkRatio(), withinKW("net heat input", netKW)); err != nil {
		return 0, err
	}
	return netKW * f.GrossNetRatio, nil
}

func (f Fuel) checkRatio() error {
	return within("gross to net ratio of the fuel", f.GrossNetRatio, 1, 1.3, "")
}

func withinKW(quantity string, kw float64) error {
	return within(quantity, kw, 0, 100000, "kW")
}
