package gas

// SiegertConstants of a fuel: qA = (flue - air) (A1/CO2 + B), or with
// A2/(21 - O2). CondensingLimitC and CondensingGainPercent serve the
// instrument's condensing form; 0 when not published for the fuel.
// Source: analyser and boiler manuals, equal to the German 1. BImSchV set (H).
type SiegertConstants struct {
	A1, A2, B             float64
	CondensingLimitC      float64
	CondensingGainPercent float64
}

// LossFromCO2Percent is the flue loss in percent of the net heat input, from
// dry CO2 (1 to 25 %), flue temperature (up to 600 °C, not below that of the
// air) and combustion air temperature (-30 to 60 °C). Errors: *RangeError.
// Source: Siegert formula, CO2 form.
func (k SiegertConstants) LossFromCO2Percent(co2Percent, flueC, airC float64) (float64, error) {
	if err := first(
		k.check(),
		within("flue carbon dioxide", co2Percent, 1, 25, "%"),
		withinFlueTemperatures(flueC, airC),
	); err != nil {
		return 0, err
	}
	return (flueC - airC) * (k.A1/co2Percent + k.B), nil
}

// LossFromO2Percent is the flue loss in percent of the net heat input from
// dry O2 (0 to 20 %) by A2/(zero - O2), where zeroO2Percent is 21 in the
// published formula and 20.9 in some instruments (20.9 to 21). Temperatures
// and errors as LossFromCO2Percent. Source: Siegert formula, O2 form.
func (k SiegertConstants) LossFromO2Percent(o2Percent, flueC, airC, zeroO2Percent float64) (float64, error) {
	if err := first(
		k.check(),
		within("flue oxygen", o2Percent, 0, 20, "%"),
		within("oxygen of air in the formula", zeroO2Percent, InstrumentO2Percent, SiegertO2Percent, "%"),
		withinFlueTemperatures(flueC, airC),
	); err != nil {
		return 0, err
	}
	return (flueC - airC) * (k.A2/(zeroO2Percent-o2Percent) + k.B), nil
}

func (k SiegertConstants) check() error {
	return first(
		within("Siegert constant A1", k.A1, 0.1, 2, ""),
		within("Siegert constant A2", k.A2, 0.1, 2, ""),
		within("Siegert constant B", k.B, 0, 0.1, ""),
	)
}

// Efficiency names its basis: net and gross calorific value are not to be
// compared with one another.
type Efficiency struct {
	NetPercent   float64
	GrossPercent float64
}

// InstrumentEfficiency is the efficiency as analysers print it from a flue
// loss (0 to 100 % of net input): net is 100 minus the loss. When the flue is
// cooler than CondensingLimitC - 1.2 O2 and the fuel has the constants, the
// full condensing gain is added to net; gross is net less that gain, or
// 100 - loss divided by the fuel's ratio without it. The step at the limit is
// the instrument's. O2 0 to 20 %, flue -30 to 600 °C. Errors: *RangeError.
// Source: analyser manuals.
func (f Fuel) InstrumentEfficiency(lossPercent, o2Percent, flueC float64) (Efficiency, error) {
	k := f.Siegert
	if err := first(
		f.checkRatio(),
		within("flue loss", lossPercent, 0, 100, "%"),
		within("flue oxygen", o2Percent, 0, 20, "%"),
		within("flue temperature", flueC, -30, 600, "°C"),
		within("condensing limit of the fuel", k.CondensingLimitC, 0, 100, "°C"),
		within("condensing gain of the fuel", k.CondensingGainPercent, 0, 30, "%"),
	); err != nil {
		return Efficiency{}, err
	}
	dry := 100 - lossPercent
	if k.CondensingGainPercent > 0 && flueC < k.CondensingLimitC-float64(1.2*o2Percent) {
		return Efficiency{NetPercent: dry + k.CondensingGainPercent, GrossPercent: dry}, nil
	}
	return Efficiency{NetPercent: dry, GrossPercent: dry / f.GrossNetRatio}, nil
}

func withinFlueTemperatures(flueC, airC float64) error {
	if err := within("combustion air temperature", airC, -30, 60, "°C"); err != nil {
		return err
	}
	return within("flue temperature", flueC, airC, 600, "°C")
}
