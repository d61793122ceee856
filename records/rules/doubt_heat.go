package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// cvRanges are the gross calorific values that can be supplied, by fuel.
var cvRanges = map[string]records.Limit{
	records.FuelNatural: span(37, 43.5, "MJ/m³", records.ByPractice,
		sure(records.Source{Document: "Gas (Calculation of Thermal Energy) Regulations 1996",
			Clause: "supply of 37.5 to 43.0 MJ/m³, half a unit either way"}, records.Confirmed)),
	records.FuelPropane: span(86, 105, "MJ/m³", records.ByPhysics, records.Source{Document: "EN 437", Edition: "2021",
		Clause: "G31, 10 % either way for commercial propane", Confidence: records.Unconfirmed}),
	records.FuelButane: span(113, 138, "MJ/m³", records.ByPhysics, records.Source{Document: "EN 437", Edition: "2021",
		Clause: "G30, 10 % either way for commercial butane", Confidence: records.Unconfirmed}),
}

// meterMost is the largest flow of each meter, with a tenth for its errors.
var meterMost = map[string]records.Limit{
	"g4": most(6.6, "m³/h", records.ByStandard, clause(en1359, "largest flow 6 m³/h, and a tenth")),
	"e6": most(6.6, "m³/h", records.ByPractice,
		clause(practice, "largest flow of an ultrasonic domestic meter, 6 m³/h, and a tenth")),
	"g10": most(17.6, "m³/h", records.ByStandard, clause(en1359, "largest flow 16 m³/h, and a tenth")),
}

// inputBandPct is how far a heat input can lie from the data plate while the
// pressure is right: a fixed injector passes 12 % more at 25 mbar than at 20,
// calorific value 7 %, meter 3 %, timing and one digit of the meter 6 %.
const inputBandPct = 30.0

var (
	inputPressureLimit = words("within 30 % of the rated input while the pressure is right", records.ByPhysics,
		sure(clause(physics, "flow goes by the root of the pressure; calorific value, meter and timing allowed for"),
			records.Practice))
	sinceLimit = words("meter not behind the earlier record", records.ByPhysics,
		clause(physics, "a meter counts upwards"))
	threeLimit = words("the loss along the pipe does not speak for the rated gas rate against the meter",
		records.ByPhysics, sure(clause(physics,
			"Darcy-Weisbach with Colebrook-White; a quarter of the loss and 0.4 mbar allowed for"), records.Practice))
	cvLimits = []records.Limit{cvRanges[records.FuelNatural], cvRanges[records.FuelPropane],
		cvRanges[records.FuelButane]}
	capacityLimits = []records.Limit{meterMost["g4"], meterMost["e6"], meterMost["g10"]}
)

func heatDoubts() []Rule {
	id, fuel := records.HeatInput.ID, records.ApplianceFuel.Field
	rated := []*records.Field{records.RatedInputKW.Field, records.RatedInputBasis.Field, fuel}
	return []Rule{
		{ID: "heat.cv", Title: "Calorific value of the fuel", Section: id,
			Reads: []*records.Field{fuel, records.HeatCV.Field}, Limits: cvLimits,
			Explains: "Each fuel has its own range; a value outside it is the net figure, another fuel's, or a slip.",
			eval:     calorificFits},
		{ID: "heat.meter_capacity", Title: "Gas rate within what the meter passes", Section: id,
			Reads: with(rateReads(), records.TightnessMeter.Field), Limits: capacityLimits,
			Explains: "A meter cannot show more gas than it can pass.",
			eval:     meterCapacity},
		{ID: "heat.meter_since", Title: "Meter not behind the earlier record", Section: id,
			Reads:  []*records.Field{records.HeatMeter.Field, records.HeatStartM3.Field},
			Limits: []records.Limit{sinceLimit},
			Explains: "The meter has gone on counting since the last visit. A reading behind that one was misread, " +
				"unless the meter was changed.",
			eval: meterSince},
		{ID: "heat.input_pressure", Title: "Heat input and pressure tell the same", Section: id,
			Reads:  with(rateReads(), with(rated, records.ApplianceMbar.Field, records.Examined.Field)...),
			Limits: []records.Limit{inputPressureLimit},
			Explains: "With the right pressure a burner cannot take half the gas or twice of it: then the meter, " +
				"the time or the data plate was misread.",
			eval: inputPressure},
		{ID: "heat.rate_from_pipe", Title: "Gas rate agrees with the loss along the pipe", Section: id,
			Reads: with(predictedReads()), Limits: []records.Limit{threeLimit},
			Explains: "Meter, data plate and the loss along the pipe each tell a gas rate. Where the first two " +
				"differ, the third says which is the odd one out.",
			eval: rateFromPipe},
	}
}

func calorificFits(v *visit) records.Finding {
	cv, ok := v.Values.Float(records.HeatCV)
	l, known := cvRanges[v.Values.Choice(records.ApplianceFuel)]
	if !ok || !known {
		return notThere("fuel and calorific value are not both entered")
	}
	return doubtOutside(verdict(cv, l, v.entered(records.HeatCV.Field), "",
		"The calorific value is one of the fuel entered.",
		"That is no gross calorific value of the fuel entered: look at the bill again, or at the fuel."))
}

func meterCapacity(v *visit) records.Finding {
	r, problem := v.gasRate()
	l, known := meterMost[v.Values.Choice(records.TightnessMeter)]
	if problem != "" || !known {
		return notThere("meter and gas rate are not both known")
	}
	f := doubtOutside(verdict(r.m3PerHour, l, withUnit(show(r.m3PerHour, 3), "m³/h"), "",
		"The meter can pass that much.", "The meter cannot pass that much gas: read it again, or look at its size."))
	f.Working = r.working
	return f
}

