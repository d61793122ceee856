package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	examinedLimit = words("operating pressure or heat input, both where necessary; combustion performance where "+
		"neither is reasonably practicable",
		records.ByRegulation, dated(clause(gasSafety, "regulation 26(9)(c) and (ca)"), "2018-04-06", ""))
	examinedBefore2018 = words("operating pressure or heat input, both where necessary",
		records.ByRegulation, dated(clause(gasSafety, "regulation 26(9)(c)"), "", "2018-04-05"))
	standingLimit = most(30, "mbar", records.ByPractice, clause(sure(practice, records.Unconfirmed),
		"lock-up pressure, natural gas"))
	// lpgStanding is no limit of a regulator, which its manufacturer states, but
	// of what can be believed without asking.
	lpgStanding = most(57.5, "mbar", records.ByStandard, clause(en437, "highest test pressure of any LPG appliance"))
	meterLimits = []records.Limit{
		span(19, 23, "mbar", records.ByPractice,
			dated(clause(practice, "meter outlet under load, natural gas, older training figure"), "", "2023-07-31")),
		span(18.5, 23, "mbar", records.ByStandard, dated(records.Source{Document: "IGEM/G/13",
			Clause:     "meter outlet at high operating load, as answered by the registration body",
			Confidence: records.Confirmed}, "2023-08-01", "")),
	}
	lossNatural = most(1, "mbar", records.ByStandard,
		clause(bs6891, "loss from meter outlet to appliance inlet at full rate, natural gas"))
	lossLPG   = most(2, "mbar", records.ByStandard, clause(bs6891, "loss to appliance inlet at full rate, LPG"))
	fallLimit = words("each pressure not above the one before it", records.ByPhysics,
		clause(physics, "gas flows from the higher pressure to the lower; 0.1 mbar allowed for the gauge"))

	// inletRanges are the test pressures of EN 437 by fuel, lowest to highest.
	inletRanges = map[string]records.Limit{
		records.FuelNatural: span(17, 25, "mbar", records.ByStandard, clause(en437, "test pressures, G20 at 20 mbar")),
		records.FuelPropane: span(25, 45, "mbar", records.ByStandard, clause(en437, "test pressures, G31 at 37 mbar")),
		records.FuelButane:  span(25, 35, "mbar", records.ByStandard, clause(en437, "test pressures, G30 at 29 mbar")),
	}
	inletLimits = []records.Limit{inletRanges[records.FuelNatural], inletRanges[records.FuelPropane],
		inletRanges[records.FuelButane]}
)

var pressureTopic = topic{
	rules: pressureRules(),
	sample: map[*records.Field]string{
		records.Examined.Field: records.ExaminedBoth, records.PressureGauge.Field: "gauge-1",
		records.PressureTime.Field: "11:20", records.StandingMbar.Field: "22.6",
		records.PressureLoad.Field: "alone", records.MeterMbar.Field: "20.6",
		records.ApplianceMbar.Field: "20.1",
	},
}

