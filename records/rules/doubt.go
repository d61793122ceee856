package rules

import (
	"gaugebook/records"
)

// The cross-checks compare readings with each other, not with a limit of
// safety: what they find is impossible, or so unlikely that it was misread.
// The rules of the sections ask for readings that are missing, so here they
// only make a check exempt.

// Uncertainties of the readings, as the check's bands use them. What is not
// published is our own choice, wide on purpose: a false alarm costs trust.
const (
	gaugeErrorMbar     = 0.2 // one reading of an electronic gauge
	oxygenErrorPct     = 0.3 // EN 50379-2, from memory, unconfirmed
	co2ErrorPct        = 0.3 // measured directly; EN 50379-2, from memory, unconfirmed
	ambientCOErrorPPM  = 3.0 // up to 20 ppm; EN 50379-3
	flueCOErrorPPM     = 20.0
	flueTempErrorK     = 5.0
	clockErrorMin      = 2.0
	meterErrorPct      = 3.0 // EN 1359, in service, from memory, unconfirmed
	waterFlowErrorPct  = 5.0
	waterTempErrorK    = 1.0
	calorificErrorPct  = 3.0
	lockUpScatterMbar  = 1.0 // a regulator does not always lock up at the same pressure
	unseenLossShare    = 0.25
	warmUpBetweenRates = 15.0 // K, the return water warms between the two readings
)

var en1359 = records.Source{Document: "EN 1359", Clause: "largest flow of a diaphragm meter",
	Confidence: records.Unconfirmed}

// ownBand is the source of a band that follows from the uncertainties above.
func ownBand(what string) records.Source {
	return clause(practice, what+"; band from the instruments' accuracy")
}

// doubtRules are the cross-checks. The list of all rules puts each at the end
// of its section.
func doubtRules() []Rule {
	var out []Rule
	for _, group := range [][]Rule{applianceDoubts(), tightnessDoubts(), pressureDoubts(), heatDoubts(), inletDoubts(),
		burnerDoubts(), deliveryDoubts(), visitDoubts()} {
		out = append(out, group...)
	}
	return out
}

// sound is inside with the limit.
func sound(reading, reason string, l records.Limit) records.Finding {
	f := inside(reading, reason)
	f.Limit = &l
	return f
}

// odd is doubtful with the limit.
func odd(reading, reason string, l records.Limit) records.Finding {
	f := doubtful(reading, reason)
	f.Limit = &l
	return f
}

// doubtOutside turns outside into doubtful: the limit is of what is possible,
// not of what is safe.
func doubtOutside(f records.Finding) records.Finding {
	if f.Outcome == records.Outside {
		f.Outcome = records.Doubtful
	}
	return f
}

// all returns the readings of the fields, and whether every one is entered.
func (e *entries) all(fs ...records.NumberField) ([]records.Reading, bool) {
	out := make([]records.Reading, len(fs))
	for i, f := range fs {
		r, ok := e.Values.Number(f)
		if !ok {
			return nil, false
		}
		out[i] = r
	}
	return out, true
}

// notThere is the exemption of a check whose readings are not all entered.
func notThere(what string) records.Finding {
	return exempt(what + ", so there is nothing to compare")
}

// fieldsOf lists the fields behind typed handles.
func fieldsOf(fs []records.NumberField, more ...*records.Field) []*records.Field {
	out := append([]*records.Field(nil), more...)
	for _, f := range fs {
		out = append(out, f.Field)
	}
	return out
}

// equalShare compares readings that have decimals with the earlier record's.
func (e *entries) equalShare(fs []*records.Field) (shared, alike int) {
	for _, f := range fs {
		now, ok := e.Values[f.Key].Reading()
		then, was := e.facts.Earlier[f.Key].Reading()
		if !ok || !was || now.Decimals == 0 {
			continue
		}
		shared++
		if equal(now.Value, then.Value) {
			alike++
		}
	}
	return shared, alike
}

var fitsLimit = words("a condensing appliance has a fanned flue; a flueless heater has no flue; a boiler has one",
	records.ByPractice,
	clause(practice, "kinds of appliance and flue"))

func applianceDoubts() []Rule {
	return []Rule{{
		ID: "appliance.fits", Title: "Kind, condensing and flue agree", Section: records.ApplianceSection.ID,
		Reads: []*records.Field{records.ApplianceKind.Field, records.ApplianceCondensing.Field,
			records.ApplianceFlue.Field},
		Limits:   []records.Limit{fitsLimit},
		Explains: "These three decide which limits apply; if no such appliance is made, one of them was entered wrong.",
		eval:     on(appliance.fits),
	}}
}

func (e appliance) fits() records.Finding {
	kind, flue := e.Values.Choice(records.ApplianceKind), e.Values.Choice(records.ApplianceFlue)
	if kind == "" || flue == "" {
		return notThere("kind and flue are not both entered")
	}
	condensing, _ := e.Values.Flag(records.ApplianceCondensing)
	reading := e.entered(records.ApplianceKind.Field) + ", " + e.entered(records.ApplianceFlue.Field)
	switch {
	case kind == records.KindSpaceHeater && flue != records.FlueNone:
		return odd(reading, "A flueless heater is entered with a flue.", fitsLimit)
	case e.boiler() && flue == records.FlueNone:
		return odd(reading, "A boiler is entered as flueless.", fitsLimit)
	case condensing && (flue == records.FlueOpenNatural || flue == records.FlueSealedNatural):
		return odd(reading+", condensing",
			"A condensing appliance's flue gas is too cool to rise by itself: it needs a fan.", fitsLimit)
	}
	return sound(reading, "The kind of appliance and its flue agree.", fitsLimit)
}
