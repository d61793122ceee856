package rules

import (
	"gaugebook/records"
)

var (
	coLimit = most(350, "ppm", records.ByStandard,
		clause(tb143, "CO as measured, either rate, where the instructions state none"))
	zeroLimit = words("zeroed outdoors in clean air", records.ByStandard,
		sure(clause(bs7967, "preparing the analyser, 5.2"), records.Confirmed))
	settle = least(3, "min", records.ByPractice,
		records.Source{Document: "Instructions of several boiler manufacturers",
			Clause: "steady at full rate before reading", Confidence: records.OneSource})
	inletO2 = least(20.6, "%", records.ByStandard, sure(clause(tb143, "oxygen in the air inlet, concentric flue"),
		records.OneSource))
	inletCO2 = func() records.Limit {
		l := most(0.2, "%", records.ByStandard, sure(clause(tb143, "CO₂ in the air inlet, concentric flue"),
			records.OneSource))
		l.Text = "below 0.2 %"
		return l
	}()
	ambientLimit = most(9, "ppm", records.ByStandard,
		clause(bs7967, "CO in room air: up to 9 normal, 10 to 29 find the source, 30 and over evacuate"))
)

// point is the set of readings at one rate.
type point struct {
	name                           string
	co, co2, o2, temp              records.NumberField
	statedCO2Low, statedCO2Highest records.NumberField
	lower                          bool // the minimum rate, which not every appliance can hold
}

var (
	maxPoint = point{name: "maximum rate", co: records.COMaxPPM, co2: records.CO2MaxPct, o2: records.O2MaxPct,
		temp:         records.FlueTempMaxC,
		statedCO2Low: records.StatedCO2MaxRateLow, statedCO2Highest: records.StatedCO2MaxRateHigh, lower: false}
	minPoint = point{name: "minimum rate", co: records.COMinPPM, co2: records.CO2MinPct, o2: records.O2MinPct,
		temp:         records.FlueTempMinC,
		statedCO2Low: records.StatedCO2MinRateLow, statedCO2Highest: records.StatedCO2MinRateHigh, lower: true}
)

// reads lists the fields that a rule of the point reads.
func (p point) reads(more ...*records.Field) []*records.Field {
	if p.lower {
		more = append(more, records.MinRate.Field)
	}
	return more
}

var combustionTopic = topic{
	rules: combustionRules(),
	sample: map[*records.Field]string{
		records.Analyser.Field: "analyser-1", records.AnalyserZeroed.Field: "yes",
		records.CombustionTime.Field: "11:45", records.CO2Method.Field: "from-o2",
		records.SettleMinutes.Field: "10", records.AmbientCOPPM.Field: "0", records.InletO2Pct.Field: "20.9",
		records.InletCO2Pct.Field: "0.05", records.COMaxPPM.Field: "92", records.CO2MaxPct.Field: "9.1",
		records.O2MaxPct.Field: "4.7", records.FlueTempMaxC.Field: "58.4", records.AirTempC.Field: "16.2",
		records.MinRate.Field: "taken", records.COMinPPM.Field: "14", records.CO2MinPct.Field: "8.7",
		records.O2MinPct.Field: "5.4", records.FlueTempMinC.Field: "46.9",
	},
}

