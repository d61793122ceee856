package rules

import (
	"gaugebook/records"
)

var (
	alarmEngland = words("an alarm in the room of a new or replacement appliance, not one for cooking alone",
		records.ByRegulation,
		dated(records.Source{Document: "Approved Document J, England", Edition: "2010 with 2022 amendments",
			Confidence: records.Confirmed}, "2022-10-01", ""))
	alarmEnglandLet = words("an alarm in each living room with a fixed appliance other than a cooker",
		records.ByRegulation,
		dated(records.Source{Document: "Smoke and Carbon Monoxide Alarm (England) Regulations 2015",
			Edition: "as amended 2022", Confidence: records.Confirmed}, "2022-10-01", ""))
	alarmWales = words("an alarm in each space with a new or replacement flued appliance", records.ByRegulation,
		dated(records.Source{Document: "Approved Document J, Wales", Edition: "2010 with 2024 amendments",
			Confidence: records.Confirmed}, "2025-01-06", ""))
	alarmWalesLet = words("an alarm in each room with a gas appliance, cookers included", records.ByRegulation,
		dated(records.Source{Document: "Renting Homes (Fitness for Human Habitation) (Wales) Regulations 2022",
			Clause: "regulation 5", Confidence: records.Confirmed}, "2022-12-01", ""))
	alarmScotland = words("an alarm in each space with a new or replacement appliance, not one for cooking alone",
		records.ByRegulation,
		dated(records.Source{Document: "Building Standards Technical Handbook, Scotland, domestic", Clause: "3.20.20",
			Confidence: records.Confirmed}, "2013-10-01", ""))
	alarmScotlandAll = words("an alarm in each room with an appliance or flue, not one for cooking alone",
		records.ByRegulation,
		dated(records.Source{Document: "Housing (Scotland) Act 1987", Edition: "tolerable standard as amended 2019",
			Confidence: records.Confirmed}, "2022-02-01", ""))
	alarmNI = words("an alarm in the room of a new or replacement appliance, not one for cooking alone",
		records.ByRegulation,
		dated(records.Source{Document: "Technical Booklet L, Northern Ireland", Edition: "2012",
			Confidence: records.Unconfirmed}, "2012-10-31", ""))
	alarmNILet = words("an alarm in each room with an appliance", records.ByRegulation,
		dated(records.Source{Document: "Smoke, Heat and Carbon Monoxide Alarms for Private Tenancies Regulations " +
			"(Northern Ireland) 2024", Confidence: records.Unconfirmed}, "2024-12-01", ""))
	alarmAdvised = words("an alarm near every appliance", records.ByPractice, practice)

	en50292       = records.Source{Document: "BS EN 50292", Confidence: records.Confirmed}
	alarmRoom     = words("in the room or space of the appliance", records.ByStandard, en50292)
	alarmDistance = span(1, 3, "m", records.ByStandard, clause(en50292, "across from the appliance"))
	alarmCeiling  = least(300, "mm", records.ByStandard, clause(en50292, "on a ceiling: from walls and obstructions"))
	alarmWall     = least(150, "mm", records.ByStandard,
		clause(en50292, "on a wall: below the ceiling, above doors and windows"))
	alarmMark = words("marked BS EN 50291-1", records.ByStandard, records.Source{Document: "BS EN 50291-1",
		Edition: "2018; Approved Document J cites it", Confidence: records.Confirmed})
	alarmPower    = words("a battery for its working life, or fixed wiring", records.ByRegulation, alarmEngland.Source)
	alarmPowerSco = words("a sealed battery for its working life, or fixed wiring", records.ByRegulation,
		sure(alarmScotlandAll.Source, records.OneSource))
	alarmDate = words("not past the date marked on it", records.ByManufacturer,
		records.Source{Document: "Replace-by date marked by the alarm's manufacturer", Confidence: records.Confirmed})
	alarmSounds = words("sounds when tested", records.ByManufacturer,
		records.Source{Document: "The alarm's instructions", Confidence: records.Practice})
)

func alarmDemands() []records.Limit {
	return []records.Limit{alarmEngland, alarmEnglandLet, alarmWales, alarmWalesLet, alarmScotland, alarmScotlandAll,
		alarmNI, alarmNILet, alarmAdvised}
}