func pressureRules() []Rule {
	id := records.Pressure.ID
	examined := records.Examined.Field
	fuel := records.ApplianceFuel.Field
	return []Rule{
		{ID: "pressure.examined", Title: "Operating pressure or heat input examined", Section: id,
			Reads: []*records.Field{examined, records.ExaminedReason.Field, records.COMaxPPM.Field,
				records.CO2MaxPct.Field},
			Limits: []records.Limit{examinedBefore2018, examinedLimit},
			Explains: "After work the law requires operating pressure or heat input to be examined, or both where " +
				"necessary. Only where neither is reasonably practicable may combustion be examined instead, and " +
				"then the reason and the readings must be recorded.",
			eval: on(pressure.examinedRule)},
		{ID: "pressure.gauge", Title: "Gauge in calibration", Section: id,
			Reads:  []*records.Field{examined, records.PressureGauge.Field},
			Limits: []records.Limit{calibrationLimit}, Explains: "A gauge out of calibration proves nothing.",
			eval: pressureRule(func(e *entries) records.Finding { return e.calibration(records.PressureGauge) })},
		{ID: "pressure.load", Title: "Load recorded", Section: id, Reads: []*records.Field{examined,
			records.PressureLoad.Field},
			Explains: "A working pressure only means something if you know what was using gas.",
			eval:     pressureRule(on(pressure.loadRule))},
		{ID: "pressure.standing", Title: "Standing pressure", Section: id,
			Reads:  []*records.Field{examined, fuel, records.StandingMbar.Field},
			Limits: []records.Limit{standingLimit, lpgStanding},
			Explains: "With no gas flowing the regulator should lock up; a high standing pressure means that it is " +
				"letting by.",
			eval: pressureRule(on(pressure.standing))},
		{ID: "pressure.meter", Title: "Working pressure at the meter", Section: id,
			Reads:  []*records.Field{examined, fuel, records.PressureLoad.Field, records.MeterMbar.Field},
			Limits: append(append([]records.Limit(nil), meterLimits...), inletLimits[1:]...),
			Explains: "The pressure the supply delivers while gas is used; if it is too low here, it cannot be put " +
				"right at the appliance.",
			eval: pressureRule(on(pressure.meterPressure))},
		{ID: "pressure.appliance", Title: "Working pressure at the appliance", Section: id,
			Reads: []*records.Field{examined, fuel, records.ApplianceMbar.Field, records.StatedInletMinMbar.Field,
				records.StatedInletMaxMbar.Field, records.StatedDocument.Field},
			Limits: inletLimits,
			Explains: "The pressure at the inlet with the appliance at full rate, against the manufacturer's range, " +
				"or otherwise the range that appliances are tested over.",
			eval: pressureRule(on(pressure.appliancePressure))},
		{ID: "pressure.drop", Title: "Pressure lost from meter to appliance", Section: id,
			Reads:    []*records.Field{examined, fuel, records.MeterMbar.Field, records.ApplianceMbar.Field},
			Limits:   []records.Limit{lossNatural, lossLPG},
			Explains: "The pipe is large enough if little pressure is lost along it at full rate.",
			eval:     pressureRule(on(pressure.pipeLoss))},
		{ID: "pressure.falling", Title: "Pressures fall in order", Section: id,
			Reads: []*records.Field{examined, records.StandingMbar.Field, records.MeterMbar.Field,
				records.ApplianceMbar.Field},
			Limits: []records.Limit{fallLimit},
			Explains: "Working pressure cannot be above standing pressure, nor pressure at the appliance above that " +
				"at the meter: if so, something was misread.",
			eval: pressureRule(on(pressure.falling))},
		{ID: "pressure.predicted_drop", Title: "Pressure loss agrees with the pipe runs", Section: id,
			Reads:  predictedReads(),
			Limits: []records.Limit{predictedLimit},
			Explains: "The pipe runs that feed the appliance and the gas it uses predict the pressure loss; a very " +
				"different loss means a wrong run, a blockage or a misreading.",
			eval: pressureRule(on(pressure.predictedDrop))},
	}
}

// pressureRule makes a rule that applies when operating pressure was examined.
func pressureRule(eval func(*entries) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		switch e.Values.Choice(records.Examined) {
		case "":
			return missing("Not entered: " + nameOf(records.Examined.Field) + ".")
		case records.ExaminedInput:
			return e.ruledOut("heat input was examined instead of operating pressure", eval)
		case records.ExaminedNeither:
			return e.ruledOut("stated as not reasonably practicable; combustion was examined instead", eval)
		}
		return eval(e)
	}
}

func (e pressure) examinedRule() records.Finding {
	if f, ok := e.need(records.Examined.Field); !ok {
		return f
	}
	l := e.inForce([]records.Limit{examinedBefore2018, examinedLimit})
	reading := e.entered(records.Examined.Field)
	f := inside(reading, "What was examined meets the law.")
	if e.Values.Choice(records.Examined) == records.ExaminedNeither {
		f.Reason = "Neither was practicable; the reason is given and combustion was examined instead."
		switch {
		case e.Values.Text(records.ExaminedReason) == "":
			f = missing("Say why neither pressure nor heat input could be examined.")
		case !l.Source.From.IsZero():
			if m, ok := e.need(records.COMaxPPM.Field, records.CO2MaxPct.Field); !ok {
				f = m
				f.Reason = "Combustion readings are mandatory when neither pressure nor heat input is examined. " +
					f.Reason
			}
		default:
			f = outside(records.Observation, reading,
				"On that date the law did not yet allow combustion instead of both.")
		}
	}
	f.Limit = &l
	return f
}

func (e pressure) loadRule() records.Finding {
	if f, ok := e.need(records.PressureLoad.Field); !ok {
		return f
	}
	return inside(e.entered(records.PressureLoad.Field), "What was using gas at the time is recorded.")
}

func (e pressure) standing() records.Finding {
	if f, ok := e.need(records.ApplianceFuel.Field, records.StandingMbar.Field); !ok {
		return f
	}
	reading := e.entered(records.StandingMbar.Field)
	if e.Values.LPG() {
		if x, _ := e.Values.Float(records.StandingMbar); above(x, *lpgStanding.High) {
			return odd(reading, "That is more than any LPG appliance is tested with: read it again, or find out what "+
				"the regulator lets through.", lpgStanding)
		}
		f := exempt("no general figure for LPG is on file; the regulator's manufacturer states it")
		f.Reading = reading
		return f
	}
	return e.verdict(e.read(records.StandingMbar), standingLimit, records.AtRisk,
		"Standing pressure is not too high.",
		"Standing pressure is too high: the regulator may be letting by. The gas supplier must deal with it.")
}

