package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	commissioningOnly = []records.Purpose{records.Commissioning}

	inspectionLimit = words("open to view, or through hatches", records.ByStandard, tb008)
	guardLimit      = words("a guard below 2 m", records.ByStandard,
		clause(bs5440, "terminal less than 2 m above ground, a balcony or an accessible flat roof"))
	nuisanceLimit = words("plume does not reach a boundary, window or path", records.ByPractice, practice)
	flowLimit     = words("all smoke drawn up", records.ByStandard, sure(clause(bs5440, "flue flow test"),
		records.OneSource))
	spillageLimit = words("all smoke drawn in", records.ByStandard, sure(clause(bs5440, "spillage test"),
		records.OneSource))
)

var flueTopic = topic{
	rules: flueRules(),
	sample: map[*records.Field]string{
		records.FlueSystem.Field: records.FlueConcentric, records.FlueTerminal.Field: records.TerminalWall,
		records.FlueLengthM.Field: "1.80", records.FlueFallMM.Field: "52", records.FlueMakerParts.Field: "yes",
		records.FlueJoints.Field: "yes", records.FlueSupport.Field: "yes", records.FlueSeen.Field: "all",
		records.FlueLow.Field: "no", records.FluePlume.Field: "no",
	},
	rows: map[*records.RowsField][]map[string]string{
		&records.FlueBends: {{"angle_deg": "90", "count": "1", "equivalent_m": "1.0"}},
		&records.FlueDistances: {
			{"position": "above-ground", "distance_mm": "2350"},
			{"position": "beside-opening", "distance_mm": "640"},
			{"position": "below-eaves", "distance_mm": "410"},
			{"position": "corner-or-boundary", "distance_mm": "900"},
		},
	},
}

func flueRules() []Rule {
	id := records.Flue.ID
	condensing := []*records.Field{records.ApplianceCondensing.Field, records.ApplianceKind.Field}
	return []Rule{
		{ID: "flue.length", Title: "Flue length", Section: id, Purposes: commissioningOnly,
			Reads: []*records.Field{records.FlueLengthM.Field, records.FlueBends.Field,
				records.StatedFlueLengthMaxM.Field, records.StatedDocument.Field},
			Explains: "The length of the route plus what the manufacturer counts for each bend, against the longest " +
				"flue it allows. There is no general figure.",
			eval: on(flue.length)},
		{ID: "flue.fall", Title: "Fall back to the appliance", Section: id, Purposes: commissioningOnly,
			Reads: with(condensing, records.FlueTerminal.Field, records.FlueFallMM.Field,
				records.StatedFlueFallMinMM.Field, records.StatedDocument.Field),
			Explains: "Condensate must run back. Manufacturers ask for different falls, so without a stated one " +
				"nothing is judged and the finding stays open.",
			eval: on(flue.fall)},
		{ID: "flue.maker_parts", Title: "Parts approved by the manufacturer", Section: id,
			Reads:    []*records.Field{records.FlueMakerParts.Field},
			Explains: "The flue is part of a room-sealed appliance; other parts have not been tested with it.",
			eval: func(e *entries) records.Finding {
				return e.tested(records.FlueMakerParts, nil, records.AtRisk,
					"Parts and assembly are as approved by the manufacturer.",
					"Parts or assembly are not as approved by the manufacturer.")
			}},
		{ID: "flue.joints", Title: "Joints sound", Section: id, Reads: []*records.Field{records.FlueJoints.Field},
			Explains: "An open joint lets combustion products into the building.",
			eval: func(e *entries) records.Finding {
				return e.answer(records.FlueJoints, nil, records.AtRisk, "The joints are sound and sealed.",
					"A joint is not sound: combustion products can get into the building.")
			}},
		{ID: "flue.supports", Title: "Flue supported", Section: id, Reads: []*records.Field{records.FlueSupport.Field},
			Explains: "A sagging flue opens at the joints and holds condensate.",
			eval: func(e *entries) records.Finding {
				return e.answer(records.FlueSupport, nil, records.AtRisk,
					"The flue is supported as the instructions require.",
					"The flue is not supported as the instructions require.")
			}},
		{ID: "flue.inspection", Title: "Flue can be seen", Section: id,
			Reads: []*records.Field{records.FlueSeen.Field}, Limits: []records.Limit{inspectionLimit},
			Explains: "A flue in a void that cannot be inspected cannot be shown to be intact.",
			eval:     on(flue.inspection)},
		{ID: "flue.terminal", Title: "Terminal distances", Section: id, Reads: terminalReads(),
			Limits: terminalLimits(),
			Explains: "Each distance measured, against the minimum for its position and kind of flue; the " +
				"manufacturer's figure comes first. The finding is for the worst position.",
			eval: on(flue.terminal)},
		{ID: "flue.guard", Title: "Terminal guard", Section: id, Reads: []*records.Field{records.FlueLow.Field,
			records.FlueGuard.Field}, Limits: []records.Limit{guardLimit},
			Explains: "A terminal within reach needs a guard, so that nobody is burned and nothing blocks it.",
			eval:     on(flue.guard)},
		{ID: "flue.nuisance", Title: "Plume", Section: id, Reads: with(condensing, records.FluePlume.Field),
			Limits: []records.Limit{nuisanceLimit},
			Explains: "The plume of a condensing appliance can be a nuisance to neighbours. It is noted; it is not " +
				"a danger.",
			eval: on(flue.nuisance)},
		{ID: "flue.flow", Title: "Flue flow test", Section: id, Reads: []*records.Field{records.ApplianceFlue.Field,
			records.FlueFlow.Field}, Limits: []records.Limit{flowLimit},
			Explains: "Smoke at the base of an open flue must all be drawn up and be seen at the terminal.",
			eval: openFlue(records.FlueFlow, &flowLimit,
				"All smoke was drawn up.", "The flue does not draw, or it leaks: do not light the appliance.")},
		{ID: "flue.spillage", Title: "Spillage test", Section: id, Reads: []*records.Field{records.ApplianceFlue.Field,
			records.FlueSpillage.Field}, Limits: []records.Limit{spillageLimit},
			Explains: "With windows and doors shut and fans on, an open-flued appliance must not spill combustion " +
				"products into the room.",
			eval: openFlue(records.FlueSpillage, &spillageLimit,
				"All smoke was drawn in.", "Combustion products spill into the room: turn the appliance off.")},
	}
}

