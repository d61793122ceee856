package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// The figures of rows go by the row: a bend by its angle, a distance by its
// position.

var bendSource = records.Source{Document: "Manuals of several boiler manufacturers",
	Clause:     "shortest equivalent lengths printed, 0.5 m for a bend of 90°, 0.25 m for one of 45°",
	Confidence: records.OneSource}

// leastBendM is the shortest length that a bend may be counted as. Some
// manuals name a bend of 45° by the angle that is left, 135°.
func leastBendM(degrees float64) float64 {
	turned := math.Min(degrees, 180-degrees)
	return roundTo(0.5*turned/90, 2)
}

// shortBend says that a bend is counted as next to nothing, or "".
func shortBend(degrees, equivalentM float64) string {
	s := statedByKey[records.FlueBends.Key+".equivalent_m"]
	return s.beyond(equivalentM, envelope{figure: leastBendM(degrees), source: bendSource})
}

// reducible are the places for which manufacturers print a least distance of
// 25 mm, at one of them for a whole installation.
var reducible = []string{"below-gutter", "below-eaves", "below-balcony", "beside-drain", "corner-or-boundary"}

const (
	leastReducedMM = 25.0
	leastOpeningMM = 150.0
	leastOtherMM   = 100.0
)

var (
	reducedSource = records.Source{Document: "Boiler manufacturers' tables after BS 5440-1",
		Clause:     "gutter, eaves, balcony, drain and corner: 25 mm, at one place of an installation",
		Confidence: records.Confirmed}
	openingSource = records.Source{Document: "Approved Document J", Clause: "note to diagram 34: 150 mm from an opening " +
		"made in the fabric for a window frame, fanned flue", Confidence: records.Confirmed}
	plumeSource = records.Source{Document: "A boiler manufacturer's manual", Clause: "air inlet of a plume kit, 100 mm",
		Confidence: records.OneSource}
)

// distanceBound is the least distance that may be stated for a place. A
// natural-draught flue has no reduction printed anywhere.
func distanceBound(place string, kind gas.FlueKind, general *records.Limit) (envelope, bool) {
	switch {
	case kind == gas.BalancedNatural:
		if general == nil {
			return envelope{}, false
		}
		return envelope{figure: *general.Low, source: general.Source}, true
	case oneOf(place, reducible):
		return envelope{figure: leastReducedMM, source: reducedSource}, true
	case oneOf(place, []string{"below-opening", "above-opening", "beside-opening"}):
		return envelope{figure: leastOpeningMM, source: openingSource}, true
	}
	bound := leastOtherMM
	if general != nil {
		bound = math.Min(bound, *general.Low)
	}
	return envelope{figure: bound, source: plumeSource}, true
}
