package rules

import (
	"math"

	"gaugebook/records"
)

var (
	waterGaugeLimit = words("steps of 0.1 or of 0.25 mbar", records.ByPractice,
		clause(practice, "a water gauge is read by eye"))
	pressuresLimit = words("let-by pressure below the test pressure, no drop larger than the pressure itself",
		records.ByPhysics, clause(physics, "order of the pressures in the procedure"))
	supplyLimit = words("test pressure not more than 1.4 mbar above standing pressure", records.ByPhysics,
		sure(clause(physics, "gas let in from the supply cannot exceed its pressure; two gauge readings and the "+
			"regulator's scatter allowed for"), records.Practice))
	worseLimit = most(1, "mbar", records.ByPractice,
		ownBand("increase in the drop: two readings of a water gauge, and 0.5 mbar for temperature"))
	quietLimit = words("a smell of gas goes with movement of the gauge", records.ByPractice,
		clause(practice, "smell without movement"))
)

// testReadings are the numbers read from the gauge of the tightness test.
func testReadings() []records.NumberField {
	return []records.NumberField{records.LetByPressureMbar, records.LetByRiseMbar, records.TestPressureMbar,
		records.DropMbar, records.PipeworkDropMbar, records.BeforeDropMbar}
}

func tightnessDoubts() []Rule {
	id := records.Tightness.ID
	return []Rule{
		{ID: "tightness.gauge_reach", Title: "Readings the gauge can give", Section: id,
			Reads:  fieldsOf(testReadings(), records.TightnessGaugeHow.Field),
			Limits: []records.Limit{waterGaugeLimit},
			Explains: "A water gauge is read by eye to a tenth or a quarter of a millibar; a finer figure was not " +
				"read from it.",
			eval: on(tightness.gaugeReach)},
		{ID: "tightness.pressures_fit", Title: "Test pressures agree", Section: id,
			Reads: fieldsOf([]records.NumberField{records.TestPressureMbar, records.LetByPressureMbar,
				records.LetByRiseMbar, records.DropMbar, records.BeforeDropMbar}),
			Limits:   []records.Limit{pressuresLimit},
			Explains: "The let-by test is done below the test pressure, and no pressure can drop by more than itself.",
			eval:     on(tightness.testPressuresFit)},
		{ID: "tightness.supply_reach", Title: "Test pressure within reach of the supply", Section: id,
			Reads: fieldsOf([]records.NumberField{records.TestPressureMbar, records.StandingMbar},
				records.ApplianceFuel.Field,
				records.TightnessSupply.Field, records.TightnessSituation.Field),
			Limits: []records.Limit{supplyLimit},
			Explains: "An installation in use is tested with gas from its own supply, so the test pressure cannot " +
				"be above the standing pressure.",
			eval: on(tightness.supplyReach)},
		{ID: "tightness.worse_after", Title: "Drop no larger than before the work", Section: id,
			Reads:  fieldsOf([]records.NumberField{records.DropMbar, records.BeforeDropMbar}),
			Limits: []records.Limit{worseLimit},
			Explains: "Careful work does not make a tight installation leak. A larger drop may still be " +
				"permissible, but something was disturbed or misread.",
			eval: on(tightness.worseAfter)},
		{ID: "tightness.smell_without_drop", Title: "Smell and gauge agree", Section: id,
			Reads: fieldsOf([]records.NumberField{records.DropMbar, records.BeforeDropMbar}, records.SmellOfGas.Field,
				records.BeforeSmell.Field, records.TightnessGaugeHow.Field, records.TightnessEdition.Field),
			Limits: []records.Limit{quietLimit},
			Explains: "A smell of gas while the gauge does not move comes from outside the part under test, or the " +
				"gauge was not connected to it: the smell counts, and its source has still to be found.",
			eval: on(tightness.smellWithoutDrop)},
	}
}

func (e tightness) gaugeReach() records.Finding {
	switch e.Values.Choice(records.TightnessGaugeHow) {
	case "":
		return notThere("the kind of gauge is not entered")
	case records.GaugeElectronic:
		return exempt("an electronic gauge shows its own resolution")
	}
	seen := ""
	for _, f := range testReadings() {
		r, ok := e.Values.Number(f)
		if !ok {
			continue
		}
		seen = e.entered(f.Field)
		if !wholeSteps(r.Value, 0.1) && !wholeSteps(r.Value, 0.25) {
			return odd(seen, nameOf(f.Field)+
				" is finer than a water gauge can be read: was it a different gauge, or a different figure?",
				waterGaugeLimit)
		}
	}
	if seen == "" {
		return notThere("no gauge reading is entered")
	}
	return sound(seen, "No reading is finer than a water gauge can be read.", waterGaugeLimit)
}

