package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	coldFillLimit = span(1.0, 1.5, "bar", records.ByPractice, clause(manuals, "sealed system, cold"))
	chargeLimit   = words("not below the static head above the vessel, 1 bar for 10.2 m", records.ByPractice,
		clause(manuals, "charge of the vessel"))
	vesselLimit = words("expansion of the water, divided by the share of the vessel that can take it up",
		records.ByStandard,
		records.Source{Document: "BS 7074-1 and EN 12828 formula",
			Clause: "guidance: 10 °C to the flow temperature, 0.35 bar below the valve", Confidence: records.OneSource})
	valveLimit     = most(3, "bar", records.ByPractice, clause(manuals, "safety valve of a domestic boiler"))
	dischargeLimit = words("a metal pipe that falls to where it can be seen and harms nobody", records.ByPractice,
		clause(manuals, "discharge of the safety valve"))
	loopLimit = words("the filling loop disconnected after use", records.ByPractice, clause(manuals, "topping up"))
)

// vesselSpare is how far manufacturers' tables differ: a vessel short by less
// than that is doubtful, not outside.
const vesselSpare = 0.7

// vesselColdC and vesselMarginBar are the fill temperature and the distance
// from the valve that the general formula is used with.
const (
	vesselColdC     = 10.0
	vesselMarginBar = 0.35
)

func vesselRules(volume []*records.Field) []Rule {
	id := records.Water.ID
	sealed := kindAnd(records.WaterSystem.Field)
	return []Rule{
		{ID: "water.cold_fill", Title: "Pressure, cold", Section: id, Reads: with(sealed, records.ColdFillBar.Field),
			Limits:   []records.Limit{coldFillLimit},
			Explains: "Too low lets air in and stops the boiler; too high leaves no room in the vessel.",
			eval: ifSealed(func(e *entries) records.Finding {
				if f, ok := e.taken(records.ColdFillBar.Field); !ok {
					return f
				}
				bar, _ := e.Values.Float(records.ColdFillBar)
				return e.verdict(setTo(bar, e.entered(records.ColdFillBar.Field)), coldFillLimit, records.Observation,
					"The cold pressure is in the usual range.",
					"The cold pressure is outside the usual range; the manufacturer's figure decides.")
			})},
		{ID: "water.vessel_charge", Title: "Vessel charge against the static head", Section: id,
			Reads:  with(sealed, records.VesselBar.Field, records.StaticHeightM.Field, records.ColdFillBar.Field),
			Limits: []records.Limit{chargeLimit},
			Explains: "If the charge is below the static head, the vessel fills before anything warms up. If it is " +
				"above the cold pressure, it was probably read with pressure on the water side.",
			eval: ifSealed(on(water.vesselCharge))},
		{ID: "water.vessel_size", Title: "Vessel size", Section: id,
			Reads: with(with(volume, records.WaterSystem.Field), records.VesselLitres.Field,
				records.VesselStatedLitres.Field, records.VesselBar.Field, records.ColdFillBar.Field,
				records.SafetyValveBar.Field, records.FlowMaxC.Field, records.StatedDocument.Field),
			Limits: []records.Limit{vesselLimit},
			Explains: "The manufacturer's figure decides. Without one the general formula is a guide: " +
				"manufacturers' tables differ by up to a third, so slightly too small is doubtful and only far too " +
				"small is outside.",
			eval: ifSealed(on(water.vesselSize))},
		{ID: "water.safety_valve", Title: "Safety valve setting", Section: id,
			Reads: with(sealed, records.SafetyValveBar.Field), Limits: []records.Limit{valveLimit},
			Explains: "Domestic boilers are usually made for 3 bar; a valve set higher is questioned.",
			eval:     ifSealed(on(water.safetyValve))},
		{ID: "water.discharge", Title: "Safety valve discharge", Section: id,
			Reads:  with(sealed, records.DischargePipe.Field, records.DischargeEnd.Field),
			Limits: []records.Limit{dischargeLimit},
			Explains: "It may let out scalding water: it must run freely and end where it can be seen and cannot " +
				"hurt anyone.",
			eval: ifSealed(on(water.discharge))},
		{ID: "water.filling_loop", Title: "Filling loop disconnected", Section: id,
			Reads: with(sealed, records.FillingLoopOff.Field), Limits: []records.Limit{loopLimit},
			Explains: "Left on, it can overfill the system and contaminate the drinking water.",
			eval: ifSealed(onTest(records.FillingLoopOff, loopLimit, records.Observation,
				"The filling loop is disconnected.", "The filling loop is left connected."))},
	}
}

// ifSealed judges only sealed heating systems.
func ifSealed(eval func(*entries) records.Finding) func(*entries) records.Finding {
	return ifHeating(func(e *entries) records.Finding {
		if f, ok := e.gate(records.WaterSystem.Field); !ok {
			return f
		}
		if e.Values.Choice(records.WaterSystem) == records.SystemVented {
			return e.ruledOut("the system is open vented", eval)
		}
		return eval(e)
	})
}

func (e water) vesselCharge() records.Finding {
	charge := records.VesselBar.Field
	if f, ok := e.taken(charge, records.StaticHeightM.Field); !ok {
		return f
	}
	bar, _ := e.Values.Float(records.VesselBar)
	height, _ := e.Values.Float(records.StaticHeightM)
	head, err := gas.StaticHeadBar(height)
	if err != nil {
		return missing("Static head: " + err.Error() + ".")
	}
	head = roundTo(head, 2)
	f := e.verdict(setTo(bar, e.entered(charge)), least(head, "bar", chargeLimit.Rank, chargeLimit.Source),
		records.Observation,
		"The charge is at least the static head.",
		"The charge is below the static head: the vessel fills before anything warms up.")
	f.Working = []string{line("%s m ÷ 10.2 m/bar = %s bar.", show(height, 1), show(head, 2))}
	if fill, ok := e.Values.Float(records.ColdFillBar); ok && above(bar, fill) && f.Outcome == records.Inside {
		f.Outcome, f.AtLimit = records.Doubtful, false
		f.Reason = "The charge is above the cold pressure: was it read with no pressure on the water side?"
	}
	return f
}

