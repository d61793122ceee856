package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	// The table of the 2023 edition has not been seen; its figures are those of
	// the editions before it.
	bs5440Vent = records.Source{Document: "BS 5440-2", Edition: "2023, figures as in the editions 2000 to 2009",
		Confidence: records.OneSource}

	openFlueLimit = words("5 cm² for each kW net above 7", records.ByStandard,
		sure(clause(bs5440Vent, "open flue in a room; Approved Document J"), records.Confirmed))
	openFlueNI = words("5 cm² for each kW net", records.ByStandard,
		clause(bs5440Vent, "open flue in a room, Northern Ireland: no 7 kW allowance"))
	openFlueAirtight = words("5 cm² for each kW net, very airtight dwelling", records.ByStandard,
		sure(records.Source{Document: "Approved Document J", Edition: "2010 with amendments",
			Clause: "open flue, air permeability at most 5 m³/(h·m²)"}, records.Unconfirmed))
	clearLimit = words("openings clear, and of a kind that cannot be closed", records.ByRegulation,
		clause(gasSafety, "regulation 26(9)(b): supply of combustion air"))
)

// compartmentLimit is one row of the table of compartments, for one opening.
func compartmentLimit(row gas.CompartmentVent, high bool) records.Limit {
	per, which := row.LowCm2KW, "low"
	if high {
		per, which = row.HighCm2KW, "high"
	}
	where := "room-sealed"
	if row.OpenFlued {
		where = "open flue"
	}
	if row.ToOutside {
		where += ", openings direct to outdoors"
	} else {
		where += ", openings into a room"
	}
	return words(line("%s: %s cm² for each kW net", which, show(per, 1)), records.ByStandard,
		records.Source{Document: row.Source, Clause: "compartment, " + where,
			Confidence: terminalConfidence[row.Confidence]})
}

func compartmentLimits(high bool) []records.Limit {
	var out []records.Limit
	for _, row := range gas.CompartmentVents() {
		l := compartmentLimit(row, high)
		l.Text = l.Source.Clause + "; " + l.Text
		out = append(out, l)
	}
	return out
}

var ventilationTopic = topic{
	rules: ventilationRules(),
	sample: map[*records.Field]string{
		records.VentPlace.Field: records.PlaceRoom, records.VentAirtight.Field: "no",
		records.VentOpeningCm2.Field: "0", records.VentStated.Field: records.VentUnstated,
		records.AlarmFitted.Field: "yes", records.AlarmRoom.Field: records.AlarmSameRoom,
		records.AlarmDistanceM.Field: "1.60", records.AlarmFixed.Field: records.AlarmCeiling,
		records.AlarmFromWallMM.Field: "420", records.AlarmStandard.Field: "yes",
		records.AlarmPower.Field: records.AlarmSealed, records.AlarmExpiry.Field: "2034-03-31",
		records.AlarmTested.Field: "yes",
	},
}

func ventilationRules() []Rule {
	id := records.Ventilation.ID
	common := []*records.Field{records.VentPlace.Field, records.VentStated.Field, records.VentStatedDocument.Field,
		records.ApplianceFlue.Field,
		records.RatedInputKW.Field, records.RatedInputBasis.Field, records.ApplianceFuel.Field}
	return append([]Rule{
		{ID: "ventilation.opening", Title: "Air for the appliance in a room", Section: id,
			Reads: with(common, records.VentOpeningCm2.Field, records.VentAirtight.Field,
				records.VentStatedLowCm2.Field),
			Limits: []records.Limit{openFlueLimit, openFlueNI, openFlueAirtight},
			Explains: "An open-flued appliance in a room needs a permanent opening sized by its rated net heat " +
				"input; a room-sealed one needs none. The manufacturer's figure comes first, and for a flueless " +
				"appliance nothing else is accepted.",
			eval: on(ventilation.room)},
		{ID: "ventilation.high", Title: "High opening of the compartment", Section: id,
			Reads:  with(common, records.VentTo.Field, records.VentHighCm2.Field, records.VentStatedHighCm2.Field),
			Limits: compartmentLimits(true),
			Explains: "A compartment needs a high and a low opening, sized by kind of flue, where they lead and the " +
				"rated net heat input. Many room-sealed appliances need none: the manufacturer's figure comes first.",
			eval: compartmentOpening(true, records.VentHighCm2, records.VentStatedHighCm2)},
		{ID: "ventilation.low", Title: "Low opening of the compartment", Section: id,
			Reads:  with(common, records.VentTo.Field, records.VentLowCm2.Field, records.VentStatedLowCm2.Field),
			Limits: compartmentLimits(false),
			Explains: "As for the high opening. For an open flue the low one is larger, because it also brings in " +
				"the air for combustion.",
			eval: compartmentOpening(false, records.VentLowCm2, records.VentStatedLowCm2)},
		{ID: "ventilation.clear", Title: "Openings clear", Section: id,
			Reads: []*records.Field{records.VentOpeningCm2.Field, records.VentHighCm2.Field,
				records.VentLowCm2.Field, records.VentClear.Field},
			Limits:   []records.Limit{clearLimit},
			Explains: "An opening that is blocked, or can be closed, gives no air.",
			eval:     on(ventilation.clear)},
	}, alarmRules()...)
}