func (e pressure) meterPressure() records.Finding {
	if f, ok := e.need(records.ApplianceFuel.Field, records.MeterMbar.Field); !ok {
		return f
	}
	l := e.inForce(meterLimits)
	if e.Values.LPG() {
		l = inletRanges[e.Values.Choice(records.ApplianceFuel)]
	}
	f := e.verdict(e.read(records.MeterMbar), l, records.AtRisk,
		"Working pressure at the meter is within its range.",
		"Working pressure at the meter is outside its range: the gas supplier must deal with it.")
	if e.Values.Choice(records.PressureLoad) == "alone" {
		f.Working = []string{"Read with only this appliance on; at the highest likely load the pressure is lower."}
	}
	return f
}

func (e pressure) appliancePressure() records.Finding {
	if f, ok := e.need(records.ApplianceFuel.Field, records.ApplianceMbar.Field); !ok {
		return f
	}
	inlet := e.read(records.ApplianceMbar)
	general := inletRanges[e.Values.Choice(records.ApplianceFuel)]
	const in = "Working pressure at the appliance is within its range."
	const out = "Working pressure at the appliance is outside its range; if heat input and combustion are right, " +
		"ask the manufacturer."
	low, hasLow := e.Values.Float(records.StatedInletMinMbar)
	high, hasHigh := e.Values.Float(records.StatedInletMaxMbar)
	if !hasLow && !hasHigh {
		return e.verdict(inlet, general, records.AtRisk, in, out)
	}
	note := ""
	if !hasLow {
		low, note = *general.Low, " (lowest: EN 437, none stated)"
	}
	if !hasHigh {
		high, note = *general.High, " (highest: EN 437, none stated)"
	}
	l := span(low, high, "mbar", records.ByManufacturer, e.stated())
	l.Text += note
	f := e.verdict(inlet, l, records.AtRisk, in, out)
	return e.asStated(f, &general, records.StatedInletMinMbar, records.StatedInletMaxMbar)
}

func (e pressure) pipeLoss() records.Finding {
	if f, ok := e.need(records.ApplianceFuel.Field, records.MeterMbar.Field, records.ApplianceMbar.Field); !ok {
		return f
	}
	meter, _ := e.Values.Number(records.MeterMbar)
	appliance, _ := e.Values.Number(records.ApplianceMbar)
	lost := difference(meter, appliance)
	l := lossNatural
	if e.Values.LPG() {
		l = lossLPG
	}
	working := []string{line("%s − %s = %s mbar.", e.Values[records.MeterMbar.Key].Text(),
		e.Values[records.ApplianceMbar.Key].Text(), show(lost, 2))}
	m := ruled(lost, withUnit(show(lost, 2), "mbar"))
	if a, _, coarse, ok := e.accuracyOf(records.ApplianceMbar.Key); ok {
		m.u, _ = gas.StandardOfDifference(a.Step)
		m.coarse = coarse
	}
	f := e.verdict(m, l, records.AtRisk,
		"The pressure loss along the pipe is small enough.",
		"Too much pressure is lost along the pipe: it may be undersized or blocked.")
	if below(lost, -gaugeStepMbar) {
		f.Outcome, f.AtLimit = records.Doubtful, false
		f.Reason = "The pressure at the appliance cannot be above that at the meter: read both again."
	}
	f.Working = working
	return f
}

// gaugeStepMbar is one step of a gauge that shows tenths.
const gaugeStepMbar = 0.1

func (e pressure) falling() records.Finding {
	if f, ok := e.need(records.StandingMbar.Field, records.MeterMbar.Field, records.ApplianceMbar.Field); !ok {
		return f
	}
	stand, _ := e.Values.Number(records.StandingMbar)
	meter, _ := e.Values.Number(records.MeterMbar)
	appliance, _ := e.Values.Number(records.ApplianceMbar)
	reading := line("%s, %s, %s mbar", e.Values[records.StandingMbar.Key].Text(),
		e.Values[records.MeterMbar.Key].Text(), e.Values[records.ApplianceMbar.Key].Text())
	l := fallLimit
	f := inside(reading, "Standing, meter and appliance pressures fall in that order.")
	switch {
	case above(difference(meter, stand), gaugeStepMbar):
		f = doubtful(reading, "Working pressure is above standing pressure, which is impossible: read both again.")
	case above(difference(appliance, meter), gaugeStepMbar):
		f = doubtful(reading,
			"Pressure at the appliance is above that at the meter, which is impossible: read both again.")
	}
	f.Limit = &l
	return f
}
