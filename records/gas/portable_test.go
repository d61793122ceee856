package gas

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The standard library is the reference: an independent implementation that
// may differ in the last bits only.
func TestPortableFunctionsAgreeWithMath(t *testing.T) {
	near := func(t *rapid.T, name string, x, got, want, relative float64) {
		if math.Abs(got-want) > relative*math.Max(math.Abs(want), 1e-3) {
			t.Fatalf("%s(%g) = %.17g, want %.17g", name, x, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1e-300, 1e300).Draw(t, "x")
		near(t, "ln", x, ln(x), math.Log(x), 1e-14)
		small := rapid.Float64Range(0.5, 2).Draw(t, "small")
		near(t, "ln", small, ln(small), math.Log(small), 1e-14)
		near(t, "log10", x, log10(x), math.Log10(x), 1e-14)
		p := rapid.Float64Range(-700, 700).Draw(t, "p")
		near(t, "exp", p, exp(p)/math.Exp(p), 1, 1e-14)
		a := rapid.Float64Range(0, 45).Draw(t, "angle")
		near(t, "tan", a, tanDegrees(a), math.Tan(a*math.Pi/180), 1e-14)
	})
	for _, x := range []float64{1, 2, 0.5, math.Sqrt2, math.Sqrt2 / 2, 1 + 1e-15, 10} {
		if got, want := ln(x), math.Log(x); math.Abs(got-want) > 1e-16+1e-15*math.Abs(want) {
			t.Errorf("ln(%.17g) = %.17g, want %.17g", x, got, want)
		}
	}
	if exp(0) != 1 || ln(1) != 0 || tanDegrees(0) != 0 {
		t.Error("the fixed points are not exact")
	}
}

// Newton's steps must have settled: one more changes nothing that matters.
func TestColebrookSolvesItsEquation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		re := rapid.Float64Range(LaminarBelowReynolds, 1e9).Draw(t, "re")
		k := rapid.Float64Range(0, 0.05).Draw(t, "roughness")
		f := colebrook(re, k)
		left := 1 / math.Sqrt(f)
		right := -2 * math.Log10(k/3.7+2.51/(re*math.Sqrt(f)))
		if !(math.Abs(left-right) < 1e-12*left) {
			t.Fatalf("f = %g leaves %g against %g", f, left, right)
		}
	})
}