// ventNeed is what the general rule requires of one opening: a limit, or why
// none is needed, or what is missing.
type ventNeed struct {
	limit        *records.Limit
	none, unsaid string
	working      []string
}

const flueless = "A flueless appliance needs air according to its kind and the size of its room: enter what its " +
	"instructions state."

func (e ventilation) room() records.Finding {
	if f, ok := e.need(records.VentPlace.Field); !ok {
		return f
	}
	switch place := e.Values.Choice(records.VentPlace); {
	case e.anyOf(records.VentOpeningCm2.Field): // judged wherever the appliance is said to be
	case place == records.PlaceCompartment:
		return exempt("it is in a compartment, whose high and low openings are judged")
	case place == records.PlaceOutdoors:
		return exempt("it is outdoors")
	}
	if f, ok := e.need(records.ApplianceFlue.Field); !ok {
		return f
	}
	return e.opening(e.roomNeed(), records.VentOpeningCm2, records.VentStatedLowCm2)
}

func (e *entries) roomNeed() ventNeed {
	switch {
	case e.Values.Choice(records.ApplianceFlue) == records.FlueNone:
		return ventNeed{unsaid: flueless}
	case !e.Values.OpenFlued():
		return ventNeed{none: "a room-sealed appliance takes no air from the room"}
	}
	net, _, ok := e.ratedKW()
	if !ok {
		return ventNeed{unsaid: "The area depends on the rated heat input, which is not on the record as net or gross."}
	}
	general, every := openFlueLimit, false
	if e.Property.Nation == records.NorthernIreland {
		general, every = openFlueNI, true
	}
	if yes, answered := e.Values.Flag(records.VentAirtight); !every && !answered && above(net, 0) {
		return ventNeed{unsaid: "Not answered: " + nameOf(records.VentAirtight.Field) + "."}
	} else if yes {
		general, every = openFlueAirtight, true
	}
	cm2, err := gas.FreeAreaForOpenFlueCm2(net, every)
	if err != nil {
		return ventNeed{unsaid: "The general rule only goes up to 70 kW net: enter what the instructions state."}
	}
	if equal(cm2, 0) {
		return ventNeed{none: "an open flue up to 7 kW net needs no opening"}
	}
	l := least(roundTo(cm2, 1), "cm²", general.Rank, general.Source)
	working := line("(%s kW net − 7) × 5 cm² = %s cm².", show(net, 2), show(cm2, 1))
	if every {
		working = line("%s kW net × 5 cm² = %s cm²: no 7 kW allowance here.", show(net, 2), show(cm2, 1))
	}
	return ventNeed{limit: &l, working: []string{working}}
}

