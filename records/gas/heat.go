package gas

// Constants of the heat input calculation.
const (
	M3PerFt3 = 0.0283168 // rounded as the trade uses it
	// BillingFactor converts metered volume to reference conditions for
	// billing (Gas (Calculation of Thermal Energy) Regulations 1996). The
	// field method leaves it out: show the result with and without.
	BillingFactor    = 1.02264
	waterKJPerLitreK = 4.19
)

// GasRateM3PerHour is the gas rate from a metric meter: the volume passed
// (0 to 1000 m3) in a time of 1 to 86 400 s. Errors: *RangeError.
func GasRateM3PerHour(passedM3, seconds float64) (float64, error) {
	if err := first(
		within("gas passed", passedM3, 0, 1000, "m3"),
		withinSeconds(seconds),
	); err != nil {
		return 0, err
	}
	return passedM3 * 3600 / seconds, nil
}

// GasRateFt3PerHour is the gas rate from the test dial of an imperial meter:
// whole turns (1 to 10 000), each of ft3PerTurn (0.01 to 100), in 1 to
// 86 400 s. Errors: *RangeError.
func GasRateFt3PerHour(ft3PerTurn, turns, seconds float64) (float64, error) {
	if err := first(
		within("volume of one turn of the test dial", ft3PerTurn, 0.01, 100, "ft3"),
		within("turns of the test dial", turns, 1, 10000, ""),
		withinSeconds(seconds),
	); err != nil {
		return 0, err
	}
	return ft3PerTurn * turns * 3600 / seconds, nil
}

// M3FromFt3 turns cubic feet (0 to 1e7) into cubic metres. Errors: *RangeError.
func M3FromFt3(ft3 float64) (float64, error) {
	if err := within("volume", ft3, 0, 1e7, "ft3"); err != nil {
		return 0, err
	}
	return ft3 * M3PerFt3, nil
}

// HeatInputGrossKW is the heat input on gross calorific value from a gas rate
// (0 to 1e7 m3/h) and the stated calorific value (5 to 150 MJ/m3).
// Errors: *RangeError. Source: common field method, m3/h × MJ/m3 / 3.6.
func HeatInputGrossKW(m3PerHour, grossMJPerM3 float64) (float64, error) {
	if err := first(
		within("gas rate", m3PerHour, 0, 1e7, "m3/h"),
		withinCV(grossMJPerM3),
	); err != nil {
		return 0, err
	}
	return m3PerHour * grossMJPerM3 / 3.6, nil
}

// GasRateForGrossKW is the gas rate in m3/h that gives a gross heat input
// (0 to 100 000 kW): the inverse of HeatInputGrossKW. Errors: *RangeError.
func GasRateForGrossKW(grossKW, grossMJPerM3 float64) (float64, error) {
	if err := first(withinKW("gross heat input", grossKW), withinCV(grossMJPerM3)); err != nil {
		return 0, err
	}
	return grossKW * 3.6 / grossMJPerM3, nil
}

// BilledKWh is the energy of a metered volume (0 to 1e9 m3) with the billing
// factor applied. Errors: *RangeError.
func BilledKWh(meteredM3, grossMJPerM3 float64) (float64, error) {
	if err := first(within("metered volume", meteredM3, 0, 1e9, "m3"), withinCV(grossMJPerM3)); err != nil {
		return 0, err
	}
	return meteredM3 * BillingFactor * grossMJPerM3 / 3.6, nil
}

// DigitPercent is how much one step of the last digit (1e-6 to 10 m3) is of
// the gas passed (at least one digit, at most 1000 m3), in percent: the best
// that the reading can resolve. Errors: *RangeError.
func DigitPercent(digitM3, passedM3 float64) (float64, error) {
	if err := first(
		within("last digit of the meter", digitM3, 1e-6, 10, "m3"),
		within("gas passed", passedM3, digitM3, 1000, "m3"),
	); err != nil {
		return 0, err
	}
	return 100 * digitM3 / passedM3, nil
}

// WaterKW is the heat that a water flow (0 to 10 000 l/min) takes up with a
// temperature rise (0 to 100 K). Errors: *RangeError. Source: heat capacity
// of water 4.19 kJ/(l K), common practice.
func WaterKW(litresPerMinute, riseK float64) (float64, error) {
	if err := first(
		within("water flow", litresPerMinute, 0, 10000, "l/min"),
		within("temperature rise", riseK, 0, 100, "K"),
	); err != nil {
		return 0, err
	}
	return litresPerMinute * riseK * waterKJPerLitreK / 60, nil
}

// HeatBalance compares heat delivered with heat put in, in percent of the
// input, with the band that the stated uncertainties leave.
type HeatBalance struct {
	Percent, LowPercent, HighPercent float64
}

// HeatBalanceOf divides output by input (each 0.1 to 100 000 kW; output may be
// 0) and spreads the result by the root of the sum of squares of the two
// relative uncertainties, 0 to 50 % each. Output clearly above input is a
// contradiction in the readings. Errors: *RangeError.
// Source: combination of independent uncertainties (JCGM 100).
func HeatBalanceOf(inputKW, outputKW, inputUncertaintyPercent, outputUncertaintyPercent float64) (HeatBalance, error) {
	if err := first(
		within("heat input", inputKW, 0.1, 100000, "kW"),
		within("heat output", outputKW, 0, 100000, "kW"),
		within("uncertainty of the heat input", inputUncertaintyPercent, 0, 50, "%"),
		within("uncertainty of the heat output", outputUncertaintyPercent, 0, 50, "%"),
	); err != nil {
		return HeatBalance{}, err
	}
	p := 100 * outputKW / inputKW
	u := sqrt(float64(inputUncertaintyPercent*inputUncertaintyPercent) +
		float64(outputUncertaintyPercent*outputUncertaintyPercent))
	spread := p * u / 100
	return HeatBalance{Percent: p, LowPercent: p - spread, HighPercent: p + spread}, nil
}

func withinSeconds(s float64) error { return within("time", s, 1, 86400, "s") }

func withinCV(mj float64) error { return within("gross calorific value", mj, 5, 150, "MJ/m3") }
