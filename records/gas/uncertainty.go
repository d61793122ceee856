package gas

// Uncertainty of readings and the probability that a limit is kept, after the
// guides of the Joint Committee for Guides in Metrology: JCGM 100:2008 for the
// combination of uncertainties, JCGM 106:2012 for conformity.

// StandardFromLimits is the standard uncertainty of a reading of which only
// ±halfWidth (0 to 1e9) is known, as data sheets and classes state it:
// halfWidth/√3. Errors: *RangeError. Source: JCGM 100:2008, rectangular
// distribution.
func StandardFromLimits(halfWidth float64) (float64, error) {
	if err := within("stated accuracy", halfWidth, 0, 1e9, ""); err != nil {
		return 0, err
	}
	return halfWidth / sqrt(3), nil
}

// StandardFromStep is what rounding to a smallest step (0 to 1e9) adds to the
// standard uncertainty of one reading: step/√12. Errors: *RangeError.
// Source: JCGM 100:2008.
func StandardFromStep(step float64) (float64, error) {
	if err := within("smallest step", step, 0, 1e9, ""); err != nil {
		return 0, err
	}
	return step / sqrt(12), nil
}

// StandardOfDifference is the same of the difference of two readings of one
// instrument on one span: the error of its calibration cancels, the steps do
// not, step/√6. Errors: *RangeError. Source: derived from JCGM 100:2008.
func StandardOfDifference(step float64) (float64, error) {
	if err := within("smallest step", step, 0, 1e9, ""); err != nil {
		return 0, err
	}
	return step / sqrt(6), nil
}

// RootSumOfSquares combines independent standard uncertainties, already in the
// unit of the result. Errors: *RangeError for one that is not 0 to 1e9.
// Source: JCGM 100:2008, equation (10).
func RootSumOfSquares(parts ...float64) (float64, error) {
	sum := 0.0
	for _, u := range parts {
		if err := within("standard uncertainty", u, 0, 1e9, ""); err != nil {
			return 0, err
		}
		sum += float64(u * u)
	}
	return sqrt(sum), nil
}

// Conformity is the probability, 0 to 1, that a quantity read as value with a
// standard uncertainty (from 1e-12) lies within its limits; nil is no limit on
// that side. Errors: *RangeError. Source: JCGM 106:2012, 7.3 and 7.4, normal
// distribution.
func Conformity(value, standardUncertainty float64, low, high *float64) (float64, error) {
	if err := first(
		within("reading", value, -1e12, 1e12, ""),
		within("standard uncertainty", standardUncertainty, 1e-12, 1e12, ""),
	); err != nil {
		return 0, err
	}
	p := 1.0
	if high != nil {
		p = NormalCDF((*high - value) / standardUncertainty)
	}
	if low != nil {
		p -= NormalCDF((*low - value) / standardUncertainty)
	}
	return min(max(p, 0), 1), nil
}

// NormalCDF is the distribution function of the standard normal distribution,
// within 1e-14 of the true one. Not a number gives 0. Source: its series near
// the middle, its continued fraction in the tails.
func NormalCDF(z float64) float64 {
	switch {
	case z != z || z < -38:
		return 0
	case z > 38:
		return 1
	case z < 0:
		return upperTail(-z)
	}
	return 1 - upperTail(z)
}

const rootTwoPi = 2.50662827463100050242 // √(2π)

// upperTail is 1 - Φ(z) for 0 <= z <= 38.
func upperTail(z float64) float64 {
	density := exp(-float64(z*z)/2) / rootTwoPi
	if z > 3 {
		fraction := z
		for n := 120; n >= 1; n-- {
			fraction = z + float64(n)/fraction
		}
		return density / fraction
	}
	term, sum := z, z
	for n := 3; n < 120; n += 2 {
		term = float64(term*z) * z / float64(n)
		sum += term
	}
	return 0.5 - float64(density*sum)
}

// ShareCertain is the probability at which a statement about a limit is made:
// one-sided risk of at most 5 %. CertainZ is the distance from the limit, in
// standard uncertainties, at which it is reached.
const (
	ShareCertain = 0.95
	CertainZ     = 1.6448536269514722
)
