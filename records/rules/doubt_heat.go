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
			Clause: "supply of 37.5 to 43.0 MJ/m³, with 0.5 MJ/m³ either way"}, records.Confirmed)),
	records.FuelPropane: span(86, 105, "MJ/m³", records.ByPhysics, records.Source{Document: "EN 437", Edition: "2021",
		Clause: "G31, 10 % either way for commercial propane", Confidence: records.Unconfirmed}),
	records.FuelButane: span(113, 138, "MJ/m³", records.ByPhysics, records.Source{Document: "EN 437", Edition: "2021",
		Clause: "G30, 10 % either way for commercial butane", Confidence: records.Unconfirmed}),
}

// meterMost is the largest flow of each meter, with a tenth for its errors.
var meterMost = map[string]records.Limit{
	"g4": most(6.6, "m³/h", records.ByStandard, clause(en1359, "largest flow 6 m³/h, plus 10 %")),
	"e6": most(6.6, "m³/h", records.ByPractice,
		clause(practice, "largest flow of an ultrasonic domestic meter, 6 m³/h, plus 10 %")),
	"g10": most(17.6, "m³/h", records.ByStandard, clause(en1359, "largest flow 16 m³/h, plus 10 %")),
}

// inputBandPct is how far a heat input can lie from the data plate while the
// pressure is right: a fixed injector passes 12 % more at 25 mbar than at 20,
// calorific value 7 %, meter 3 %, timing and one digit of the meter 6 %.
const inputBandPct = 30.0

var (
	inputPressureLimit = words("within 30 % of the rated input while the pressure is right", records.ByPhysics,
		sure(clause(physics,
			"flow follows the square root of the pressure; calorific value, meter and timing allowed for"),
			records.Practice))
	sinceLimit = words("meter reading not below the earlier record's", records.ByPhysics,
		clause(physics, "a meter counts upwards"))
	threeLimit = words("the pressure loss along the pipe does not support the data plate against the meter",
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
		{ID: "heat.cv", Title: "Calorific value suits the fuel", Section: id,
			Reads: []*records.Field{fuel, records.HeatCV.Field}, Limits: cvLimits,
			Explains: "Each fuel has its own range; a value outside it is a net figure, another fuel's, or a mistake.",
			eval:     on(heat.calorificFits)},
		{ID: "heat.meter_capacity", Title: "Gas rate within the meter's capacity", Section: id,
			Reads: with(rateReads(), records.TightnessMeter.Field), Limits: capacityLimits,
			Explains: "A meter cannot show more gas than it can pass.",
			eval:     on(heat.meterCapacity)},
		{ID: "heat.meter_since", Title: "Meter reading not below the earlier record's", Section: id,
			Reads:  []*records.Field{records.HeatMeter.Field, records.HeatStartM3.Field},
			Limits: []records.Limit{sinceLimit},
			Explains: "The meter has kept counting since the last visit. A lower reading was misread, unless the " +
				"meter was changed.",
			eval: on(heat.meterSince)},
		{ID: "heat.input_pressure", Title: "Heat input and pressure agree", Section: id,
			Reads:  with(rateReads(), with(rated, records.ApplianceMbar.Field, records.Examined.Field)...),
			Limits: []records.Limit{inputPressureLimit},
			Explains: "At the right pressure a burner cannot take half the gas, or twice as much: then the meter, " +
				"the time or the data plate was misread.",
			eval: on(heat.inputPressure)},
		{ID: "heat.rate_from_pipe", Title: "Gas rate agrees with the pressure loss", Section: id,
			Reads: with(predictedReads()), Limits: []records.Limit{threeLimit},
			Explains: "The meter, the data plate and the pressure loss along the pipe each give a gas rate. Where " +
				"the first two differ, the third shows which is wrong.",
			eval: on(heat.rateFromPipe)},
	}
}

func (e heat) calorificFits() records.Finding {
	cv, ok := e.Values.Float(records.HeatCV)
	l, known := cvRanges[e.Values.Choice(records.ApplianceFuel)]
	if !ok || !known {
		return notThere("fuel and calorific value are not both entered")
	}
	return doubtOutside(e.verdict(setTo(cv, e.entered(records.HeatCV.Field)), l, "",
		"The calorific value is in the range of the fuel entered.",
		"That is not a gross calorific value for the fuel entered: check the bill, or the fuel."))
}

func (e heat) meterCapacity() records.Finding {
	r, problem := e.gasRate()
	l, known := meterMost[e.Values.Choice(records.TightnessMeter)]
	if problem != "" || !known {
		return notThere("meter and gas rate are not both known")
	}
	f := doubtOutside(e.verdict(setTo(r.m3PerHour, withUnit(show(r.m3PerHour, 3), "m³/h")), l, "",
		"The meter can pass that much gas.", "The meter cannot pass that much gas: read it again, or check its size."))
	f.Working = r.working
	return f
}

