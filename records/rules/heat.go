package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	timeLimits = []records.Limit{
		least(120, "s", records.ByPractice, dated(clause(practice, "metric meter, two minutes"), "", "2023-08-31")),
		least(60, "s", records.ByStandard,
			dated(records.Source{Document: "Technical Bulletin 162, gas rate at a metric meter",
				Edition: "September 2023", Confidence: records.Confirmed}, "2023-09-01", "")),
	}
	turnLimit = least(1, "whole turn", records.ByPractice,
		clause(practice, "imperial meter, whole turns of the test dial"))
	inputLimit = words("± 5 % of the rated heat input", records.ByPractice,
		clause(sure(practice, records.Unconfirmed), "heat input against the data plate"))
	runsLimit = words("end reading above the start reading", records.ByPhysics,
		clause(physics, "a meter counts upwards"))
)

// generalInputPct is how far the heat input may lie from the data plate where
// the manufacturer states nothing.
const generalInputPct = 5.0

// generalCV is the gross calorific value in MJ/m3 that is used when none is
// entered, natural gas: the teaching value. LPG takes that of its test gas.
const generalCV = 38.76

var heatTopic = topic{
	rules: heatRules(),
	sample: map[*records.Field]string{
		records.HeatMeter.Field: records.MeterMetric, records.HeatOthersOff.Field: "yes",
		records.HeatTime.Field: "11:30", records.HeatStartM3.Field: "1482.316",
		records.HeatEndM3.Field: "1482.359", records.HeatSeconds.Field: "62", records.HeatCV.Field: "39.2",
	},
}

func heatRules() []Rule {
	id := records.HeatInput.ID
	return []Rule{
		{ID: "heat.others_off", Title: "All other appliances off", Section: id,
			Reads:    []*records.Field{records.HeatOthersOff.Field},
			Explains: "The meter counts the gas for every appliance; what others use would be counted as this one's.",
			eval:     on(heat.othersOff)},
		{ID: "heat.time", Title: "Timed for long enough", Section: id,
			Reads:    []*records.Field{records.HeatMeter.Field, records.HeatSeconds.Field, records.HeatTurns.Field},
			Limits:   append(append([]records.Limit(nil), timeLimits...), turnLimit),
			Explains: "The longer the reading is timed, the less one step of the meter's last digit matters.",
			eval:     on(heat.heatTime)},
		{ID: "heat.meter_runs", Title: "Meter ran forwards", Section: id,
			Reads:    []*records.Field{records.HeatMeter.Field, records.HeatStartM3.Field, records.HeatEndM3.Field},
			Limits:   []records.Limit{runsLimit},
			Explains: "The end reading must be above the start reading. How much the last digit matters is shown.",
			eval:     on(heat.meterRuns)},
		{ID: "heat.input", Title: "Heat input against the data plate", Section: id,
			Reads: append(rateReads(), records.RatedInputKW.Field, records.RatedInputBasis.Field,
				records.ApplianceFuel.Field,
				records.StatedInputMinusPct.Field, records.StatedInputPlusPct.Field, records.StatedDocument.Field),
			Limits: []records.Limit{inputLimit},
			Explains: "The gas timed at the meter, converted to kilowatts, net or gross as on the data plate. The " +
				"billing correction is shown but not judged: the field method leaves it out.",
			eval: on(heat.heatInput)},
	}
}

// rateReads are the fields behind the timed gas rate.
func rateReads() []*records.Field {
	return []*records.Field{records.HeatMeter.Field, records.HeatStartM3.Field, records.HeatEndM3.Field,
		records.HeatSeconds.Field,
		records.HeatDialFt3.Field, records.HeatTurns.Field, records.HeatCV.Field}
}

func (e heat) othersOff() records.Finding {
	said, ok := e.Values.Flag(records.HeatOthersOff)
	switch {
	case !ok:
		return missing("Not answered: " + nameOf(records.HeatOthersOff.Field) + ".")
	case !said:
		return doubtful("no", "Other appliances were using gas, so the reading is not for this appliance alone.")
	}
	return inside("yes", "Only this appliance was using gas.")
}

func (e heat) heatTime() records.Finding {
	if e.Values.Choice(records.HeatMeter) == records.MeterImperial {
		if f, ok := e.need(records.HeatTurns.Field, records.HeatSeconds.Field); !ok {
			return f
		}
		turns, _ := e.Values.Float(records.HeatTurns)
		return e.verdict(setTo(turns, show(turns, 0)+" in "+e.entered(records.HeatSeconds.Field)), turnLimit,
			records.Observation, "Whole turns of the test dial were timed.", "")
	}
	if f, ok := e.need(records.HeatMeter.Field, records.HeatSeconds.Field); !ok {
		return f
	}
	x, _ := e.Values.Float(records.HeatSeconds)
	return e.verdict(setTo(x, e.entered(records.HeatSeconds.Field)), e.inForce(timeLimits), records.Observation,
		"The meter was timed for long enough.", "The meter was not timed for long enough: take the reading again.")
}

