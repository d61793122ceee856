package gas_test

import (
	"gaugebook/records/gas"
)

func balance(pick func(gas.HeatBalance) float64) quantity {
	return func(in inputs) (float64, error) {
		b, err := gas.HeatBalanceOf(in.num("in"), in.num("out"), in.num("uin"), in.num("uout"))
		return pick(b), err
	}
}

// mjPerM3PerBtuPerFt3 follows from the international British thermal unit.
const mjPerM3PerBtuPerFt3 = 0.001055056 / gas.M3PerFt3

var heatQuantities = map[string]quantity{
	"gas-rate": func(in inputs) (float64, error) { return gas.GasRateM3PerHour(in.num("m3"), in.num("s")) },
	"gas-rate-ft3": func(in inputs) (float64, error) {
		return gas.GasRateFt3PerHour(in.num("ft3"), in.num("turns"), in.num("s"))
	},
	"gross-kw": func(in inputs) (float64, error) { return gas.HeatInputGrossKW(in.num("m3h"), in.num("cv")) },
	"gross-kw-imperial": func(in inputs) (float64, error) {
		m3h, err := gas.M3FromFt3(in.num("ft3h"))
		if err != nil {
			return 0, err
		}
		return gas.HeatInputGrossKW(m3h, in.num("btu")*mjPerM3PerBtuPerFt3)
	},
	"net-kw":        func(in inputs) (float64, error) { return in.fuel().NetFromGrossKW(in.num("gross")) },
	"rate-for-kw":   func(in inputs) (float64, error) { return gas.GasRateForGrossKW(in.num("kw"), in.num("cv")) },
	"billed-kwh":    func(in inputs) (float64, error) { return gas.BilledKWh(in.num("m3"), in.num("cv")) },
	"digit-percent": func(in inputs) (float64, error) { return gas.DigitPercent(in.num("digit"), in.num("m3")) },
	"m3-from-ft3":   func(in inputs) (float64, error) { return gas.M3FromFt3(in.num("ft3")) },
	"btu-mj":        func(in inputs) (float64, error) { return in.num("btu") * mjPerM3PerBtuPerFt3, nil },
	"water-kw":      func(in inputs) (float64, error) { return gas.WaterKW(in.num("lpm"), in.num("rise")) },
	"balance":       balance(func(b gas.HeatBalance) float64 { return b.Percent }),
	"balance-low":   balance(func(b gas.HeatBalance) float64 { return b.LowPercent }),
	"balance-high":  balance(func(b gas.HeatBalance) float64 { return b.HighPercent }),
}
