package gas

import "math"

// The standard library's Exp, Log and Tan differ between processors in the
// last bit (assembly on some, fused multiply-add on others). The rules must
// agree byte for byte between phone and server, so the three we need are
// written here from operations that IEEE 754 rounds exactly.

const (
	ln2Hi = 6.93147180369123816490e-01 // upper bits of ln 2, trailing zeros
	ln2Lo = 1.90821492927058770002e-10 // ln 2 - ln2Hi
	ln10  = math.Ln10
)

// ln is the natural logarithm of a finite x > 0, within 1e-15 relative or
// absolute, whichever is larger.
func ln(x float64) float64 {
	m, e := math.Frexp(x) // x = m * 2^e, 0.5 <= m < 1
	if m < math.Sqrt2/2 {
		m *= 2
		e--
	}
	// ln m = 2 atanh(s), s = (m-1)/(m+1), |s| < 0.172
	s := (m - 1) / (m + 1)
	s2 := s * s
	sum := 0.0
	for k := 25; k >= 3; k -= 2 {
		sum = float64(sum*s2) + 1/float64(k)
	}
	tail := float64(float64(float64(2*s)*s2) * sum)
	f := float64(e)
	return float64(f*ln2Hi) + (float64(2*s) + (tail + float64(f*ln2Lo)))
}

// sqrt is rounded exactly everywhere; it stands here so that every function
// beyond the four operations is in one place.
func sqrt(x float64) float64 { return math.Sqrt(x) }

// log10 is the decimal logarithm of a finite x > 0.
func log10(x float64) float64 { return ln(x) / math.Ln10 }

// exp is e to the power x for |x| <= 700, within 1e-14 relative.
func exp(x float64) float64 {
	k := math.Floor(float64(x/math.Ln2) + 0.5)
	r := (x - float64(k*ln2Hi)) - float64(k*ln2Lo) // |r| <= 0.35
	sum := 1.0
	for n := 16; n >= 1; n-- {
		sum = float64(sum*r)/float64(n) + 1
	}
	return math.Ldexp(sum, int(k))
}

// tanDegrees is the tangent of an angle in degrees, for 0 <= deg <= 45,
// within 1e-14 relative, from the sine and cosine series.
func tanDegrees(deg float64) float64 {
	x := deg * (math.Pi / 180)
	x2 := x * x
	sin, cos := 1.0, 1.0
	for n := 20; n >= 2; n -= 2 {
		sin = 1 - float64(float64(sin*x2)/float64(n*(n+1)))
		cos = 1 - float64(float64(cos*x2)/float64(n*(n-1)))
	}
	return float64(sin*x) / cos
}
