package rules

import (
	"gaugebook/records"
)

var (
	flatLimit = words("not all three the same to the last decimal place", records.ByPhysics,
		clause(physics, "a regulator locks up above its working pressure, and flowing gas loses pressure"))
	pressureCopyLimit = words("not all the same as on the earlier record", records.ByPractice,
		clause(practice, "pressures are never all the same to the last decimal place"))
)

func pressureDoubts() []Rule {
	id := records.Pressure.ID
	three := []records.NumberField{records.StandingMbar, records.MeterMbar, records.ApplianceMbar}
	return []Rule{
		{ID: "pressure.flat", Title: "Standing and working pressures differ", Section: id,
			Reads:  fieldsOf(three, records.Examined.Field),
			Limits: []records.Limit{flatLimit},
			Explains: "With gas flowing at full rate the pressure is lower than standing, and lower again at the " +
				"appliance. Three identical figures are one figure written three times.",
			eval: pressureRule(func(e *entries) records.Finding {
				return pressure{e}.flat(three)
			})},
		{ID: "pressure.copied", Title: "Pressures not copied", Section: id,
			Reads:  fieldsOf(copiedPressures(), records.Examined.Field),
			Limits: []records.Limit{pressureCopyLimit},
			Explains: "No two visits give the same pressures to the last decimal place; if every one is the same, " +
				"they were copied.",
			eval: pressureRule(on(pressure.pressuresCopied))},
	}
}

func (e pressure) flat(three []records.NumberField) records.Finding {
	rs, ok := e.all(three...)
	if !ok {
		return notThere("the three pressures are not all entered")
	}
	reading := line("%s, %s, %s mbar", e.Values[three[0].Key].Text(), e.Values[three[1].Key].Text(),
		e.Values[three[2].Key].Text())
	if equal(rs[0].Value, rs[1].Value) && equal(rs[1].Value, rs[2].Value) && rs[0].Decimals > 0 {
		return odd(reading,
			"Standing and both working pressures are the same to the last decimal place: was gas flowing, and was "+
				"each one read?",
			flatLimit)
	}
	return sound(reading, "The three pressures are not all the same.", flatLimit)
}

func copiedPressures() []records.NumberField {
	return []records.NumberField{records.StandingMbar, records.MeterMbar, records.ApplianceMbar,
		records.TestPressureMbar, records.LetByPressureMbar}
}

// fewestPressures have to be there, and all be equal, before copying is
// suspected: pressures vary less between visits than combustion does.
const fewestPressures = 4

func (e pressure) pressuresCopied() records.Finding {
	if len(e.facts.Earlier) == 0 {
		return exempt("there is no earlier record of the appliance to compare with")
	}
	shared, alike := e.equalShare(fieldsOf(copiedPressures()))
	if shared < fewestPressures {
		return exempt("too few pressures in common with the earlier record to compare")
	}
	reading := line("%d of %d pressures the same", alike, shared)
	if alike == shared {
		return odd(reading, "Every pressure is the same as on the earlier record, to the last decimal place: were "+
			"they really taken at this visit?",
			pressureCopyLimit)
	}
	return sound(reading, "The pressures differ from those of the earlier record.", pressureCopyLimit)
}
