package rules

import (
	"gaugebook/records"
)

var (
	bs7671 = records.Source{Document: "BS 7671", Confidence: records.Confirmed}

	fuseLimit     = most(3, "A", records.ByPractice, clause(manuals, "fuse to BS 1362"))
	electricLimit = words("earth, polarity and isolation proved", records.ByPractice,
		sure(clause(manuals, "electrical checks before firing"), records.Unconfirmed))
	bondLimit = words("main bonding on the consumer's pipe where it is metal", records.ByStandard,
		clause(bs7671, "544.1.2"))
	bondSizeLimit = least(10, "mm²", records.ByStandard, sure(clause(bs7671, "usual; 6 mm² on some supplies"),
		records.Unconfirmed))
	bondPlaceLimit = most(600, "mm", records.ByStandard,
		clause(bs7671, "544.1.2: from the meter outlet, where practicable"))

	controlsEngland = words("time and temperature control, and interlock", records.ByRegulation,
		dated(records.Source{Document: "Approved Document L and its compliance guide, England",
			Edition: "2018 amendments", Confidence: records.OneSource}, "2018-04-06", ""))
	controlsAdvised = words("time and temperature control, and interlock", records.ByPractice, practice)
	extraLimit      = words("one of: heat recovery, weather or load compensation, thermostat with automation and "+
		"optimisation", records.ByRegulation,
		clause(controlsEngland.Source, "combination boiler, new or replacement"))
	valvesLimit = words("thermostatic valves except in the reference room", records.ByPractice,
		sure(clause(practice, "heating controls"), records.Unconfirmed))
	zonesLimit = least(2, "zones", records.ByPractice, sure(clause(practice, "above 150 m² heated"),
		records.Unconfirmed))
)

// zoneFloorM2 is the floor area above which one zone is not enough.
const zoneFloorM2 = 150.0

// bondLeastMM2 is the least bonding conductor on any supply.
const bondLeastMM2 = 6.0

var electricalTopic = topic{
	rules: electricalRules(),
	sample: map[*records.Field]string{
		records.ElectricSupply.Field: records.SupplySpur, records.FuseA.Field: "3",
		records.Polarity.Field: "yes", records.Earthed.Field: "yes", records.Isolation.Field: "yes",
		records.Bond.Field: records.BondFitted, records.BondMM2.Field: "10",
		records.BondAt.Field: records.BondAtMeter, records.BondFromMeterMM.Field: "350",
		records.TimeControl.Field: "yes", records.RoomControl.Field: "yes", records.Interlock.Field: "yes",
		records.RadValves.Field: "yes", records.FloorM2.Field: "96", records.Zones.Field: "1",
		records.Compensation.Field: records.ExtraLoad, records.ExtraMeasure.Field: records.ExtraLoad,
	},
}