func combustionRules() []Rule {
	id := records.Combustion.ID
	out := []Rule{
		{ID: "combustion.analyser", Title: "Analyser in calibration", Section: id,
			Reads:  []*records.Field{records.Analyser.Field},
			Limits: []records.Limit{calibrationLimit}, Explains: "An analyser out of calibration proves nothing.",
			eval: func(e *entries) records.Finding { return e.calibration(records.Analyser) }},
		{ID: "combustion.zeroed", Title: "Analyser zeroed outdoors", Section: id,
			Reads: []*records.Field{records.AnalyserZeroed.Field}, Limits: []records.Limit{zeroLimit},
			Explains: "If it is zeroed in air that already holds combustion products, every reading is out by that " +
				"amount.",
			eval: on(combustion.zeroed)},
		{ID: "combustion.settled", Title: "Left to settle", Section: id,
			Reads: []*records.Field{records.SettleMinutes.Field}, Limits: []records.Limit{settle},
			Explains: "Readings are taken once the appliance is burning steadily at full rate.",
			eval:     on(combustion.settled)},
		{ID: "combustion.ambient_co", Title: "CO in the room air", Section: id,
			Reads: []*records.Field{records.AmbientCOPPM.Field}, Limits: []records.Limit{ambientLimit},
			Explains: "Carbon monoxide in the room is dangerous wherever it comes from.",
			eval:     on(combustion.ambient)},
		{ID: "combustion.inlet_o2", Title: "Oxygen in the air inlet", Section: id,
			Reads: inletReads(records.InletO2Pct), Limits: []records.Limit{inletO2},
			Explains: "Combustion products that leak inside a concentric flue get into the air duct and lower the " +
				"oxygen there.",
			eval: inletRule(records.InletO2Pct, judgeInletO2)},
		{ID: "combustion.inlet_co2", Title: "CO₂ in the air inlet", Section: id,
			Reads: inletReads(records.InletCO2Pct), Limits: []records.Limit{inletCO2},
			Explains: "Combustion products that leak inside a concentric flue get into the air duct and show there " +
				"as CO₂.",
			eval: inletRule(records.InletCO2Pct, judgeInletCO2)},
	}
	for _, p := range []point{maxPoint, minPoint} {
		out = append(out, p.rules()...)
	}
	return append(out, Rule{
		ID: "combustion.copied", Title: "Readings not copied", Section: id, Reads: combustionNumbers(),
		Limits: []records.Limit{copiedLimit},
		Explains: "No two visits give the same figures to the last decimal place; if every reading is the same, " +
			"they were copied.",
		eval: on(combustion.copied),
	})
}

func (p point) rules() []Rule {
	id, key := records.Combustion.ID, "max"
	if p.lower {
		key = "min"
	}
	kind, fuel, document := records.ApplianceKind.Field, records.ApplianceFuel.Field, records.StatedDocument.Field
	at := " at " + p.name
	return []Rule{
		{ID: "combustion." + key + "_co", Title: "CO" + at, Section: id,
			Reads: p.reads(p.co.Field, kind, records.ApplianceCondensing.Field, records.StatedCOMaxPPM.Field,
				document),
			Limits: []records.Limit{coLimit},
			Explains: "Carbon monoxide as measured. At commissioning a condensing boiler must pass on both CO and " +
				"ratio: failing either one fails that rate.",
			eval: p.rule(p.judgeCO)},
		{ID: "combustion." + key + "_ratio", Title: "CO/CO₂ ratio" + at, Section: id,
			Reads: p.reads(p.co.Field, p.co2.Field, p.o2.Field, kind, fuel, records.CO2Method.Field,
				records.ApplianceCondensing.Field, records.StatedRatioMax.Field, document),
			Limits: ratioLimits(),
			Explains: "Carbon monoxide divided by carbon dioxide shows how well the gas is burning, however much " +
				"air is mixed in. The limits for commissioning and for an appliance in use are different.",
			eval: p.rule(p.judgeRatio)},
		{ID: "combustion." + key + "_co2", Title: "CO₂" + at, Section: id,
			Reads:  p.reads(p.co2.Field, p.o2.Field, fuel, p.statedCO2Low.Field, p.statedCO2Highest.Field, document),
			Limits: extremeLimits(),
			Explains: "The gas-to-air setting, against the manufacturer's range. Where none is stated, only an " +
				"extreme value is questioned.",
			eval: p.rule(p.judgeCO2)},
		{ID: "combustion." + key + "_o2_co2", Title: "Oxygen agrees with CO₂" + at, Section: id,
			Reads:  p.reads(p.co2.Field, p.o2.Field, records.CO2Method.Field, fuel),
			Limits: agreeLimits,
			Explains: "For a given fuel, oxygen fixes CO₂. If the readings do not match, the wrong fuel was set " +
				"on the analyser, its hose leaks, or a figure was written down wrong.",
			eval: p.rule(p.judgeAgreement)},
		{ID: "combustion." + key + "_temperature", Title: "Flue gas warmer than the air" + at, Section: id,
			Reads:    p.reads(p.temp.Field, records.AirTempC.Field),
			Limits:   []records.Limit{warmerLimit},
			Explains: "With the burner on, flue gas cannot be colder than the combustion air.",
			eval:     p.rule(p.judgeTemperature)},
	}
}

