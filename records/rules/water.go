package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	bs7593 = dated(records.Source{Document: "BS 7593", Edition: "2019", Confidence: records.OneSource}, "2019-05-01",
		"")
	manuals = records.Source{Document: "Boiler manufacturers' manuals", Confidence: records.OneSource}

	cleanedLimit = words("cleaned and flushed", records.ByStandard, bs7593)
	solidsLimit  = reword(span(-10, 10, "% from the cold main", records.ByPractice,
		clause(manuals, "dissolved solids after a flush")), "within 10 % of the cold main")
	solidsAgain = most(20, "% above the cold main", records.ByPractice,
		sure(clause(practice, "dissolved solids, above this flush again"), records.Unconfirmed))
	turbidityLimit = words("below 200 ppm", records.ByPractice, clause(manuals, "turbidity tube marked 200 ppm"))
	doseLimit      = words("the dose on the product's own label", records.ByManufacturer,
		records.Source{Document: "Label of the product", Confidence: records.Confirmed})
	levelLimit    = words("inhibitor level enough, tested yearly", records.ByStandard, bs7593)
	filterLimit   = words("a permanent filter in the pipework", records.ByStandard, bs7593)
	hardnessLimit = most(200, "ppm", records.ByStandard, clause(bs7593, "hardness as CaCO₃ without scale treatment"))
)

var waterTopic = topic{
	rules: waterRules(),
	sample: map[*records.Field]string{
		records.WaterCleaning.Field: "mains", records.SolidsMainsPPM.Field: "310",
		records.SolidsSystemPPM.Field: "328", records.Inhibitor.Field: "Weirmoss C1",
		records.InhibitorLitres.Field: "1.0", records.InhibitorTreatsL.Field: "100",
		records.VolumeBasis.Field: records.VolumeKnown, records.VolumeLitres.Field: "85",
		records.FilterFitted.Field: "yes", records.HardnessPPM.Field: "120",
		records.ScaleControl.Field: records.ScaleNone, records.WaterSystem.Field: records.SystemSealed,
		records.ColdFillBar.Field: "1.2", records.VesselBar.Field: "0.9", records.VesselLitres.Field: "8",
		records.StaticHeightM.Field: "4.5", records.SafetyValveBar.Field: "3.0", records.FlowMaxC.Field: "70",
		records.DischargePipe.Field: "yes", records.DischargeEnd.Field: "yes",
		records.FillingLoopOff.Field: "yes", records.CondensateMM.Field: "19.0",
		records.CondensateFall.Field: "52", records.CondensateOut.Field: "no",
		records.CondensateEnd.Field: "internal", records.CondensateTrap.Field: "yes",
	},
}