func electricalRules() []Rule {
	id := records.Electrical.ID
	supply := []*records.Field{records.ElectricSupply.Field}
	proven := func(field records.FlagField, class records.Class, yes, no string) func(*entries) records.Finding {
		return ifSupplied(func(e *entries) records.Finding {
			return e.tested(field, copyOf(electricLimit), class, yes, no)
		})
	}
	return []Rule{
		{ID: "electrical.fuse", Title: "Fuse", Section: id, Reads: with(supply, records.FuseA.Field,
			records.FuseStatedA.Field, records.StatedDocument.Field), Limits: []records.Limit{fuseLimit},
			Explains: "A fuse that is too large does not protect the appliance's wiring. The manufacturer's figure " +
				"comes first.",
			eval: ifSupplied(on(electrical.fuse))},
		{ID: "electrical.polarity", Title: "Polarity", Section: id, Reads: with(supply, records.Polarity.Field),
			Limits:   []records.Limit{electricLimit},
			Explains: "With live and neutral reversed, parts stay live when switched off and flame detection can fail.",
			eval: proven(records.Polarity, records.AtRisk, "Polarity is correct.",
				"Live and neutral are reversed.")},
		{ID: "electrical.earth", Title: "Earth", Section: id, Reads: with(supply, records.Earthed.Field),
			Limits:   []records.Limit{electricLimit},
			Explains: "Without an earth, a fault can make the casing live.",
			eval: proven(records.Earthed, records.AtRisk, "The earth is continuous.",
				"The earth is not proved: do not leave the appliance on.")},
		{ID: "electrical.isolation", Title: "Isolation at one point", Section: id,
			Reads: with(supply, records.Isolation.Field), Limits: []records.Limit{electricLimit},
			Explains: "The appliance and its controls must be isolated together before anyone opens them.",
			eval: proven(records.Isolation, records.Observation, "One switch isolates the appliance and its controls.",
				"One switch does not isolate the appliance and its controls.")},
		{ID: "electrical.bond", Title: "Main bonding", Section: id, Reads: []*records.Field{records.Bond.Field},
			Limits: []records.Limit{bondLimit},
			Explains: "Anyone working on the gas pipework tells the customer if bonding is missing; fitting it is " +
				"for a competent electrician.",
			eval: on(electrical.bond)},
		{ID: "electrical.bond_size", Title: "Bonding conductor", Section: id,
			Reads: []*records.Field{records.Bond.Field, records.BondMM2.Field}, Limits: []records.Limit{bondSizeLimit},
			Explains: "10 mm² is usual; whether 6 to 10 mm² is enough depends on the supply, so that is doubtful.",
			eval:     on(electrical.bondSize)},
		{ID: "electrical.bond_place", Title: "Bonding near the meter", Section: id,
			Reads:  []*records.Field{records.Bond.Field, records.BondAt.Field, records.BondFromMeterMM.Field},
			Limits: []records.Limit{bondPlaceLimit},
			Explains: "On the consumer's pipework before any branch, within 600 mm of the meter where practicable, " +
				"or where the pipe enters the building if the meter is outdoors.",
			eval: on(electrical.bondPlace)},
		control("electrical.time_control", "Heating times", records.TimeControl, "Heating times can be set.",
			"Heating times cannot be set."),
		control("electrical.room_control", "Room temperature", records.RoomControl, "Room temperature is controlled.",
			"Room temperature is not controlled."),
		control("electrical.interlock", "Boiler interlock", records.Interlock,
			"Boiler and pump stop when there is no call for heat.",
			"The boiler keeps firing when there is no call for heat."),
		{ID: "electrical.cylinder_control", Title: "Cylinder control", Section: id,
			Reads:    kindAnd(records.CylinderSet.Field, records.ApplianceInstalled.Field),
			Limits:   []records.Limit{controlsEngland, controlsAdvised},
			Explains: "A cylinder without its own thermostat overheats and fires the boiler for nothing.",
			eval:     ifHeating(on(electrical.cylinder))},
		{ID: "electrical.radiator_valves", Title: "Radiator valves", Section: id,
			Reads: kindAnd(records.RadValves.Field), Limits: []records.Limit{valvesLimit},
			Explains: "They let each room have its own temperature.",
			eval: ifHeating(onTest(records.RadValves, valvesLimit, records.Observation,
				"The radiators have thermostatic valves.", "Radiators lack thermostatic valves."))},
		{ID: "electrical.zones", Title: "Heating zones", Section: id, Reads: kindAnd(records.FloorM2.Field,
			records.Zones.Field), Limits: []records.Limit{zonesLimit},
			Explains: "A large home is heated in at least two zones.",
			eval:     ifHeating(on(electrical.zones))},
		{ID: "electrical.extra_measure", Title: "Further measure for a combination boiler", Section: id,
			Purposes: commissioningOnly,
			Reads: kindAnd(records.ApplianceInstalled.Field, records.ExtraMeasure.Field,
				records.Compensation.Field), Limits: []records.Limit{extraLimit},
			Explains: "Since 6 April 2018 a new or replacement combination boiler in England needs one of four " +
				"further measures.",
			eval: on(electrical.extraMeasure)},
	}
}

// ifSupplied judges only appliances with electricity.
func ifSupplied(eval func(*entries) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		if f, ok := e.gate(records.ElectricSupply.Field); !ok {
			return f
		}
		if e.Values.Choice(records.ElectricSupply) == records.SupplyAbsent {
			return e.ruledOut("the appliance has no electricity supply", eval)
		}
		return eval(e)
	}
}

func (e electrical) fuse() records.Finding {
	if f, ok := e.taken(records.FuseA.Field); !ok {
		return f
	}
	a, _ := e.Values.Float(records.FuseA)
	l := fuseLimit
	if own, ok := e.Values.Float(records.FuseStatedA); ok {
		l = most(own, "A", records.ByManufacturer, e.stated())
	}
	f := e.verdict(setTo(a, e.entered(records.FuseA.Field)), l, records.Observation, "The fuse is not too large.",
		"The fuse is too large for the appliance.")
	return e.asStated(f, copyOf(fuseLimit), records.FuseStatedA)
}

func (e electrical) bond() records.Finding {
	if f, ok := e.taken(records.Bond.Field); !ok {
		return f
	}
	f := inside(e.entered(records.Bond.Field), "Main bonding is as it should be.")
	if e.Values.Choice(records.Bond) == records.BondAbsent {
		f = outside(records.Observation, f.Reading,
			"Main bonding is missing: tell the customer to have a competent electrician fit it.")
	}
	f.Limit = copyOf(bondLimit)
	return f
}

// noBond is why bonding is not judged further, or "".
func (e *entries) noBond() string {
	switch e.Values.Choice(records.Bond) {
	case records.BondAbsent, records.BondPlastic:
		return "there is no bonding to measure"
	}
	return ""
}

