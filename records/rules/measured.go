package rules

import (
	"math"
	"strings"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// measured is a number as it is held against a limit.
type measured struct {
	value float64
	text  string  // as shown
	u     float64 // standard uncertainty, in the unit of the value; 0 where none is stated
	// edge is whether it matters that the value lies exactly on its limit. It
	// does not for what is set, counted or made to a size.
	edge bool
	// coarse is why the reading is coarser than its limit takes for granted, and
	// settle how one that is too close is settled.
	coarse, settle string
}

// setTo is a number that was set, counted or made to a size: a time, a fuse, a
// pipe.
func setTo(x float64, text string) measured { return measured{value: x, text: text} }

// ruled is a length or an area as measured on the spot, whose uncertainty
// decides nothing.
func ruled(x float64, text string) measured { return measured{value: x, text: text, edge: true} }

// read is a reading as an instrument gives it. One that no instrument of ours
// takes has no uncertainty stated.
func (e *entries) read(f records.NumberField) measured {
	x, _ := e.Values.Float(f)
	m := ruled(x, e.entered(f.Field))
	m.u, m.coarse = e.uncertaintyOf(f.Key, x)
	if m.coarse != "" {
		m.settle = "Read it again with a finer instrument."
	}
	return m
}

// uncertaintyOf is the standard uncertainty of a field's reading.
func (e *entries) uncertaintyOf(key string, x float64) (u float64, coarse string) {
	a, how, coarse, ok := e.accuracyOf(key)
	if !ok {
		return 0, ""
	}
	var err, err2 error
	if how.difference {
		u, err = gas.StandardOfDifference(a.Step)
	} else {
		var within, step float64
		within, err = gas.StandardFromLimits(a.Of(x))
		step, err2 = gas.StandardFromStep(a.Step)
		if err == nil && err2 == nil {
			u, err = gas.RootSumOfSquares(within, step)
		}
	}
	if err != nil || err2 != nil {
		return 0, ""
	}
	return u, coarse
}

// with returns the number with another uncertainty.
func (m measured) with(u float64) measured { m.u = u; return m }

// as returns the number shown in other words.
func (m measured) as(text string) measured { m.text = text; return m }

// hold compares x with a limit: inside, which includes the edge, in need of
// attention, or outside.
func hold(x float64, l records.Limit) records.Finding {
	f := records.Finding{Outcome: records.Inside, Limit: &l}
	switch {
	case l.Low != nil && below(x, *l.Low) || l.High != nil && above(x, *l.High):
		f.Outcome = records.Outside
	case l.Attention != nil && above(x, *l.Attention):
		f.Outcome = records.Attention
	}
	return f
}

// verdict holds a number against its limit, with the words: the reason either
// way, and how serious outside would be. Where the limit is guarded neither
// side is claimed below 95 %.
func (e *entries) verdict(m measured, l records.Limit, class records.Class, in, out string) records.Finding {
	f := hold(m.value, l)
	f.Reading, f.Reason = m.text, in
	f.Measured = measurement(m, l)
	if f.Measured != nil && (e.guarded || m.coarse != "" || l.Decision == records.Guarded) {
		e.guard(&f, m, class)
	}
	switch {
	case f.Outcome == records.Outside:
		f.Reason, f.Suggested = out, class
	case f.Outcome == records.Inside && m.edge && onEdge(m.value, l):
		f.AtLimit = true
		f.Reason = strings.TrimSpace(in + " It is exactly at the limit.")
	}
	return f
}

func onEdge(x float64, l records.Limit) bool {
	return l.Low != nil && equal(x, *l.Low) || l.High != nil && equal(x, *l.High)
}

// guard decides by the probability that the limit is kept. Outside is claimed
// where the value lies beyond one of its edges with 95 %: a reading so coarse
// that it tells nothing is not outside because its limit is narrow.
func (e *entries) guard(f *records.Finding, m measured, class records.Class) {
	l := *f.Limit
	l.Decision, f.Measured.Decision = records.Guarded, records.Guarded
	f.Limit = &l
	overLow, err := gas.Conformity(m.value, m.u, l.Low, nil)
	underHigh, err2 := gas.Conformity(m.value, m.u, nil, l.High)
	beyond := err == nil && err2 == nil && math.Min(overLow, underHigh) <= 1-gas.ShareCertain
	switch kept := f.Measured.Kept; {
	case beyond:
		f.Outcome = records.Outside
	case kept < gas.ShareCertain:
		f.Outcome, f.Suggested = records.Close, class
		f.Reason = joined("Too close to call: "+f.Measured.Text+".", m.coarse, m.settle)
	}
}

// measurement is the reading with its uncertainty; nil where none is stated or
// the limit has no figure.
func measurement(m measured, l records.Limit) *records.Measured {
	if m.u <= 0 || l.Low == nil && l.High == nil {
		return nil
	}
	kept, err := gas.Conformity(m.value, m.u, l.Low, l.High)
	if err != nil {
		return nil
	}
	expanded := float64(2 * m.u)
	d := decimalsFor(expanded)
	return &records.Measured{Value: roundTo(m.value, d+2), Uncertainty: roundTo(expanded, d+1), Unit: l.Unit,
		Kept: roundTo(kept, 4), Decision: records.AsRead, Text: against(m.value, expanded, d, l)}
}

// decimalsFor is how many decimals an uncertainty is worth: one figure, two
// where the first is a one.
func decimalsFor(u float64) int {
	for d := range 8 {
		if u*math.Pow10(d) >= 2 {
			return d
		}
	}
	return 8
}

// against writes a reading with its uncertainty and the limit: 0.0039 ± 0.0004
// against 0.004.
func against(x, expanded float64, decimals int, l records.Limit) string {
	var limit string
	switch {
	case l.Low == nil:
		limit = show(*l.High, 5)
	case l.High == nil:
		limit = show(*l.Low, 5)
	default:
		limit = show(*l.Low, 5) + " to " + show(*l.High, 5)
	}
	return minus(apart(x, decimals, l)) + " ± " + records.FormatNumber(expanded, decimals) + " against " +
		withUnit(limit, l.Unit)
}

// apart writes a number with as many decimals as it takes to tell it from the
// edge of its limit: no reading outside looks like the limit itself.
func apart(x float64, decimals int, l records.Limit) string {
	for d := decimals; ; d++ {
		text := records.FormatNumber(x, d)
		if d >= decimals+4 || !looksLike(text, x, l.Low) && !looksLike(text, x, l.High) {
			return text
		}
	}
}

// looksLike reports whether a number that is not the edge reads as if it were.
func looksLike(text string, x float64, edge *float64) bool {
	if edge == nil || equal(x, *edge) {
		return false
	}
	_, frac, _ := strings.Cut(text, ".")
	return text == records.FormatNumber(*edge, len(frac))
}

func joined(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, " ")
}