func (e flue) length() records.Finding {
	if f, ok := e.need(records.FlueLengthM.Field); !ok {
		return f
	}
	length, _ := e.Values.Float(records.FlueLengthM)
	working := []string{line("Route %s m.", show(length, 2))}
	if !above(length, 0) {
		return missing("There is no flue without length: measure it along its route.")
	}
	var bends []gas.FlueBend
	short := ""
	for i, row := range e.Values.Rows(records.FlueBends) {
		count, hasCount := row.Number("count")
		each, hasEach := row.Number("equivalent_m")
		if !hasCount || !hasEach {
			return missing(line("Bend row %d needs the number of bends and the length each counts as.", i+1))
		}
		if why := shortBend(row.Float("angle_deg"), each.Value); why != "" && short == "" {
			short = why
		}
		bends = append(bends, gas.FlueBend{Count: count.Value, EquivalentM: each.Value})
		working = append(working, line("%s × bend of %s°, each counted as %s m: %s m.", show(count.Value, 0),
			show(row.Float("angle_deg"), 1), show(each.Value, 2), show(count.Value*each.Value, 2)))
	}
	total, err := gas.EquivalentFlueLengthM(length, bends)
	if err != nil {
		return missing("The flue's length cannot be worked out: " + err.Error() + ".")
	}
	working = append(working, line("Together %s m.", show(total, 2)))
	reading := withUnit(show(total, 2), "m")
	longest, ok := e.Values.Float(records.StatedFlueLengthMaxM)
	if !ok {
		f := missing("The manufacturer's maximum length is not on the record.")
		f.Reading, f.Working = reading, working
		return f
	}
	f := e.verdict(ruled(total, reading), most(longest, "m", records.ByManufacturer, e.stated()), records.AtRisk,
		"The flue is not longer than the manufacturer allows.", "The flue is longer than the manufacturer allows.")
	f.Working = working
	f = e.asStated(f, nil, records.StatedFlueLengthMaxM)
	if short != "" {
		f = beyondBelief(f, short)
	}
	return f
}