func (e electrical) bondSize() records.Finding {
	if why := e.noBond(); why != "" && !e.anyOf(e.rule.own...) {
		return exempt(why)
	}
	if f, ok := e.gate(records.Bond.Field); !ok {
		return f
	}
	if f, ok := e.taken(records.BondMM2.Field); !ok {
		return f
	}
	mm2, _ := e.Values.Float(records.BondMM2)
	f := e.verdict(setTo(mm2, e.entered(records.BondMM2.Field)), bondSizeLimit, records.Observation,
		"The conductor is large enough.", "The conductor is too small on any supply.")
	if f.Outcome == records.Outside && !below(mm2, bondLeastMM2) {
		f.Outcome, f.Suggested = records.Doubtful, ""
		f.Reason = "Enough on some supplies only: ask a competent electrician."
	}
	return f
}

func (e electrical) bondPlace() records.Finding {
	if why := e.noBond(); why != "" && !e.anyOf(e.rule.own...) {
		return exempt(why)
	}
	if f, ok := e.gate(records.Bond.Field); !ok {
		return f
	}
	if f, ok := e.gate(records.BondAt.Field); !ok {
		return f
	}
	if e.Values.Choice(records.BondAt) == records.BondAtEntry {
		f := inside(e.entered(records.BondAt.Field), "The bonding is where the pipe enters the building.")
		f.Limit = copyOf(bondLimit)
		return f
	}
	return e.measured(records.BondFromMeterMM, bondPlaceLimit, "The bonding is near enough to the meter.",
		"The bonding is too far from the meter: it should be nearer where practicable.")
}

// controlsLimit is the law where a boiler is installed in England, common
// practice otherwise.
func (e *entries) controlsLimit() *records.Limit {
	if e.installing() && e.Property.Nation == records.England && e.current(controlsEngland.Source) {
		return copyOf(controlsEngland)
	}
	return copyOf(controlsAdvised)
}

// installing reports whether the appliance is new at this visit.
func (e *entries) installing() bool {
	return e.commissioning() && e.Values.Choice(records.ApplianceInstalled) != "existing"
}

// control makes a rule of one of the controls that a boiler needs.
func control(id, title string, field records.FlagField, yes, no string) Rule {
	return Rule{ID: id, Title: title, Section: records.Electrical.ID, Reads: kindAnd(field.Field,
		records.ApplianceInstalled.Field),
		Limits: []records.Limit{controlsEngland, controlsAdvised},
		Explains: "England requires it where a boiler is new or replaced; elsewhere it is compared with common " +
			"practice, and the nation's own rules decide.",
		eval: ifHeating(func(e *entries) records.Finding {
			return e.tested(field, e.controlsLimit(), records.Observation, yes, no)
		})}
}

func (e electrical) cylinder() records.Finding {
	if e.Values.Choice(records.ApplianceKind) == records.KindCombination && !e.anyOf(records.CylinderSet.Field) {
		return exempt("a combination boiler heats no cylinder")
	}
	return e.tested(records.CylinderSet, e.controlsLimit(), records.Observation,
		"The cylinder has its own controls.", "The cylinder has no controls of its own.")
}

func (e electrical) zones() records.Finding {
	if f, ok := e.taken(records.FloorM2.Field, records.Zones.Field); !ok {
		return f
	}
	area, _ := e.Values.Float(records.FloorM2)
	n, _ := e.Values.Float(records.Zones)
	reading := line("%s for %s m²", show(n, 0), show(area, 0))
	if !above(area, zoneFloorM2) {
		f := inside(reading, "Up to 150 m², one zone is enough.")
		f.Limit = copyOf(zonesLimit)
		return f
	}
	return e.verdict(setTo(n, reading), zonesLimit, records.Observation, "The home is heated in zones.",
		"A home of this size usually has at least two heating zones.")
}

func (e electrical) extraMeasure() records.Finding {
	named := records.ExtraMeasure.Field
	switch k := e.Values.Choice(records.ApplianceKind); {
	case k != records.KindCombination && k != "":
		return e.outOfScope(named, "required of combination boilers only")
	case e.Property.Nation != records.England:
		return e.outOfScope(named,
			"only England requires it; the other nations have their own rules, which could not be confirmed")
	case !e.current(extraLimit.Source):
		return e.outOfScope(named, "required from "+extraLimit.Source.From.Long())
	case !e.installing():
		return e.outOfScope(named, "the boiler was already there")
	}
	if f, ok := e.need(records.ExtraMeasure.Field); !ok {
		return f
	}
	extra := e.Values.Choice(records.ExtraMeasure)
	f := inside(e.entered(records.ExtraMeasure.Field), "The boiler has the further measure that England requires.")
	switch follows := e.Values.Choice(records.Compensation); {
	case extra == records.ExtraNone:
		f = outside(records.Observation, f.Reading,
			"The boiler does not have the further measure that England requires.")
	case (extra == records.ExtraWeather || extra == records.ExtraLoad) && follows != "" && follows != extra:
		f = doubtful(f.Reading,
			"The measure named does not match what the flow temperature is said to follow: check both.")
	}
	f.Limit = copyOf(extraLimit)
	return f
}