// rule makes a rule that applies when the appliance could be held at the rate.
func (p point) rule(eval func(*entries) records.Finding) func(*entries) records.Finding {
	if !p.lower {
		return eval
	}
	return func(e *entries) records.Finding {
		switch e.Values.Choice(records.MinRate) {
		case "":
			if !e.anyOf(e.rule.own...) {
				return missing("Not entered: " + nameOf(records.MinRate.Field) + ".")
			}
		case "not-possible":
			return e.ruledOut("the appliance cannot be held at a lower rate", eval)
		}
		return eval(e)
	}
}

// firstFiring reports whether the commissioning limits of condensing boilers
// apply.
func (e *entries) firstFiring() bool { return e.commissioning() && e.boiler() && e.condensing() }

func (p point) judgeCO(e *entries) records.Finding {
	if f, ok := e.need(records.ApplianceKind.Field, p.co.Field); !ok {
		return f
	}
	co := e.read(p.co)
	var general *records.Limit
	if e.firstFiring() {
		l := coLimit
		general = &l
	}
	limit := general
	if ppm, ok := e.Values.Float(records.StatedCOMaxPPM); ok {
		l := most(ppm, "ppm", records.ByManufacturer, e.stated())
		limit = &l
	}
	if limit == nil {
		f := exempt("no general limit in ppm applies here; the ratio is judged instead")
		f.Reading = co.text
		return f
	}
	f := e.verdict(co, *limit, records.AtRisk,
		"CO is within the limit at "+p.name+".",
		"CO is too high at "+p.name+": do not leave it running; ask the manufacturer.")
	return e.asStated(f, general, records.StatedCOMaxPPM)
}

func (e combustion) zeroed() records.Finding {
	said, ok := e.Values.Flag(records.AnalyserZeroed)
	if !ok {
		return missing("Not answered: " + nameOf(records.AnalyserZeroed.Field) + ".")
	}
	f := inside("yes", "The analyser was zeroed outdoors.")
	if !said {
		f = doubtful("no", "Readings from an analyser that was not zeroed outdoors cannot be relied on.")
	}
	l := zeroLimit
	f.Limit = &l
	return f
}

func (e combustion) settled() records.Finding {
	if f, ok := e.need(records.SettleMinutes.Field); !ok {
		return f
	}
	x, _ := e.Values.Float(records.SettleMinutes)
	return e.verdict(setTo(x, e.entered(records.SettleMinutes.Field)), settle, records.Observation,
		"The appliance had time to settle.", "The appliance had not settled: take the readings again.")
}

func (e combustion) ambient() records.Finding {
	if f, ok := e.need(records.AmbientCOPPM.Field); !ok {
		return f
	}
	x, _ := e.Values.Float(records.AmbientCOPPM)
	f := e.verdict(e.read(records.AmbientCOPPM), ambientLimit, records.AtRisk,
		"CO in the room air is in the normal range.",
		"There is CO in the room air: ventilate, find the source and do not use the appliance.")
	if !below(x, 30) {
		f.Suggested = records.Immediate
		f.Reason = "Dangerous CO in the room air: turn appliances off, ventilate, get everybody out and call the " +
			"gas emergency service."
	}
	return f
}