func alarmRules() []Rule {
	id := records.Ventilation.ID
	fitted := []*records.Field{records.AlarmFitted.Field}
	demand := with(fitted, records.ApplianceInstalled.Field, records.ApplianceKind.Field, records.ApplianceFlue.Field)
	return []Rule{
		{ID: "ventilation.alarm", Title: "Carbon monoxide alarm present", Section: id, Reads: demand,
			Limits: alarmDemands(),
			Explains: "Whether the law asks for an alarm depends on the nation, the date, whether the appliance is " +
				"new, whether the home is let, and whether it only cooks. Where nothing asks for one, it is advised " +
				"and not judged.",
			eval: on(alarm.present)},
		{ID: "ventilation.alarm_place", Title: "Alarm in the appliance's room", Section: id,
			Reads: with(demand, records.AlarmRoom.Field), Limits: append(alarmDemands(), alarmRoom),
			Explains: "An alarm in another room warns late, or about something else.",
			eval:     ifAlarm(on(alarm.place))},
		{ID: "ventilation.alarm_distance", Title: "Alarm's distance from the appliance", Section: id,
			Reads:    with(fitted, records.AlarmRoom.Field, records.AlarmDistanceM.Field),
			Limits:   []records.Limit{alarmDistance},
			Explains: "Too near, and a puff at lighting sets it off; too far, and it sounds late.",
			eval:     ifAlarm(on(alarm.near))},
		{ID: "ventilation.alarm_position", Title: "Alarm's position on ceiling or wall", Section: id,
			Reads: with(fitted, records.AlarmRoom.Field, records.AlarmFixed.Field, records.AlarmFromWallMM.Field,
				records.AlarmBelowCeilingMM.Field, records.AlarmAboveOpenings.Field),
			Limits: []records.Limit{alarmCeiling, alarmWall},
			Explains: "Warm combustion products rise: the alarm goes high up, away from dead corners and above " +
				"doors and windows.",
			eval: ifAlarm(on(alarm.position))},
		{ID: "ventilation.alarm_standard", Title: "Alarm of the right standard", Section: id,
			Reads: with(fitted, records.AlarmStandard.Field), Limits: []records.Limit{alarmMark},
			Explains: "A carbon monoxide alarm for homes is made to BS EN 50291-1; a colour-change patch or a smoke " +
				"alarm does not count.",
			eval: ifAlarm(onAnswer(records.AlarmStandard, alarmMark, records.Observation,
				"The alarm is marked with the standard for homes.",
				"The alarm is not marked with the standard for homes."))},
		{ID: "ventilation.alarm_power", Title: "Alarm's power", Section: id,
			Reads: with(demand, records.AlarmPower.Field), Limits: []records.Limit{alarmPower, alarmPowerSco},
			Explains: "England, for building work, and Scotland ask for a battery that lasts as long as the alarm, " +
				"or for fixed wiring.",
			eval: ifAlarm(on(alarm.powered))},
		{ID: "ventilation.alarm_expiry", Title: "Alarm not past its date", Section: id,
			Reads: with(fitted, records.AlarmExpiry.Field), Limits: []records.Limit{alarmDate},
			Explains: "The sensor wears out; the manufacturer marks the date by which to replace the alarm.",
			eval:     ifAlarm(on(alarm.inDate))},
		{ID: "ventilation.alarm_tested", Title: "Alarm tested", Section: id,
			Reads: with(fitted, records.AlarmTested.Field), Limits: []records.Limit{alarmSounds},
			Explains: "The test button proves that it has power and sounds, not that the sensor works.",
			eval: ifAlarm(onAnswer(records.AlarmTested, alarmSounds, records.Observation,
				"The alarm sounded at its test button.",
				"The alarm does not sound when tested: it will warn nobody."))},
	}
}

// alarmDemand returns the rule that requires an alarm there on that day.
func (e *entries) alarmDemand() (records.Limit, bool) {
	installing := e.installing()
	let := e.Purpose == records.LandlordCheck || e.Contact.Tenure != records.OwnerOccupier && e.Contact.Tenure != ""
	cooks := e.Values.Choice(records.ApplianceKind) == records.KindCooker
	var of []records.Limit
	add := func(applies bool, l records.Limit) {
		if applies && e.current(l.Source) {
			of = append(of, l)
		}
	}
	switch e.Property.Nation {
	case records.England:
		add(installing && !cooks, alarmEngland)
		add(let && !cooks, alarmEnglandLet)
	case records.Wales:
		add(installing && e.Values.Choice(records.ApplianceFlue) != records.FlueNone, alarmWales)
		add(let, alarmWalesLet)
	case records.Scotland:
		add(!cooks, alarmScotlandAll)
		add(installing && !cooks, alarmScotland)
	case records.NorthernIreland:
		add(installing && !cooks, alarmNI)
		add(let, alarmNILet)
	}
	if len(of) == 0 {
		return alarmAdvised, false
	}
	return of[0], true
}

func (e alarm) present() records.Finding {
	present, answered := e.Values.Flag(records.AlarmFitted)
	l, demanded := e.alarmDemand()
	var f records.Finding
	switch {
	case !answered:
		return missing("Not answered: " + nameOf(records.AlarmFitted.Field) + ".")
	case present:
		f = inside("yes", "A carbon monoxide alarm is present.")
	case demanded:
		f = outside(records.Observation, "no",
			"There is no carbon monoxide alarm where one is required: have one fitted.")
	default:
		return exempt("no rule we know of asked for an alarm here on that date; one is still advised")
	}
	f.Limit = &l
	return f
}

// ifAlarm judges only where an alarm is fitted.
func ifAlarm(eval func(*entries) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		if present, _ := e.Values.Flag(records.AlarmFitted); !present {
			return e.ruledOut("no alarm is on the record", eval)
		}
		return eval(e)
	}
}