// compartmentOpening makes the rule of the high or the low opening.
func compartmentOpening(high bool, measured, stated records.NumberField) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		if f, ok := e.need(records.VentPlace.Field); !ok {
			return f
		}
		if e.Values.Choice(records.VentPlace) != records.PlaceCompartment && !e.anyOf(measured.Field) {
			return exempt("it is not in a compartment")
		}
		if f, ok := e.need(records.ApplianceFlue.Field, records.VentTo.Field); !ok {
			return f
		}
		return e.opening(e.compartmentNeed(high), measured, stated)
	}
}

func (e *entries) compartmentNeed(high bool) ventNeed {
	if e.Values.Choice(records.ApplianceFlue) == records.FlueNone {
		return ventNeed{unsaid: flueless}
	}
	net, _, ok := e.ratedKW()
	if !ok {
		return ventNeed{unsaid: "The area depends on the rated heat input, which is not on the record as net or gross."}
	}
	area, err := gas.CompartmentAreaOf(e.Values.OpenFlued(), e.Values.Choice(records.VentTo) == records.VentToOutside,
		net)
	if err != nil {
		return ventNeed{unsaid: "The general rule only goes up to 70 kW net: enter what the instructions state."}
	}
	row, cm2, per := compartmentLimit(area.Per, high), area.LowCm2, area.Per.LowCm2KW
	if high {
		cm2, per = area.HighCm2, area.Per.HighCm2KW
	}
	l := least(roundTo(cm2, 1), "cm²", row.Rank, row.Source)
	return ventNeed{limit: &l, working: []string{line("%s kW net × %s cm² = %s cm².", show(net, 2), show(per, 1),
		show(cm2, 1))}}
}

// opening judges one opening: what the manufacturer states first, then the
// general rule.
func (e *entries) opening(need ventNeed, measured, stated records.NumberField) records.Finding {
	source := records.Source{Document: e.Values.Text(records.VentStatedDocument),
		Clause: "manufacturer's instructions", Confidence: records.Confirmed}
	says := e.Values.Choice(records.VentStated)
	own := says == records.VentStatedNone || says == records.VentStatedArea
	switch {
	case own && source.Document == "":
		return missing("Not entered: " + nameOf(records.VentStatedDocument.Field) + ".")
	case says == records.VentStatedNone && need.none == "":
		f := inside("none needed", "The manufacturer states that no ventilation is needed.")
		l := words("no ventilation needed", records.ByManufacturer, source)
		f.Limit, f.Outranked, f.Working = &l, need.limit, need.working
		return f
	case says != records.VentStatedArea && need.none != "":
		return e.outOfScope(measured.Field, need.none)
	case says != records.VentStatedArea && need.unsaid != "":
		return missing(need.unsaid)
	}
	l := need.limit
	if says == records.VentStatedArea {
		if f, ok := e.need(stated.Field); !ok {
			return f
		}
		cm2, _ := e.Values.Float(stated)
		own := least(cm2, "cm²", records.ByManufacturer, source)
		l = &own
	}
	cm2, reading := 0.0, "no opening"
	if e.Values.Choice(records.VentPlace) != records.PlaceCompartment ||
		e.Values.Choice(records.VentTo) != records.VentNone {
		if f, ok := e.need(measured.Field); !ok {
			return f
		}
		cm2, _ = e.Values.Float(measured)
		reading = e.entered(measured.Field)
	}
	f := e.verdict(ruled(cm2, reading), *l, records.AtRisk, "The opening is large enough.",
		"The opening is too small for this appliance: it may not get enough air.")
	f.Working = need.working
	if says == records.VentStatedArea {
		return e.asStated(f, need.limit, stated)
	}
	return f
}

func (e ventilation) clear() records.Finding {
	for _, f := range []records.NumberField{records.VentOpeningCm2, records.VentHighCm2, records.VentLowCm2} {
		if cm2, _ := e.Values.Float(f); cm2 > 0 {
			return e.answer(records.VentClear, copyOf(clearLimit), records.AtRisk,
				"The openings are clear and cannot be closed.",
				"An opening is blocked or can be closed: the appliance may not get enough air.")
		}
	}
	if clear, answered := e.Values.Flag(records.VentClear); answered && !clear {
		return outside(records.AtRisk, "no", "An opening is said to be blocked or to close, and none is on the record.")
	}
	return exempt("no opening is on the record")
}
