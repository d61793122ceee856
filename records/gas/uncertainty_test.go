package gas_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gaugebook/records/gas"

	"pgregory.net/rapid"
)

// optional returns a limit that a row may leave out.
func (in inputs) optional(name string) *float64 {
	if _, ok := in.pairs[name]; !ok {
		return nil
	}
	x := in.num(name)
	return &x
}

// atDistance is a lower limit raised, or an upper one lowered, so far that a
// reading there keeps it with 95 %.
func atDistance(in inputs, u float64) float64 {
	if low := in.optional("low"); low != nil {
		return *low + gas.CertainZ*u
	}
	if high := in.optional("high"); high != nil {
		return *high - gas.CertainZ*u
	}
	return in.num("limit") - gas.CertainZ*u
}

func quantile(p float64) float64 {
	low, high := -10.0, 10.0
	for range 200 {
		if mid := (low + high) / 2; gas.NormalCDF(mid) < p {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

func readingU(in inputs) (float64, error) {
	a, err := gas.StandardFromLimits(in.num("within"))
	if err != nil {
		return 0, err
	}
	s, err := gas.StandardFromStep(in.num("step"))
	if err != nil {
		return 0, err
	}
	return gas.RootSumOfSquares(a, s)
}

func ratioU(in inputs) (ratio, relative float64, err error) {
	co, co2 := in.num("co"), in.num("co2")
	if ratio, err = gas.RatioCOToCO2(co, co2); err != nil {
		return 0, 0, err
	}
	relative, err = gas.RootSumOfSquares(in.num("within_co")/math.Sqrt(3)/co, in.num("within_co2")/math.Sqrt(3)/co2)
	return ratio, relative, err
}

func inputU(in inputs) (kw, u float64, err error) {
	rate, err := gas.GasRateM3PerHour(in.num("m3"), in.num("s"))
	if err != nil {
		return 0, 0, err
	}
	if kw, err = gas.HeatInputGrossKW(rate, in.num("cv")); err != nil {
		return 0, 0, err
	}
	digit, err := gas.StandardOfDifference(in.num("step"))
	if err != nil {
		return 0, 0, err
	}
	u, err = gas.RootSumOfSquares(kw*digit/in.num("m3"), kw*in.num("meter_pct")/100/math.Sqrt(3),
		kw*in.num("watch_s")/math.Sqrt(3)/in.num("s"), kw*in.num("cv_pct")/100/math.Sqrt(3))
	return kw, u, err
}

var uncertaintyQuantities = map[string]quantity{
	"conformity": func(in inputs) (float64, error) {
		return gas.Conformity(in.num("y"), in.num("u"), in.optional("low"), in.optional("high"))
	},
	"relative-rejection": func(in inputs) (float64, error) {
		return in.num("limit") / (1 - in.num("relative")*quantile(in.num("certain"))), nil
	},
	"false-acceptance": func(in inputs) (float64, error) { return gas.NormalCDF(-in.num("z")), nil },
	"quantile":         func(in inputs) (float64, error) { return quantile(in.num("p")), nil },
	"ratio-relative": func(in inputs) (float64, error) {
		_, relative, err := ratioU(in)
		return 100 * relative, err
	},
	"ratio-kept": func(in inputs) (float64, error) {
		ratio, relative, err := ratioU(in)
		if err != nil {
			return 0, err
		}
		return gas.Conformity(ratio, ratio*relative, nil, in.optional("limit"))
	},
	"ratio-acceptance": func(in inputs) (float64, error) {
		return in.num("limit") / (1 + gas.CertainZ*in.num("relative")), nil
	},
	"co2-from-o2-u": func(in inputs) (float64, error) {
		u, err := gas.StandardFromLimits(in.num("within"))
		return in.num("co2max") * u / gas.InstrumentO2Percent, err
	},
	"drop-kept": func(in inputs) (float64, error) {
		u, err := gas.StandardOfDifference(in.num("step"))
		if err != nil {
			return 0, err
		}
		return gas.Conformity(in.num("drop"), u, nil, in.optional("limit"))
	},
	"drop-acceptance": func(in inputs) (float64, error) {
		u, err := gas.StandardOfDifference(in.num("step"))
		return atDistance(in, u), err
	},
	"input-u": func(in inputs) (float64, error) { _, u, err := inputU(in); return u, err },
	"input-kept": func(in inputs) (float64, error) {
		kw, u, err := inputU(in)
		if err != nil {
			return 0, err
		}
		return gas.Conformity(kw, u, in.optional("low"), in.optional("high"))
	},
	"reading-kept": func(in inputs) (float64, error) {
		u, err := readingU(in)
		if err != nil {
			return 0, err
		}
		return gas.Conformity(in.num("y"), u, in.optional("low"), in.optional("high"))
	},
	"reading-acceptance": func(in inputs) (float64, error) { u, err := readingU(in); return atDistance(in, u), err },
	"flow-kept": func(in inputs) (float64, error) {
		flow := in.num("litres") * 60 / in.num("s")
		u, err := gas.RootSumOfSquares(flow*in.num("within_l")/math.Sqrt(3)/in.num("litres"),
			flow*in.num("within_s")/math.Sqrt(3)/in.num("s"))
		if err != nil {
			return 0, err
		}
		return gas.Conformity(flow, u, in.optional("low"), in.optional("high"))
	},
	"certificate-u": func(in inputs) (float64, error) {
		step, err := gas.StandardFromStep(in.num("step"))
		if err != nil {
			return 0, err
		}
		return gas.RootSumOfSquares(in.num("u95")/2, step)
	},
}

// The standard library's complementary error function is an independent
// implementation of the same distribution.
func TestNormalDistributionAgreesWithErfc(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.Float64Range(-37, 37).Draw(t, "z")
		got, want := gas.NormalCDF(z), math.Erfc(-z/math.Sqrt2)/2
		if math.Abs(got-want) > 1e-14 || z < 0 && math.Abs(got-want) > 1e-9*want {
			t.Fatalf("Φ(%g) = %.17g, want %.17g", z, got, want)
		}
		if other := gas.NormalCDF(-z); math.Abs(got+other-1) > 1e-15 {
			t.Fatalf("Φ(%g) + Φ(%g) = %.17g", z, -z, got+other)
		}
	})
	if gas.NormalCDF(0) != 0.5 || gas.NormalCDF(math.NaN()) != 0 || gas.NormalCDF(math.Inf(1)) != 1 {
		t.Error("the fixed points are not exact")
	}
}

const draws = 100000

// share is how often a condition holds in 10⁵ draws, with three times its own
// standard error.
func share(holds func() bool) (p, error3 float64) {
	n := 0
	for range draws {
		if holds() {
			n++
		}
	}
	p = float64(n) / draws
	return p, 3 * math.Sqrt(p*(1-p)/draws)
}

// The probability that a limit is kept, as stated, agrees with what happens
// when each part is drawn at random: from the normal distribution within the
// error of so many draws, from the rectangular one that data sheets mean within
// one part in a hundred.
func TestStatedProbabilitiesAgreeWithDraws(t *testing.T) {
	r := rand.New(rand.NewPCG(20261126, 106))
	uniform := func(half float64) float64 { return half * (2*r.Float64() - 1) }
	step := func(x, step float64) float64 { return x + uniform(step/2) }
	limit, low, high := 0.004, 25.2, 27.0
	for _, c := range []struct {
		name           string
		stated         float64
		normal, drawn  func() bool
		ofRectangulars float64
	}{
		{name: "CO/CO2", stated: sure(gas.Conformity(340.0/90000, 340.0/90000*0.0363, nil, &limit)),
			normal: func() bool {
				return (340+r.NormFloat64()*20/math.Sqrt(3))/(9+r.NormFloat64()*0.2/math.Sqrt(3))/1e4 <= limit
			},
			drawn:          func() bool { return (340+uniform(20))/(9+uniform(0.2))/1e4 <= limit },
			ofRectangulars: 0.01},
		{name: "heat input", stated: sure(gas.Conformity(26.65, 0.31409, &low, &high)),
			normal: func() bool { kw := 26.65 + 0.31409*r.NormFloat64(); return kw >= low && kw <= high },
			drawn: func() bool {
				m3 := (step(0, 0.001) - step(0, 0.001) + 0.082) * (1 + uniform(0.015))
				kw := m3 * 3600 / (120 + uniform(0.5)) * 39 * (1 + uniform(0.01)) / 3.6
				return kw >= low && kw <= high
			},
			ofRectangulars: 0.01},
		{name: "drop", stated: sure(gas.Conformity(3.9, sure(gas.StandardOfDifference(0.2)), nil, ptr(4))),
			normal: func() bool { return 3.9+r.NormFloat64()*sure(gas.StandardOfDifference(0.2)) <= 4 },
			drawn:  func() bool { return 3.9+step(0, 0.2)-step(0, 0.2) <= 4 }, ofRectangulars: 0.02},
	} {
		if p, e := share(c.normal); math.Abs(p-c.stated) > e+0.0015 {
			t.Errorf("%s: %.4f stated, %.4f ± %.4f of normal draws", c.name, c.stated, p, e)
		}
		if p, e := share(c.drawn); math.Abs(p-c.stated) > e+c.ofRectangulars {
			t.Errorf("%s: %.4f stated, %.4f ± %.4f of rectangular draws", c.name, c.stated, p, e)
		}
	}
}

func ptr(x float64) *float64 { return &x }

func sure(x float64, err error) float64 {
	if err != nil {
		panic(err)
	}
	return x
}

func uncertaintyTotals() map[string]total {
	return map[string]total{
		"StandardFromLimits":   one(gas.StandardFromLimits, 1.5),
		"StandardFromStep":     one(gas.StandardFromStep, 0.1),
		"StandardOfDifference": one(gas.StandardOfDifference, 0.1),
		"RootSumOfSquares": {[]float64{0.1, 0.2}, func(a []float64) (any, error) {
			return gas.RootSumOfSquares(a...)
		}},
		"Conformity": {[]float64{13.6, 1.8, 12.5, 16.3}, func(a []float64) (any, error) {
			return gas.Conformity(a[0], a[1], &a[2], &a[3])
		}},
	}
}