func (e alarm) place() records.Finding {
	if f, ok := e.need(records.AlarmRoom.Field); !ok {
		return f
	}
	l := alarmRoom
	if demand, demanded := e.alarmDemand(); demanded {
		l = demand
	}
	f := inside(e.entered(records.AlarmRoom.Field), "The alarm is in the same room or space as the appliance.")
	if e.Values.Choice(records.AlarmRoom) != records.AlarmSameRoom {
		f = outside(records.Observation, f.Reading,
			"The alarm is not in the same room or space as the appliance: have one fitted there.")
	}
	f.Limit = &l
	return f
}

const alarmElsewhere = "the alarm is not in the appliance's room"

func (e alarm) near() records.Finding {
	if e.Values.Choice(records.AlarmRoom) == records.AlarmOtherRoom && !e.anyOf(e.rule.own...) {
		return exempt(alarmElsewhere)
	}
	if f, ok := e.taken(records.AlarmDistanceM.Field); !ok {
		return f
	}
	x, _ := e.Values.Float(records.AlarmDistanceM)
	return e.verdict(ruled(x, e.entered(records.AlarmDistanceM.Field)), alarmDistance, records.Observation,
		"The alarm is at a suitable distance.",
		"The alarm is too near the appliance or too far from it; the alarm's own instructions decide.")
}

func (e alarm) position() records.Finding {
	if e.Values.Choice(records.AlarmRoom) == records.AlarmOtherRoom && !e.anyOf(e.rule.own...) {
		return exempt(alarmElsewhere)
	}
	if f, ok := e.taken(records.AlarmFixed.Field); !ok {
		return f
	}
	const in, out = "The alarm is well placed.",
		"The alarm is in a dead corner or too low; its own instructions decide."
	switch e.Values.Choice(records.AlarmFixed) {
	case records.AlarmCeiling:
		if f, ok := e.taken(records.AlarmFromWallMM.Field); !ok {
			return f
		}
		x, _ := e.Values.Float(records.AlarmFromWallMM)
		return e.verdict(ruled(x, e.entered(records.AlarmFromWallMM.Field)+" from the wall"), alarmCeiling,
			records.Observation,
			in, out)
	case records.AlarmWall:
		if f, ok := e.taken(records.AlarmBelowCeilingMM.Field, records.AlarmAboveOpenings.Field); !ok {
			return f
		}
		x, _ := e.Values.Float(records.AlarmBelowCeilingMM)
		f := e.verdict(ruled(x, e.entered(records.AlarmBelowCeilingMM.Field)+" below the ceiling"), alarmWall,
			records.Observation, in, out)
		if high, _ := e.Values.Flag(records.AlarmAboveOpenings); !high {
			f.Outcome, f.AtLimit, f.Suggested = records.Outside, false, records.Observation
			f.Reason = "The alarm is lower than a door or window; its own instructions decide."
		}
		return f
	}
	return e.outOfScope(records.AlarmFixed.Field, "it is free-standing: its own instructions say where to put it")
}

func (e alarm) powered() records.Finding {
	if f, ok := e.taken(records.AlarmPower.Field); !ok {
		return f
	}
	l, demanded := alarmPower, false
	switch demand, _ := e.alarmDemand(); demand.Source {
	case alarmEngland.Source:
		demanded = true
	case alarmScotlandAll.Source:
		l, demanded = alarmPowerSco, true
	}
	reading := e.entered(records.AlarmPower.Field)
	f := inside(reading, "The alarm has power for its whole working life.")
	if e.Values.Choice(records.AlarmPower) == records.AlarmReplaceable {
		if !demanded {
			return e.outOfScope(records.AlarmPower.Field,
				"a replaceable battery is allowed here; one that lasts the alarm's life is better")
		}
		f = outside(records.Observation, reading,
			"The alarm has a replaceable battery: here it must last the alarm's life, or the alarm must be wired.")
	}
	if demanded {
		f.Limit = &l
	}
	return f
}

// longestAlarmYears is longer than any alarm is marked to last. Common practice:
// 5 to 10 years.
const longestAlarmYears = 12

func (e alarm) inDate() records.Finding {
	if f, ok := e.need(records.AlarmExpiry.Field); !ok {
		return f
	}
	if e.WorkDate.IsZero() {
		return missing("Not entered: date of the work.")
	}
	until := e.Values.Date(records.AlarmExpiry)
	f := inside(until.Long(), "The alarm is not past its date.")
	if until.Before(e.WorkDate) {
		f = outside(records.Observation, until.Long(), "The alarm is past the date marked on it: have it replaced.")
	}
	if until.After(e.WorkDate.AddMonths(12 * longestAlarmYears)) {
		f = doubtful(until.Long(), line("No alarm is made to last that long, more than %d years: read the date on "+
			"it again.",
			longestAlarmYears))
	}
	f.AtLimit = until == e.WorkDate
	f.Limit = copyOf(alarmDate)
	return f
}