func waterRules() []Rule {
	id := records.Water.ID
	volume := []*records.Field{records.VolumeBasis.Field, records.VolumeLitres.Field, records.PanelsSingle.Field,
		records.PanelsDouble.Field,
		records.Emitters.Field, records.RatedOutputKW.Field, records.ApplianceKind.Field}
	rules := []Rule{
		{ID: "water.cleaned", Title: "System cleaned", Section: id, Reads: kindAnd(records.WaterCleaning.Field),
			Limits:   []records.Limit{cleanedLimit},
			Explains: "Flux, swarf and old sludge shorten a new boiler's life.",
			eval:     ifHeating(on(water.cleaned))},
		{ID: "water.solids", Title: "Dissolved solids after the flush", Section: id,
			Reads:  kindAnd(records.SolidsMainsPPM.Field, records.SolidsSystemPPM.Field, records.TurbidityPPM.Field),
			Limits: []records.Limit{solidsLimit, solidsAgain},
			Explains: "When the system water has about the same dissolved solids as the cold main, the cleaner has " +
				"been flushed out. Up to 10 % apart is inside, up to 20 % is doubtful.",
			eval: ifHeating(on(water.solids))},
		{ID: "water.turbidity", Title: "Turbidity after the flush", Section: id,
			Reads:    kindAnd(records.TurbidityPPM.Field, records.SolidsMainsPPM.Field, records.SolidsSystemPPM.Field),
			Limits:   []records.Limit{turbidityLimit},
			Explains: "Water that is still cloudy carries dirt. Either this or dissolved solids must be read.",
			eval:     ifHeating(on(water.turbidity))},
		{ID: "water.inhibitor", Title: "Inhibitor dose against the product's label", Section: id,
			Reads: with(volume, records.Inhibitor.Field, records.InhibitorLitres.Field,
				records.InhibitorTreatsL.Field, records.InhibitorLevel.Field),
			Limits: []records.Limit{doseLimit},
			Explains: "Products differ, so the dose is compared with the figure on the product's own label and the " +
				"system volume. If the volume is only estimated, too small a dose is doubtful, not outside.",
			eval: ifHeating(on(water.inhibitor))},
		{ID: "water.inhibitor_level", Title: "Inhibitor level", Section: id,
			Reads:    kindAnd(records.InhibitorLevel.Field, records.InhibitorLitres.Field),
			Limits:   []records.Limit{levelLimit},
			Explains: "Tested every year; if it is low, topping it up at the same visit settles it.",
			eval:     ifHeating(on(water.inhibitorLevel))},
		{ID: "water.filter", Title: "Filter", Section: id, Reads: kindAnd(records.FilterFitted.Field),
			Limits:   []records.Limit{filterLimit},
			Explains: "It catches what the flush leaves behind and what corrosion adds.",
			eval: ifHeating(func(e *entries) records.Finding {
				return e.tested(records.FilterFitted, e.orPractice(filterLimit), records.Observation,
					"A filter is fitted and clean.", "There is no filter in the system, or it is not clean.")
			})},
		{ID: "water.scale", Title: "Scale", Section: id, Reads: kindAnd(records.HardnessPPM.Field,
			records.ScaleControl.Field), Limits: []records.Limit{hardnessLimit},
			Explains: "Hard water, above 200 ppm, leaves scale in an appliance that heats it straight from the main.",
			eval:     on(water.scale)},
	}
	rules = append(rules, Rule{ID: "water.volume", Title: "System volume plausible", Section: id,
		Reads: kindAnd(records.VolumeBasis.Field, records.VolumeLitres.Field, records.RatedOutputKW.Field,
			records.InhibitorLitres.Field),
		Limits: []records.Limit{volumeLimit},
		Explains: "The dose of inhibitor and the size of the vessel follow from it, so a volume far too small is " +
			"questioned.",
		eval: ifHeating(on(water.volumePlausible))})
	return append(append(rules, vesselRules(volume)...), condensateRules()...)
}

// reword replaces the words of a limit.
func reword(l records.Limit, text string) records.Limit { l.Text = text; return l }

func kindAnd(more ...*records.Field) []*records.Field {
	return append([]*records.Field{records.ApplianceKind.Field}, more...)
}

// ifHeating judges only where there is a heating circuit.
func ifHeating(eval func(*entries) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		if k := e.Values.Choice(records.ApplianceKind); k != "" && !e.boiler() {
			return e.ruledOut("the appliance has no heating circuit", eval)
		}
		return eval(e)
	}
}

func (e water) cleaned() records.Finding {
	if f, ok := e.taken(records.WaterCleaning.Field); !ok {
		return f
	}
	f := inside(e.entered(records.WaterCleaning.Field), "The system was cleaned.")
	if e.Values.Choice(records.WaterCleaning) == records.CleanedNot {
		f = outside(records.Observation, f.Reading,
			"The system was not cleaned: dirt can block the appliance, and the warranty may require cleaning.")
	}
	f.Limit = e.orPractice(cleanedLimit)
	return f
}

func (e water) solids() records.Finding {
	mainsField, systemField := records.SolidsMainsPPM.Field, records.SolidsSystemPPM.Field
	if !e.anyOf(mainsField, systemField) && e.anyOf(records.TurbidityPPM.Field) {
		return exempt("turbidity was read instead")
	}
	if f, ok := e.taken(mainsField, systemField); !ok {
		return f
	}
	mains, _ := e.Values.Float(records.SolidsMainsPPM)
	system, _ := e.Values.Float(records.SolidsSystemPPM)
	pct, err := gas.DissolvedSolidsChangePercent(mains, system)
	if err != nil {
		return missing("Dissolved solids: " + err.Error() + ".")
	}
	reading := e.entered(systemField) + ", cold main " + e.entered(mainsField)
	f := e.verdict(setTo(pct, reading), solidsLimit, records.Observation, "The cleaner has been flushed out.", "")
	f.Working = []string{line("(%s − %s) ÷ %s = %s %%.", show(system, 0), show(mains, 0), show(mains, 0), show(pct, 1))}
	switch {
	case f.Outcome == records.Inside:
	case above(pct, *solidsAgain.High):
		f.Limit, f.Reason = copyOf(solidsAgain),
			"The system still has far more dissolved solids than the cold main: flush again."
	case below(pct, *solidsLimit.Low):
		f.Outcome, f.Suggested = records.Doubtful, ""
		f.Reason = "The system has less dissolved solids than the cold main: were the readings swapped, or is the " +
			"water softened?"
	default:
		f.Outcome, f.Suggested = records.Doubtful, ""
		f.Reason = "More than 10 % above the cold main: keep flushing, or read again."
	}
	return f
}