func (e heat) meterRuns() records.Finding {
	if f, ok := e.need(records.HeatMeter.Field); !ok {
		return f
	}
	if e.Values.Choice(records.HeatMeter) == records.MeterImperial && !e.anyOf(e.rule.own...) {
		return exempt("turns of the test dial were counted")
	}
	if f, ok := e.need(records.HeatStartM3.Field, records.HeatEndM3.Field); !ok {
		return f
	}
	start, _ := e.Values.Number(records.HeatStartM3)
	end, _ := e.Values.Number(records.HeatEndM3)
	passed := difference(end, start)
	reading := withUnit(show(passed, 3), "m³")
	l := runsLimit
	f := inside(reading, "The meter counted upwards.")
	f.Working = []string{line("%s − %s = %s m³.", e.Values[records.HeatEndM3.Key].Text(),
		e.Values[records.HeatStartM3.Key].Text(), show(passed, 3))}
	if passed <= 0 {
		f.Outcome, f.Reason = records.Doubtful, "The end reading is not above the start reading: read the meter again."
	} else {
		digit := math.Pow10(-min(start.Decimals, end.Decimals))
		if pct, err := gas.DigitPercent(digit, max(passed, digit)); err == nil {
			f.Working = append(f.Working, line("One step of the last digit, %s m³, is %s %% of it.", show(digit, 3),
				show(pct, 1)))
		}
	}
	f.Limit = &l
	return f
}

// rate is the gas rate timed at the meter.
type rate struct {
	m3PerHour float64
	passedM3  float64
	digitM3   float64 // by which each reading may be out; 0 where whole steps were timed
	seconds   float64
	working   []string
}

// gasRate works the rate out; problem says what is missing, or wrong.
func (e *entries) gasRate() (r rate, problem string) {
	switch e.Values.Choice(records.HeatMeter) {
	case records.MeterMetric:
		return heat{e}.metricRate()
	case records.MeterImperial:
		return heat{e}.imperialRate()
	}
	return r, "Not entered: " + nameOf(records.HeatMeter.Field) + "."
}

func (e heat) metricRate() (r rate, problem string) {
	if f, ok := e.need(records.HeatStartM3.Field, records.HeatEndM3.Field, records.HeatSeconds.Field); !ok {
		return r, f.Reason
	}
	start, _ := e.Values.Number(records.HeatStartM3)
	end, _ := e.Values.Number(records.HeatEndM3)
	seconds, _ := e.Values.Float(records.HeatSeconds)
	passed := difference(end, start)
	if passed <= 0 {
		return r, meterStood
	}
	var err error
	if r.m3PerHour, err = gas.GasRateM3PerHour(passed, seconds); err != nil {
		return r, "Gas rate: " + err.Error() + "."
	}
	r.working = []string{line("%s m³ × 3600 ÷ %s s = %s m³/h.", show(passed, 3), show(seconds, 1),
		show(r.m3PerHour, 4))}
	digit := math.Pow10(-min(start.Decimals, end.Decimals))
	r.passedM3, r.seconds = passed, seconds
	if fixedTime(seconds) {
		r.digitM3 = digit
	}
	if pct, err := gas.DigitPercent(digit, max(passed, digit)); err == nil {
		r.working = append(r.working, line("One step of the last digit, %s m³, is %s %% of it.", show(digit, 3),
			show(pct, 1)))
	}
	return r, ""
}

// meterStood is the problem of a meter that did not move.
const meterStood = "The end reading is not above the start reading: read the meter again."

func (e heat) imperialRate() (r rate, problem string) {
	if f, ok := e.need(records.HeatDialFt3.Field, records.HeatTurns.Field, records.HeatSeconds.Field); !ok {
		return r, f.Reason
	}
	dial, _ := e.Values.Float(records.HeatDialFt3)
	turns, _ := e.Values.Float(records.HeatTurns)
	seconds, _ := e.Values.Float(records.HeatSeconds)
	ft3, err := gas.GasRateFt3PerHour(dial, turns, seconds)
	if err == nil {
		r.m3PerHour, err = gas.M3FromFt3(ft3)
	}
	if err != nil {
		return r, "Gas rate: " + err.Error() + "."
	}
	r.seconds = seconds
	r.working = []string{
		line("%s × %s ft³ × 3600 ÷ %s s = %s ft³/h.", show(turns, 0), show(dial, 2), show(seconds, 1), show(ft3, 3)),
		line("%s ft³/h × %s = %s m³/h.", show(ft3, 3), show(gas.M3PerFt3, 7), show(r.m3PerHour, 4)),
	}
	return r, ""
}