// wholeSteps reports whether x is a whole number of steps, to within the
// rounding of binary fractions.
func wholeSteps(x, step float64) bool {
	n := float64(x / step)
	return math.Abs(n-math.Round(n)) < 1e-6
}

func (e tightness) testPressuresFit() records.Finding {
	test, ok := e.Values.Number(records.TestPressureMbar)
	drop, hasDrop := e.Values.Number(records.DropMbar)
	letBy, hasLetBy := e.Values.Number(records.LetByPressureMbar)
	if !ok || !hasDrop && !hasLetBy {
		return notThere("the pressures of the test are not entered")
	}
	rise, _ := e.Values.Number(records.LetByRiseMbar)
	before, _ := e.Values.Number(records.BeforeDropMbar)
	reading := e.entered(records.TestPressureMbar.Field)
	switch {
	case hasDrop && above(drop.Value, test.Value+gaugeErrorMbar):
		return odd(reading+", drop "+e.entered(records.DropMbar.Field),
			"The pressure cannot have dropped by more than itself.", pressuresLimit)
	case above(before.Value, test.Value+lockUpScatterMbar):
		return odd(reading+", drop before the work "+e.entered(records.BeforeDropMbar.Field),
			"The pressure cannot have dropped by more than the supply gives.", pressuresLimit)
	case hasLetBy && !below(letBy.Value, test.Value-2*gaugeErrorMbar):
		return odd(reading+", let-by "+e.entered(records.LetByPressureMbar.Field),
			"The let-by test is done well below the test pressure: were the two swapped?", pressuresLimit)
	case hasLetBy && above(letBy.Value+rise.Value, test.Value+lockUpScatterMbar+2*gaugeErrorMbar):
		return odd(reading+", let-by "+e.entered(records.LetByPressureMbar.Field),
			"The rise would have gone above the test pressure: read both again.", pressuresLimit)
	}
	return sound(reading, "The test pressures agree.", pressuresLimit)
}

func (e tightness) supplyReach() records.Finding {
	switch situation := e.Values.Choice(records.TightnessSituation); {
	case e.special() != "":
		return exempt("judged by the procedure stated for " + e.special())
	case situation == "":
		return notThere("the installation under test is not entered")
	case situation == records.SituationNew:
		return exempt("new pipework may be tested with air, before there is gas")
	}
	rs, ok := e.all(records.TestPressureMbar, records.StandingMbar)
	if !ok {
		return notThere("test pressure and standing pressure are not both entered")
	}
	reading := e.entered(records.TestPressureMbar.Field) + ", standing " + e.entered(records.StandingMbar.Field)
	if above(difference(rs[0], rs[1]), 2*gaugeErrorMbar+lockUpScatterMbar) {
		return odd(reading,
			"The test pressure is above the standing pressure of the supply: one of the two was misread.",
			supplyLimit)
	}
	return sound(reading, "The supply can give the test pressure.", supplyLimit)
}

func (e tightness) worseAfter() records.Finding {
	rs, ok := e.all(records.DropMbar, records.BeforeDropMbar)
	if !ok {
		return notThere("the drop before the work is not entered")
	}
	reading := e.entered(records.DropMbar.Field) + ", before the work " + e.entered(records.BeforeDropMbar.Field)
	if above(difference(rs[0], rs[1]), *worseLimit.High) {
		return odd(reading, "The drop is larger than before the work: find out what was disturbed, or read it again.",
			worseLimit)
	}
	return sound(reading, "The drop is no larger than before the work.", worseLimit)
}

func (e tightness) smellWithoutDrop() records.Finding {
	seen, told := *e.movement().High, false
	for _, p := range []struct {
		smell records.FlagField
		drop  records.NumberField
		when  string
	}{{records.SmellOfGas, records.DropMbar, ""}, {records.BeforeSmell, records.BeforeDropMbar, " before the work"}} {
		smelt, answered := e.Values.Flag(p.smell)
		drop, ok := e.Values.Float(p.drop)
		if !answered || !ok {
			continue
		}
		told = true
		if smelt && !above(drop, seen) {
			return odd("smell of gas, drop "+e.entered(p.drop.Field), "There was a smell of gas"+p.when+
				" while the gauge did not move: the source is outside the part tested, or the gauge was not "+
				"connected to it.", quietLimit)
		}
	}
	if !told {
		return notThere("smell and drop are not both entered")
	}
	return sound("smell and drop agree", "No smell of gas was reported while the gauge did not move.", quietLimit)
}