func (e water) turbidity() records.Finding {
	if !e.anyOf(records.TurbidityPPM.Field) && e.anyOf(records.SolidsMainsPPM.Field, records.SolidsSystemPPM.Field) {
		return exempt("dissolved solids were read instead")
	}
	if f, ok := e.taken(records.TurbidityPPM.Field); !ok {
		return f
	}
	ppm, _ := e.Values.Float(records.TurbidityPPM)
	f := inside(e.entered(records.TurbidityPPM.Field), "The water is clear enough.")
	if !below(ppm, 200) {
		f = outside(records.Observation, f.Reading, "The water is still cloudy: flush again.")
	}
	f.Limit = copyOf(turbidityLimit)
	return f
}

// litresPerKW are the rules of thumb by kind of heat emitter.
var litresPerKW = map[string]float64{
	"microbore": gas.LitresPerKWSmall, "steel": gas.LitresPerKWSteelPanels, "cast-iron": gas.LitresPerKWCastIron,
	"underfloor": gas.LitresPerKWUnderfloor,
}

// systemLitres is the water in the system, as entered or estimated on the
// large side, which asks for more inhibitor and a larger vessel.
func (e water) systemLitres() (litres float64, estimated bool, working string, f records.Finding, ok bool) {
	if f, ok = e.need(records.VolumeBasis.Field); !ok {
		return
	}
	var err error
	switch e.Values.Choice(records.VolumeBasis) {
	case records.VolumeKnown:
		f, ok = e.need(records.VolumeLitres.Field)
		litres, _ = e.Values.Float(records.VolumeLitres)
		return litres, false, line("System volume %s l, as entered.", show(litres, 1)), f, ok
	case records.VolumePanels:
		if !e.anyOf(records.PanelsSingle.Field, records.PanelsDouble.Field) {
			f, ok = e.need(records.PanelsSingle.Field, records.PanelsDouble.Field)
			return
		}
		single, _ := e.Values.Float(records.PanelsSingle)
		double, _ := e.Values.Float(records.PanelsDouble)
		litres, err = gas.SystemLitresFromPanels(single, double, gas.LitresPerPanelCautious)
		working = line("(%s single + 2 × %s double) × %s l = %s l, estimated.", show(single, 0), show(double, 0),
			show(gas.LitresPerPanelCautious, 0), show(litres, 1))
	default:
		if f, ok = e.need(records.Emitters.Field, records.RatedOutputKW.Field); !ok {
			return
		}
		kw, _ := e.Values.Float(records.RatedOutputKW)
		per := litresPerKW[e.Values.Choice(records.Emitters)]
		litres, err = gas.SystemLitresFromKW(kw, per)
		working = line("%s kW × %s l/kW = %s l, estimated.", show(kw, 2), show(per, 0), show(litres, 1))
	}
	if err != nil || litres < 1 {
		return 0, true, "", missing("The volume of the system cannot be worked out from these entries."), false
	}
	return litres, true, working, f, true
}

// mostDoseShare of a system's water is more inhibitor than any label asks for.
const mostDoseShare = 0.05

// leastLitresPerKW is less water than any heating system holds for its output;
// the smallest rule of thumb is 6.
const leastLitresPerKW = 1.0

var volumeLimit = least(leastLitresPerKW, "l/kW", records.ByPractice,
	clause(sure(practice, records.Unconfirmed), "water in a heating system; rules of thumb begin at 6 l/kW"))