func (e heat) meterSince() records.Finding {
	if len(e.facts.Earlier) == 0 {
		return exempt("there is no earlier record of the appliance to compare with")
	}
	now, ok := e.Values.Number(records.HeatStartM3)
	then, was := e.facts.Earlier.Number(records.HeatEndM3)
	if !ok || !was || e.Values.Choice(records.HeatMeter) != records.MeterMetric {
		return notThere("the meter was not read at both visits")
	}
	reading := e.entered(records.HeatStartM3.Field) + ", earlier " + show(then.Value, 3) + " m³"
	if below(now.Value, then.Value) {
		return odd(reading,
			"The meter reading is below the earlier record's: it was misread, or the meter was changed.",
			sinceLimit)
	}
	return sound(reading, "The meter reading is not below the earlier record's.", sinceLimit)
}

// timedAndRated are the gas rate timed at the meter and the one of the rated
// input, in m3/h.
func (e heat) timedAndRated() (timed, rated float64, ok bool) {
	r, problem := e.gasRate()
	_, gross, known := e.ratedKW()
	if problem != "" || !known {
		return 0, 0, false
	}
	cv, _ := e.calorificValue()
	rated, err := gas.GasRateForGrossKW(gross, cv)
	return r.m3PerHour, rated, err == nil && rated > 0
}

func (e heat) inputPressure() records.Finding {
	timed, rated, ok := e.timedAndRated()
	inlet, measured := e.Values.Float(records.ApplianceMbar)
	normal, known := inletRanges[e.Values.Choice(records.ApplianceFuel)]
	examined := e.Values.Choice(records.Examined)
	if !ok || !measured || !known || examined == records.ExaminedInput || examined == records.ExaminedNeither {
		return notThere("heat input and pressure were not both measured")
	}
	off := float64(100 * (timed/rated - 1))
	reading := line("%s %% of the rated input at %s mbar", show(100+off, 1), e.Values[records.ApplianceMbar.Key].Text())
	if hold(inlet, normal).Outcome == records.Outside {
		f := exempt("the pressure is outside its range, which may be the reason")
		f.Reading = reading
		return f
	}
	if math.Abs(off) > inputBandPct {
		return odd(reading, "The pressure is right but the heat input is far off: the meter, time or data plate was "+
			"misread, or the appliance was not at full rate.", inputPressureLimit)
	}
	return sound(reading, "Heat input and pressure do not contradict each other.", inputPressureLimit)
}

// oddRatePct is the difference of timed and rated gas rate above which the
// pressure loss is looked at too.
const oddRatePct = 15.0

func (e heat) rateFromPipe() records.Finding {
	timed, rated, ok := e.timedAndRated()
	rs, measured := e.all(records.MeterMbar, records.ApplianceMbar)
	if !ok || !measured {
		return notThere("gas rate and pressures were not both measured")
	}
	reading := line("meter %s m³/h, data plate %s m³/h", show(timed, 3), show(rated, 3))
	if math.Abs(timed/rated-1)*100 <= oddRatePct {
		return sound(reading, "Meter and data plate agree well enough; the pressure loss is not needed to decide.",
			threeLimit)
	}
	byMeter, err := e.lossAt(timed, rs[0].Value)
	byPlate, err2 := e.lossAt(rated, rs[0].Value)
	if err != "" || err2 != "" {
		return exempt("no loss can be predicted: " + err + err2)
	}
	lost := difference(rs[0], rs[1])
	f := sound(reading, "The pressure loss along the pipe does not contradict the meter.", threeLimit)
	if !lossFits(lost, byMeter) && lossFits(lost, byPlate) {
		f = odd(reading,
			"The pressure loss along the pipe matches the rated gas rate, not the one timed: read the meter and the "+
				"time again.",
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

// lossAt predicts the loss of the runs that feed the appliance at a gas rate,
// other appliances included.
func (e heat) lossAt(flow, workingMbar float64) (loss gas.RunLoss, problem string) {
	if e.Values.Choice(records.PressureLoad) == "highest" {
		other, ok := e.Values.Float(records.OtherFlowM3H)
		if !ok {
			return loss, "the gas used by other appliances on the same pipe is not entered"
		}
		flow += other
	}
	fuel, known := e.fuel()
	rs, incomplete := e.runs()
	var segments []gas.Segment
	for _, r := range rs {
		if r.feeds && r.hasBore {
			segments = append(segments, gas.Segment{Pipe: r.Pipe, LengthM: r.LengthM, FittingsM: equivalentM(r),
				FlowM3PerHour: flow})
		} else if r.feeds {
			incomplete = "the pressure loss of corrugated pipe is not known"
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