func meterSince(v *visit) records.Finding {
	if len(v.facts.Earlier) == 0 {
		return exempt("there is no earlier record of the appliance to compare with")
	}
	now, ok := v.Values.Number(records.HeatStartM3)
	then, was := v.facts.Earlier.Number(records.HeatEndM3)
	if !ok || !was || v.Values.Choice(records.HeatMeter) != records.MeterMetric {
		return notThere("the meter's figures of both visits are not there")
	}
	reading := v.entered(records.HeatStartM3.Field) + ", earlier " + show(then.Value, 3) + " m³"
	if below(now.Value, then.Value) {
		return odd(reading, "The meter stands behind the earlier record: misread, or the meter was changed.",
			sinceLimit)
	}
	return sound(reading, "The meter has not gone back since the earlier record.", sinceLimit)
}

// timedAndRated are the gas rate timed at the meter and the one that the data
// plate asks for, in m3/h.
func (v *visit) timedAndRated() (timed, rated float64, ok bool) {
	r, problem := v.gasRate()
	_, gross, known := v.ratedKW()
	if problem != "" || !known {
		return 0, 0, false
	}
	cv, _ := v.calorificValue()
	rated, err := gas.GasRateForGrossKW(gross, cv)
	return r.m3PerHour, rated, err == nil && rated > 0
}

func inputPressure(v *visit) records.Finding {
	timed, rated, ok := v.timedAndRated()
	inlet, measured := v.Values.Float(records.ApplianceMbar)
	normal, known := inletRanges[v.Values.Choice(records.ApplianceFuel)]
	examined := v.Values.Choice(records.Examined)
	if !ok || !measured || !known || examined == records.ExaminedInput || examined == records.ExaminedNeither {
		return notThere("heat input and pressure were not both measured")
	}
	off := float64(100 * (timed/rated - 1))
	reading := line("%s %% of the rated input at %s mbar", show(100+off, 1), v.Values[records.ApplianceMbar.Key].Text())
	if hold(inlet, normal).Outcome == records.Outside {
		f := exempt("the pressure is out of its own range, which may be why")
		f.Reading = reading
		return f
	}
	if math.Abs(off) > inputBandPct {
		return odd(reading, "The pressure is right and the heat input far off: meter, time or data plate misread, "+
			"or the appliance not at full rate.", inputPressureLimit)
	}
	return sound(reading, "Heat input and pressure do not contradict each other.", inputPressureLimit)
}

// oddRatePct is the difference of timed and rated gas rate from which the
// loss along the pipe is asked.
const oddRatePct = 15.0

func rateFromPipe(v *visit) records.Finding {
	timed, rated, ok := v.timedAndRated()
	rs, measured := v.all(records.MeterMbar, records.ApplianceMbar)
	if !ok || !measured {
		return notThere("gas rate and pressures were not both measured")
	}
	reading := line("meter %s m³/h, data plate %s m³/h", show(timed, 3), show(rated, 3))
	if math.Abs(timed/rated-1)*100 <= oddRatePct {
		return sound(reading, "Meter and data plate agree well enough; the pipe need not be asked.", threeLimit)
	}
	byMeter, err := v.lossAt(timed, rs[0].Value)
	byPlate, err2 := v.lossAt(rated, rs[0].Value)
	if err != "" || err2 != "" {
		return exempt("no loss can be predicted: " + err + err2)
	}
	lost := difference(rs[0], rs[1])
	f := sound(reading, "The loss along the pipe does not speak against the meter.", threeLimit)
	if !lossFits(lost, byMeter) && lossFits(lost, byPlate) {
		f = odd(reading,
			"The loss along the pipe fits the rated gas rate, not the one timed: read meter and time again.",
			threeLimit)
	}
	f.Working = []string{line("Loss measured %s mbar; predicted from the meter %s, from the data plate %s mbar.",
		show(lost, 2), show(byMeter.TotalMbar, 2), show(byPlate.TotalMbar, 2))}
	return f
}

// lossFits reports whether a measured loss is one that the prediction allows.
func lossFits(lost float64, run gas.RunLoss) bool {
	return lost >= float64(run.LeastTotalMbar*(1-unseenLossShare))-2*gaugeErrorMbar &&
		lost <= float64(run.TotalMbar*(1+unseenLossShare))+2*gaugeErrorMbar
}

// lossAt predicts the loss of the runs that feed the appliance when it draws
// so much gas, others included.
func (v *visit) lossAt(flow, workingMbar float64) (loss gas.RunLoss, problem string) {
	if v.Values.Choice(records.PressureLoad) == "highest" {
		other, ok := v.Values.Float(records.OtherFlowM3H)
		if !ok {
			return loss, "the gas drawn through the same pipe by others is not entered"
		}
		flow += other
	}
	fuel, known := v.fuel()
	rs, incomplete := v.runs()
	var segments []gas.Segment
	for _, r := range rs {
		if r.feeds && r.hasBore {
			segments = append(segments, gas.Segment{Pipe: r.Pipe, LengthM: r.LengthM, FittingsM: equivalentM(r),
				FlowM3PerHour: flow})
		} else if r.feeds {
			incomplete = "the loss of corrugated pipe is not known"
		}
	}
	if !known || incomplete != "" || segments == nil {
		return loss, "the pipe runs are not complete"
	}
	flowing, err := fuel.At(workingMbar)
	if err == nil {
		loss, err = gas.RunLossOf(flowing, segments)
	}
	if err != nil {
		return loss, err.Error()
	}
	return loss, ""
}
