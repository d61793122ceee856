package gas

import "math"

// Flow regimes of Loss.Regime.
const (
	RegimeStill      = "no flow"
	RegimeLaminar    = "laminar"
	RegimeTransition = "transition"
	RegimeTurbulent  = "turbulent"
)

// Reynolds numbers that bound the transition between laminar and turbulent.
const (
	LaminarBelowReynolds   = 2300.0
	TurbulentAboveReynolds = 4000.0
)

// FlowingGas is what the pressure loss needs to know of the gas in the pipe.
type FlowingGas struct {
	DensityKgPerM3 float64 // 0.01 to 20
	ViscosityPaS   float64 // dynamic, 1e-6 to 1e-4
}

// At is the fuel at 15 °C and a gauge working pressure of 0 to 1000 mbar:
// density rises with absolute pressure, viscosity does not in this range.
// Errors: *RangeError.
func (f Fuel) At(workingMbar float64) (FlowingGas, error) {
	if err := within("working pressure", workingMbar, 0, 1000, "mbar"); err != nil {
		return FlowingGas{}, err
	}
	g := FlowingGas{
		DensityKgPerM3: f.DensityKgPerM3 * ((ReferenceMbar + workingMbar) / ReferenceMbar),
		ViscosityPaS:   f.ViscosityPaS,
	}
	if err := g.check(); err != nil {
		return FlowingGas{}, err
	}
	return g, nil
}

func (g FlowingGas) check() error {
	return first(
		within("gas density", g.DensityKgPerM3, 0.01, 20, "kg/m3"),
		within("gas viscosity", g.ViscosityPaS, 1e-6, 1e-4, "Pa·s"),
	)
}

// Loss is the pressure loss of a straight pipe and how it came about.
type Loss struct {
	Mbar           float64
	LeastMbar      float64 // in the transition the smaller possible loss, else Mbar
	Reynolds       float64
	VelocityMPerS  float64
	FrictionFactor float64 // Darcy
	Regime         string
}

// Bore describes a round pipe to PipeLoss.
type Bore struct {
	BoreMM      float64 // 1 to 500
	RoughnessMM float64 // 0 to 5 % of the bore
	LengthM     float64 // straight plus equivalent length of fittings, 0 to 10 000
}

// PipeLoss is the pressure lost by a gas flowing steadily through a level
// pipe, by Darcy and Weisbach with the friction factor of Colebrook and
// White, laminar (64/Re) below Re 2300, and from 2300 to 4000 the larger of
// the two, which is the cautious one. Flow is at the conditions in the pipe,
// 0 to 1000 m3/h. Errors: a *RangeError for an input, or for a result above
// 1000 mbar, where a constant density no longer holds.
// Source: Darcy-Weisbach and Colebrook-White equations (fluid mechanics
// textbooks); checked in testdata/gas against BS 6891:2005 and a fluids library.
func PipeLoss(g FlowingGas, flowM3PerHour float64, b Bore) (Loss, error) {
	if err := first(
		g.check(),
		within("gas flow", flowM3PerHour, 0, 1000, "m3/h"),
		withinBore(b.BoreMM),
		within("roughness of pipe", b.RoughnessMM, 0, 0.05*b.BoreMM, "mm"),
		within("length of pipe", b.LengthM, 0, 10000, "m"),
	); err != nil {
		return Loss{}, err
	}
	d := b.BoreMM / 1000
	v := flowM3PerHour / 3600 / (math.Pi / 4 * d * d)
	re := g.DensityKgPerM3 * v * d / g.ViscosityPaS
	if re < 1e-6 {
		return Loss{Reynolds: re, VelocityMPerS: v, Regime: RegimeStill}, nil
	}
	factor, least, regime := friction(re, b.RoughnessMM/b.BoreMM)
	perFactor := b.LengthM / d * (g.DensityKgPerM3 * v * v / 2) / 100 // Pa to mbar
	l := Loss{
		Mbar: factor * perFactor, LeastMbar: least * perFactor,
		Reynolds: re, VelocityMPerS: v, FrictionFactor: factor, Regime: regime,
	}
	if err := within("pressure loss", l.Mbar, 0, 1000, "mbar"); err != nil {
		return Loss{}, err
	}
	return l, nil
}

// friction gives the Darcy friction factor, the least possible one and the
// regime for a Reynolds number above 0 and a relative roughness of 0 to 0.05.
func friction(re, relativeRoughness float64) (factor, least float64, regime string) {
	laminar := 64 / re
	if re < LaminarBelowReynolds {
		return laminar, laminar, RegimeLaminar
	}
	turbulent := colebrook(re, relativeRoughness)
	if re < TurbulentAboveReynolds {
		return max(laminar, turbulent), min(laminar, turbulent), RegimeTransition
	}
	return turbulent, turbulent, RegimeTurbulent
}

// colebrook solves 1/√f = -2 log10(k/3.7 + 2.51/(Re √f)) by Newton's method on
// x = 1/√f. Twelve steps from a rough guess reach the last bits everywhere in
// our range, so the count is fixed and the result the same on every machine.
func colebrook(re, relativeRoughness float64) float64 {
	a, c := relativeRoughness/3.7, 2.51/re
	x := 6.0
	for range 12 {
		inner := a + float64(c*x)
		residual := x + float64(2*log10(inner))
		slope := 1 + float64(2/math.Ln10)*c/inner
		x -= residual / slope
	}
	return 1 / (x * x)
}

// Segment is a stretch of pipe with its own flow: after a branch the flow
// falls. FittingsM is the equivalent length of its fittings in metres.
type Segment struct {
	Pipe          Pipe
	LengthM       float64 // 0 to 1000
	FittingsM     float64 // 0 to 1000
	FlowM3PerHour float64
}

// RunLoss is the loss along segments one after the other.
type RunLoss struct {
	TotalMbar, LeastTotalMbar float64
	Segments                  []Loss // in the order given
}

// RunLossOf adds up the losses of segments in series, from the meter to the
// appliance. Errors: a *RangeError as PipeLoss; a pipe without a known bore
// is refused.
func RunLossOf(g FlowingGas, segments []Segment) (RunLoss, error) {
	var run RunLoss
	for _, s := range segments {
		if err := first(
			within("length of pipe", s.LengthM, 0, 1000, "m"),
			within("equivalent length of fittings", s.FittingsM, 0, 1000, "m"),
		); err != nil {
			return RunLoss{}, err
		}
		l, err := PipeLoss(g, s.FlowM3PerHour, Bore{s.Pipe.BoreMM, s.Pipe.RoughnessMM, s.LengthM + s.FittingsM})
		if err != nil {
			return RunLoss{}, err
		}
		run.TotalMbar += l.Mbar
		run.LeastTotalMbar += l.LeastMbar
		run.Segments = append(run.Segments, l)
	}
	if _, err := finite("pressure loss of the run", run.TotalMbar, "mbar"); err != nil {
		return RunLoss{}, err
	}
	return run, nil
}