// volumePlausible questions a volume so small that dose and vessel would follow
// from a mistake.
func (e water) volumePlausible() records.Finding {
	litres, ok := e.Values.Float(records.VolumeLitres)
	kw, rated := e.Values.Float(records.RatedOutputKW)
	if !ok || !rated {
		return notThere("volume and rated output are not both entered")
	}
	reading := e.entered(records.VolumeLitres.Field)
	if dose, ok := e.Values.Float(records.InhibitorLitres); ok && above(dose, float64(litres*mostDoseShare)) {
		return odd(reading+", dose "+e.entered(records.InhibitorLitres.Field),
			"That is more inhibitor than a twentieth of the water: read the amount and the volume again.", volumeLimit)
	}
	if below(litres, float64(kw*leastLitresPerKW)) {
		return odd(reading, "Hardly any heating system holds so little water: dose and vessel would follow from it.",
			volumeLimit)
	}
	return sound(reading, "The system can hold that much water.", volumeLimit)
}

func (e water) inhibitor() records.Finding {
	dose := records.InhibitorLitres.Field
	if !e.anyOf(dose) && e.Values.Choice(records.InhibitorLevel) == "enough" {
		return exempt("the level was tested and is enough; nothing was added")
	}
	if f, ok := e.taken(dose); !ok {
		return f
	}
	if f, ok := e.need(records.Inhibitor.Field); !ok {
		return f
	}
	put, _ := e.Values.Float(records.InhibitorLitres)
	treats, has := e.Values.Float(records.InhibitorTreatsL)
	if !has {
		f := missing("The figure on the product's label is not on the record; products differ, so no general dose " +
			"is assumed.")
		f.Reading = e.entered(dose)
		return f
	}
	litres, estimated, working, f, ok := e.systemLitres()
	if !ok {
		return f
	}
	wanted := roundTo(litres/treats, 3)
	source := records.Source{Document: "Label of " + e.Values.Text(records.Inhibitor),
		Clause: "the product's own figure", Confidence: records.Confirmed}
	f = e.verdict(setTo(put, e.entered(dose)), least(wanted, "l", doseLimit.Rank, source), records.Observation,
		"At least the dose on the product's own label was added.",
		"Less was added than the product's own label asks for.")
	f.Working = []string{working, line("%s l ÷ %s l treated by each litre = %s l.", show(litres, 1), show(treats, 1),
		show(wanted, 3))}
	if pct, err := gas.DosePercent(put, litres); err == nil {
		f.Working = append(f.Working, line("%s l is %s %% of the system's water.", show(put, 3), show(pct, 2)))
	}
	if f.Outcome == records.Outside && estimated {
		f.Outcome, f.Suggested = records.Doubtful, ""
		f.Reason = "Less was added than the label asks for, going by the estimated volume: measure the volume, or " +
			"test the level."
	}
	return e.asStated(f, nil, records.InhibitorTreatsL)
}

func (e water) inhibitorLevel() records.Finding {
	put, _ := e.Values.Float(records.InhibitorLitres)
	if !e.anyOf(records.InhibitorLevel.Field) && put > 0 {
		return exempt("the system was dosed at this visit")
	}
	if f, ok := e.taken(records.InhibitorLevel.Field); !ok {
		return f
	}
	reading := e.entered(records.InhibitorLevel.Field)
	f := inside(reading, "There is enough inhibitor in the water.")
	switch low := e.Values.Choice(records.InhibitorLevel) == "low"; {
	case low && put > 0:
		f = inside(reading+", then dosed with "+e.entered(records.InhibitorLitres.Field),
			"The level was low and was topped up.")
	case low:
		f = outside(records.Observation, reading, "The level is low and nothing was added: the system will corrode.")
	}
	f.Limit = e.orPractice(levelLimit)
	return f
}

func (e water) scale() records.Finding {
	switch e.Values.Choice(records.ApplianceKind) {
	case records.KindSystem, records.KindRegular:
		return e.outOfScope(records.HardnessPPM.Field, "the appliance does not heat water straight from the main")
	}
	if f, ok := e.taken(records.HardnessPPM.Field); !ok {
		return f
	}
	ppm, _ := e.Values.Float(records.HardnessPPM)
	reading := e.entered(records.HardnessPPM.Field)
	l := e.orPractice(hardnessLimit)
	f := e.verdict(setTo(ppm, reading), *l, records.Observation, "The water is not hard enough to need treatment.",
		"The water is hard and has no scale treatment.")
	if f.Outcome == records.Inside {
		return f
	}
	if n, ok := e.need(records.ScaleControl.Field); !ok {
		n.Reading = reading
		return n
	}
	if e.Values.Choice(records.ScaleControl) != records.ScaleNone {
		f = inside(reading+", "+e.entered(records.ScaleControl.Field), "The water is hard and has scale treatment.")
		f.Limit = l
	}
	return f
}