func (e water) vesselSize() records.Finding {
	size := records.VesselLitres.Field
	if f, ok := e.taken(size); !ok {
		return f
	}
	litres, _ := e.Values.Float(records.VesselLitres)
	if stated, ok := e.Values.Float(records.VesselStatedLitres); ok {
		f := e.verdict(setTo(litres, e.entered(size)), least(stated, "l", records.ByManufacturer, e.stated()),
			records.Observation,
			"The vessel is as large as the manufacturer requires.",
			"The vessel is smaller than the manufacturer requires.")
		return e.asStated(f, e.generalVessel(), records.VesselStatedLitres)
	}
	if f, ok := e.need(records.VesselBar.Field, records.ColdFillBar.Field, records.SafetyValveBar.Field,
		records.FlowMaxC.Field); !ok {
		return f
	}
	water, _, volume, f, ok := e.systemLitres()
	if !ok {
		return f
	}
	wanted, working, ok := e.vesselGuide(water)
	if !ok {
		return doubtful(e.entered(size),
			"At these pressures no vessel can take up the expansion: check the charge, cold pressure and safety valve.")
	}
	l := least(wanted, "l", vesselLimit.Rank, vesselLimit.Source)
	l.Text += " as guidance"
	f = e.verdict(setTo(litres, e.entered(size)), l, records.Observation,
		"The vessel is large enough by the general formula.",
		"The vessel is far too small by the general formula: look up the manufacturer's table.")
	f.Working = append([]string{volume}, working...)
	if f.Outcome == records.Outside && !below(litres, float64(vesselSpare*wanted)) {
		f.Outcome, f.Suggested = records.Doubtful, ""
		f.Reason = "Smaller than the general formula gives; manufacturers' tables differ by that much, so look up " +
			"the manufacturer's."
	}
	return f
}

// generalVessel is the vessel that the general formula gives, or nil where not
// all of it is entered.
func (e water) generalVessel() *records.Limit {
	for _, f := range []records.NumberField{records.VesselBar, records.ColdFillBar, records.SafetyValveBar,
		records.FlowMaxC} {
		if _, ok := e.Values.Float(f); !ok {
			return nil
		}
	}
	water, _, _, _, ok := e.systemLitres()
	if !ok {
		return nil
	}
	wanted, _, ok := e.vesselGuide(water)
	if !ok {
		return nil
	}
	l := least(wanted, "l", vesselLimit.Rank, vesselLimit.Source)
	return &l
}

// vesselGuide is the vessel that the general formula gives for a volume.
func (e water) vesselGuide(systemLitres float64) (litres float64, working []string, ok bool) {
	charge, _ := e.Values.Float(records.VesselBar)
	fill, _ := e.Values.Float(records.ColdFillBar)
	valve, _ := e.Values.Float(records.SafetyValveBar)
	hot, _ := e.Values.Float(records.FlowMaxC)
	growth, err := gas.WaterExpansionPercent(vesselColdC, hot)
	if err != nil {
		return 0, nil, false
	}
	acceptance, err := gas.VesselAcceptance(charge, fill, valve-vesselMarginBar)
	if err != nil {
		return 0, nil, false
	}
	litres, err = gas.VesselLitres(systemLitres, growth, 0, acceptance)
	if err != nil {
		return 0, nil, false
	}
	return roundTo(litres, 1), []string{
		line("%s °C to %s °C: the water expands by %s %%.", show(vesselColdC, 0), show(hot, 0), show(growth, 2)),
		line("Charge %s bar, cold %s bar, final %s bar: the vessel can take up %s of its size.", show(charge, 2),
			show(fill, 2), show(valve-vesselMarginBar, 2), show(acceptance, 3)),
		line("%s l × %s %% ÷ %s = %s l.", show(systemLitres, 1), show(growth, 2), show(acceptance, 3), show(litres, 1)),
	}, true
}

func (e water) safetyValve() records.Finding {
	if f, ok := e.taken(records.SafetyValveBar.Field); !ok {
		return f
	}
	bar, _ := e.Values.Float(records.SafetyValveBar)
	f := e.verdict(setTo(bar, e.entered(records.SafetyValveBar.Field)), valveLimit, "", "The valve setting is usual.",
		"The valve is set higher than usual for a domestic boiler: check it against the data plate.")
	if f.Outcome == records.Outside {
		f.Outcome = records.Doubtful
	}
	return f
}

func (e water) discharge() records.Finding {
	if f, ok := e.taken(records.DischargePipe.Field, records.DischargeEnd.Field); !ok {
		return f
	}
	pipe, _ := e.Values.Flag(records.DischargePipe)
	end, _ := e.Values.Flag(records.DischargeEnd)
	f := inside("yes", "The discharge runs freely to where it can be seen and cannot hurt anyone.")
	switch {
	case !pipe:
		f = outside(records.AtRisk, "no", "The discharge pipe is not metal, does not fall, or can be closed.")
	case !end:
		f = outside(records.AtRisk, "no", "The discharge ends where it cannot be seen or can scald someone.")
	}
	f.Limit = copyOf(dischargeLimit)
	return f
}