// calorificValue is the gross one to use, in MJ/m3, and where it is from.
func (e *entries) calorificValue() (cv float64, from string) {
	if cv, ok := e.Values.Float(records.HeatCV); ok {
		return cv, "as entered"
	}
	if fuel, ok := e.fuel(); ok && e.Values.LPG() {
		return roundTo(fuel.GrossMJPerM3, 2), "general figure, test gas " + fuel.TestGas
	}
	return generalCV, "general figure for natural gas, as used in training"
}

func (e heat) heatInput() records.Finding {
	if f, ok := e.need(records.ApplianceFuel.Field, records.RatedInputKW.Field, records.RatedInputBasis.Field); !ok {
		return f
	}
	r, problem := e.gasRate()
	switch {
	case problem == meterStood:
		return doubtful("", problem)
	case problem != "":
		return missing(problem)
	}
	cv, from := e.calorificValue()
	kw, working, problem := e.inputKW(r, cv)
	if problem != "" {
		return missing(problem)
	}
	basis := e.Values.Choice(records.RatedInputBasis)
	rated, _ := e.Values.Float(records.RatedInputKW)
	lower, hasLower := e.Values.Float(records.StatedInputMinusPct)
	higher, hasHigher := e.Values.Float(records.StatedInputPlusPct)
	stated := hasLower || hasHigher
	if !hasLower {
		lower = generalInputPct
	}
	if !hasHigher {
		higher = generalInputPct
	}
	general := ratedBand(rated, generalInputPct, generalInputPct, inputLimit.Rank, inputLimit.Source)
	l := general
	if stated {
		l = ratedBand(rated, lower, higher, records.ByManufacturer, e.stated())
	}
	m := e.inputMeasured(r, kw, l)
	m.text += " " + basis
	f := e.verdict(m, l, records.AtRisk,
		"The heat input agrees with the data plate.",
		"The heat input does not agree with the data plate: check the pressure, the setting and the readings.")
	if stated {
		f.Outranked = &general
		tolerance := most(generalInputPct, "%", inputLimit.Rank, inputLimit.Source)
		f = e.asStated(f, &tolerance, records.StatedInputMinusPct, records.StatedInputPlusPct)
		f.Outranked = &general
	}
	f.Working = append(append(r.working, line("Calorific value %s MJ/m³, %s.", show(cv, 2), from)), working...)
	f.Working = append(f.Working, line("Against %s kW %s: %s %%.", show(rated, 2), basis, show(100*(kw/rated-1), 1)))
	return f
}

func ratedBand(rated, minusPct, plusPct float64, rank records.Rank, s records.Source) records.Limit {
	l := span(rated*(100-minusPct)/100, rated*(100+plusPct)/100, "kW", rank, s)
	l.Text += line(" (rated, −%s %% to +%s %%)", show(minusPct, 1), show(plusPct, 1))
	return l
}

// inputKW turns the gas rate into heat input on the data plate's basis.
func (e heat) inputKW(r rate, cv float64) (kw float64, working []string, problem string) {
	gross, err := gas.HeatInputGrossKW(r.m3PerHour, cv)
	if err != nil {
		return 0, nil, "Heat input: " + err.Error() + "."
	}
	fuel, _ := e.fuel()
	net, err := fuel.NetFromGrossKW(gross)
	if err != nil {
		return 0, nil, "Heat input: " + err.Error() + "."
	}
	billed, err := gas.BilledKWh(r.m3PerHour, cv)
	if err != nil {
		return 0, nil, "Heat input: " + err.Error() + "."
	}
	working = []string{
		line("%s m³/h × %s MJ/m³ ÷ 3.6 = %s kW gross.", show(r.m3PerHour, 4), show(cv, 2), show(gross, 3)),
		line("÷ %s = %s kW net.", show(fuel.GrossNetRatio, 4), show(net, 3)),
		line("With the billing factor %s it would be %s kW gross; shown only, not judged.", show(gas.BillingFactor, 5),
			show(billed, 2)),
	}
	if e.Values.Choice(records.RatedInputBasis) == "net" {
		return net, working, ""
	}
	return gross, working, ""
}