func (e flue) fall() records.Finding {
	if f, ok := e.need(records.FlueTerminal.Field); !ok {
		return f
	}
	if e.Values.Choice(records.FlueTerminal) == records.TerminalRoof && !e.anyOf(records.FlueFallMM.Field) {
		return exempt("the flue rises to the roof")
	}
	stated, has := e.Values.Float(records.StatedFlueFallMinMM)
	if !has && !e.condensing() {
		return e.outOfScope(records.FlueFallMM.Field, "no fall is stated, and the appliance does not condense")
	}
	if f, ok := e.need(records.FlueFallMM.Field); !ok {
		return f
	}
	x, _ := e.Values.Float(records.FlueFallMM)
	reading := e.entered(records.FlueFallMM.Field)
	if !has {
		f := missing("The manufacturer's fall is not on the record; manufacturers differ, so none is assumed.")
		f.Reading = reading
		for _, degrees := range []float64{1.5, 2.5, 3} {
			if mm, err := gas.SlopeMMPerM(degrees); err == nil {
				f.Working = append(f.Working, line("%s° is %s mm/m.", show(degrees, 1), show(mm, 1)))
			}
		}
		return f
	}
	f := e.verdict(ruled(x, reading), least(stated, "mm/m", records.ByManufacturer, e.stated()), records.AtRisk,
		"Condensate runs back to the appliance.", "The flue does not fall enough: condensate will stay in it.")
	return e.asStated(f, nil, records.StatedFlueFallMinMM)
}

func (e flue) inspection() records.Finding {
	if f, ok := e.need(records.FlueSeen.Field); !ok {
		return f
	}
	l := inspectionLimit
	reading := e.entered(records.FlueSeen.Field)
	f := inside(reading, "The whole flue could be inspected.")
	if e.Values.Choice(records.FlueSeen) == "not" {
		f = outside(records.AtRisk, reading, "Part of the flue cannot be seen, so it cannot be shown to be intact. "+
			"This does not apply to a short flue straight through the wall.")
	}
	f.Limit = &l
	return f
}

func (e flue) guard() records.Finding {
	low, ok := e.Values.Flag(records.FlueLow)
	if !ok {
		return missing("Not answered: " + nameOf(records.FlueLow.Field) + ".")
	}
	l := guardLimit
	if !low {
		f := inside("not needed", "The terminal is out of reach.")
		f.Limit = &l
		return f
	}
	return e.answer(records.FlueGuard, &l, records.AtRisk, "A guard is fitted.",
		"The terminal is within reach and has no guard.")
}

func (e flue) nuisance() records.Finding {
	said, ok := e.Values.Flag(records.FluePlume)
	l := nuisanceLimit
	var f records.Finding
	switch {
	case !ok && !e.condensing():
		return exempt("the appliance does not condense")
	case !ok:
		return missing("Not answered: " + nameOf(records.FluePlume.Field) + ".")
	case said:
		f = outside(records.Observation, "yes", "The plume may be a nuisance: consider a plume kit.")
	default:
		f = inside("no", "The plume is no nuisance.")
	}
	f.Limit = &l
	return f
}

// openFlue makes a rule of a smoke test, which only open flues have.
func openFlue(field records.ChoiceField, l *records.Limit, in, out string) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		if f, ok := e.need(records.ApplianceFlue.Field); !ok {
			return f
		}
		if !e.Values.OpenFlued() && !e.anyOf(field.Field) {
			return exempt("the appliance is room-sealed")
		}
		if f, ok := e.need(field.Field); !ok {
			return f
		}
		reading, limit := e.entered(field.Field), *l
		f := inside(reading, in)
		if e.Values.Choice(field) == "failed" {
			f = outside(records.Immediate, reading, out)
		}
		f.Limit = &limit
		return f
	}
}
