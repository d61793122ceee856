package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	flowReturnLimit = words("return colder than flow by more than two thermometers can differ, 1.7 K",
		records.ByPhysics,
		sure(clause(physics, "radiators give off heat; thermocouples of class 1 in IEC 60584-1"), records.OneSource))
	scaldLimit = most(60, "°C", records.ByPractice, clause(sure(practice, records.Unconfirmed),
		"outlets without a mixing valve; guidance for baths is 48 °C and lower"))
	condenseAdvice = words("return below about 55 °C", records.ByPhysics,
		sure(clause(physics, "dew point of natural gas combustion products; advice"), records.OneSource))
	designFlowLimit = most(55, "°C", records.ByRegulation,
		dated(records.Source{Document: "Approved Document L, volume 1, England", Edition: "2021",
			Clause:     "new or fully replaced system: at most 55 °C, or else the lowest practicable",
			Confidence: records.OneSource}, "2022-06-15", ""))
	hotOutputLimit = words("at least 95 % of the rated output", records.ByPractice,
		records.Source{Document: "Boiler manufacturers' tables of hot-water flow",
			Clause: "flow and rise against output", Confidence: records.OneSource})
	balanceLimit = words("heat out not more than heat in, each ± 5 %, nor less than 40 % of it", records.ByPhysics,
		clause(physics, "conservation of energy; the uncertainties are our own choice"))
)

// leastRiseK is the difference of flow and return below which it may be that of
// the thermometers alone: √2 times the standard uncertainty of each, doubled,
// less what the two have in common.
const leastRiseK = 1.7

// Uncertainties, in percent, of a timed heat input and of a heat output from
// flow and temperatures. Our own choice.
const (
	inputUncertaintyPct  = 5.0
	outputUncertaintyPct = 5.0
)

var deliveryTopic = topic{
	rules: deliveryRules(),
	sample: map[*records.Field]string{
		records.FlowC.Field: "68.0", records.ReturnC.Field: "48.5", records.HeatingFlowL.Field: "16.5",
		records.DesignScope.Field: "kept", records.HotFlowL.Field: "10.1", records.HotInC.Field: "11.5",
		records.HotOutC.Field: "45.5",
	},
}

func deliveryRules() []Rule {
	id := records.HeatDelivery.ID
	input := with(rateReads(), records.ApplianceKind.Field, records.ApplianceCondensing.Field,
		records.ApplianceFuel.Field, records.Examined.Field)
	return []Rule{
		{ID: "delivery.flow_return", Title: "Flow and return", Section: id,
			Reads: kindAnd(records.FlowC.Field, records.ReturnC.Field), Limits: []records.Limit{flowReturnLimit},
			Explains: "If the return reads warmer than the flow, the wrong pipe was read. The difference shows " +
				"whether the system is taking the heat.",
			eval: ifHeating(on(delivery.flowReturn))},
		{ID: "delivery.condensing", Title: "Return cool enough to condense", Section: id,
			Reads:  kindAnd(records.ApplianceCondensing.Field, records.ReturnC.Field),
			Limits: []records.Limit{condenseAdvice},
			Explains: "A condensing boiler only saves gas when the return is cool. This is advice: nothing is " +
				"judged outside.",
			eval: ifHeating(ifCondensing(on(delivery.condensingReturn)))},
		{ID: "delivery.heating_balance", Title: "Heating output against heat input", Section: id,
			Reads:  with(input, records.HeatingFlowL.Field, records.FlowC.Field, records.ReturnC.Field),
			Limits: []records.Limit{balanceLimit},
			Explains: "Water flow through the boiler times its temperature difference, against the heat input timed " +
				"at the meter: no more heat can come out than went in. A non-condensing appliance is compared with " +
				"the net heat input, a condensing one with the gross.",
			eval: ifHeating(on(delivery.heatingBalance))},
		{ID: "delivery.design_flow", Title: "Design flow temperature", Section: id, Purposes: commissioningOnly,
			Reads:  kindAnd(records.DesignScope.Field, records.DesignFlowC.Field),
			Limits: []records.Limit{designFlowLimit},
			Explains: "In England a new or fully replaced wet system must be designed for a flow temperature of at " +
				"most 55 °C, or the lowest that is practicable: above 55 °C the reason has to be given.",
			eval: ifHeating(on(delivery.designFlow))},
		{ID: "delivery.hot_output", Title: "Hot-water output against rated output", Section: id,
			Reads: kindAnd(records.HotFlowL.Field, records.HotInC.Field, records.HotOutC.Field,
				records.HotRatedKW.Field, records.RatedOutputKW.Field),
			Limits: []records.Limit{hotOutputLimit},
			Explains: "Flow rate times temperature rise, against the rating on the data plate. Manufacturers' own " +
				"tables are up to 5 % lower. A tap that is not fully open, or water already at its set temperature, " +
				"reads low without a fault.",
			eval: ifHotWater(on(delivery.hotOutput))},
		{ID: "delivery.scald", Title: "Hot water at the tap does not scald", Section: id,
			Reads:  kindAnd(records.HotOutC.Field, records.HotMixer.Field),
			Limits: []records.Limit{scaldLimit},
			Explains: "Water over 60 °C scalds at once. Where no mixing valve protects the outlets the customer is " +
				"told.",
			eval: on(delivery.scalding)},
		{ID: "delivery.hot_balance", Title: "Hot-water output against heat input", Section: id,
			Reads:  with(input, records.HotFlowL.Field, records.HotInC.Field, records.HotOutC.Field),
			Limits: []records.Limit{balanceLimit},
			Explains: "As for heating. Where the appliance burns more gas for hot water than for heating, time the " +
				"gas with hot water running.",
			eval: ifHotWater(on(delivery.hotBalance))},
	}
}

// scalding judges the tap: hot enough to scald at once, without a valve that
// mixes cold water in, is told to the customer.
func (e delivery) scalding() records.Finding {
	if !e.anyOf(records.HotOutC.Field) {
		return notThere("the temperature of the hot water is not entered")
	}
	f := e.verdict(e.read(records.HotOutC), scaldLimit, records.Observation,
		"The hot water is not hot enough to scald at once.", "")
	if f.Outcome != records.Outside {
		return f
	}
	f.Outcome, f.Suggested = records.Attention, ""
	f.Reason = "The hot water is hot enough to scald within seconds, and no mixing valve protects the outlets: set " +
		"it lower, or have valves fitted, above all where children or old people use it."
	if mixer, _ := e.Values.Flag(records.HotMixer); mixer {
		f.Outcome = records.Doubtful
		f.Reason = "The outlets are said to have a mixing valve, yet the tap is that hot: the valve does not mix, or " +
			"another tap was read."
	}
	return f
}

// ifHotWater judges only appliances that heat tap water instantaneously.
func ifHotWater(eval func(*entries) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		switch e.Values.Choice(records.ApplianceKind) {
		case records.KindSystem, records.KindRegular:
			return e.ruledOut("the appliance does not heat tap water instantaneously", eval)
		}
		return eval(e)
	}
}

func (e delivery) flowReturn() records.Finding {
	if f, ok := e.taken(records.FlowC.Field, records.ReturnC.Field); !ok {
		return f
	}
	flow, _ := e.Values.Number(records.FlowC)
	back, _ := e.Values.Number(records.ReturnC)
	k := difference(flow, back)
	f := inside(e.entered(records.FlowC.Field)+", return "+e.entered(records.ReturnC.Field),
		"The system is taking heat: the difference is "+show(k, 1)+" K.")
	switch {
	case k <= 0:
		f = doubtful(f.Reading,
			"The return is not colder than the flow: were the pipes swapped, or was the burner off?")
	case below(k, leastRiseK):
		f = doubtful(f.Reading, "Flow and return are only "+show(k, 1)+" K apart, which two thermometers can be by "+
			"themselves: was one pipe read twice, or does nothing take the heat?")
	}
	f.Limit = copyOf(flowReturnLimit)
	return f
}

func (e delivery) condensingReturn() records.Finding {
	if f, ok := e.taken(records.ReturnC.Field); !ok {
		return f
	}
	c, _ := e.Values.Float(records.ReturnC)
	reading := e.entered(records.ReturnC.Field)
	if !below(c, 55) {
		return e.outOfScope(records.ReturnC.Field, "with a return of "+reading+
			" the boiler hardly condenses: a lower flow temperature would save gas; advice only")
	}
	f := inside(reading, "The return is cool enough for the boiler to condense.")
	f.Limit = copyOf(condenseAdvice)
	return f
}

func (e delivery) designFlow() records.Finding {
	design := records.DesignFlowC.Field
	switch {
	case e.Property.Nation != records.England:
		return e.outOfScope(design, "the figure of 55 °C is England's; the other nations have their own rules, which "+
			"could not be confirmed")
	case !e.current(designFlowLimit.Source):
		return e.outOfScope(design, "the figure of 55 °C is in force from "+designFlowLimit.Source.From.Long())
	}
	if f, ok := e.need(records.DesignScope.Field); !ok {
		return f
	}
	if e.Values.Choice(records.DesignScope) != "new" {
		return e.outOfScope(design, "the heating system was kept, all or part of it")
	}
	if f, ok := e.need(records.DesignFlowC.Field); !ok {
		return f
	}
	c, _ := e.Values.Float(records.DesignFlowC)
	f := e.verdict(setTo(c, e.entered(records.DesignFlowC.Field)), designFlowLimit, "",
		"The system is designed for a low flow temperature.",
		"Above 55 °C only where no lower temperature is practicable: say why in the condition report.")
	if f.Outcome == records.Outside {
		f.Outcome = records.Doubtful
	}
	return f
}

// waterHeat is the heat of a flow between two temperatures.
type waterHeat struct {
	kw, riseK, u float64
	working      string
}

// measured is the heat as it is held against a limit.
func (w waterHeat) measured(l records.Limit) measured {
	return ruled(w.kw, withUnit(minus(apart(w.kw, 2, l)), "kW")).with(w.u)
}

func (e delivery) waterHeat(flow, cold, hot records.NumberField) (waterHeat, error) {
	l, _ := e.Values.Float(flow)
	from, _ := e.Values.Number(cold)
	to, _ := e.Values.Number(hot)
	w := waterHeat{riseK: difference(to, from)}
	var err error
	if w.kw, err = gas.WaterKW(l, math.Max(0, w.riseK)); err != nil {
		return w, err
	}
	uFrom, _ := e.uncertaintyOf(cold.Key, from.Value)
	uTo, _ := e.uncertaintyOf(hot.Key, to.Value)
	if rise, err := gas.RootSumOfSquares(uFrom, uTo); err == nil && w.riseK > 0 {
		share, _ := gas.StandardFromLimits(waterFlowErrorPct / 100)
		w.u, _ = gas.RootSumOfSquares(float64(w.kw*rise)/w.riseK, float64(w.kw*share))
	}
	w.working = line("%s l/min × %s K × 4.19 ÷ 60 = %s kW.", show(l, 2), show(w.riseK, 1), show(w.kw, 2))
	return w, nil
}

const (
	noRise      = "The water is no warmer going out than coming in: were the readings swapped?"
	coolReading = "The output cannot be worked out: "
)

// hotWater is the heat of the hot water drawn; f says why there is none.
func (e delivery) hotWater() (w waterHeat, f records.Finding, ok bool) {
	if f, ok = e.taken(records.HotFlowL.Field, records.HotInC.Field, records.HotOutC.Field); !ok {
		return w, f, false
	}
	w, err := e.waterHeat(records.HotFlowL, records.HotInC, records.HotOutC)
	switch {
	case err != nil:
		return w, doubtful("", coolReading+err.Error()+"."), false
	case w.riseK <= 0:
		return w, doubtful(e.entered(records.HotOutC.Field), noRise), false
	}
	return w, records.Finding{}, true
}

func (e delivery) hotOutput() records.Finding {
	w, f, ok := e.hotWater()
	if !ok {
		return f
	}
	rated, ok := e.Values.Float(records.HotRatedKW)
	if !ok {
		rated, ok = e.Values.Float(records.RatedOutputKW)
	}
	if !ok {
		return missing("Not entered: " + nameOf(records.RatedOutputKW.Field) + ".")
	}
	l := least(roundTo(rated*95/100, 2), "kW", hotOutputLimit.Rank, hotOutputLimit.Source)
	l.Text += line(" (95 %% of %s kW)", show(rated, 2))
	f = e.verdict(w.measured(l), l, records.Observation,
		"The appliance delivers its rated hot-water output.",
		"Hot-water output is below the rating: open the tap fully, then check the filter, inlet flow, settings and "+
			"gas rate.")
	f.Working = []string{w.working}
	if kw, has := e.Values.Float(records.RatedOutputKW); has {
		plate := least(kw, "kW", hotOutputLimit.Rank, hotOutputLimit.Source)
		return e.asStated(f, &plate, records.HotRatedKW)
	}
	return f
}

// heatPutIn is the heat input that no output may exceed: net, or gross for an
// appliance that condenses, which can recover all of the difference.
func (e delivery) heatPutIn() (kw float64, basis string, working []string, why string) {
	if reason := records.HeatInput.ExemptReason(e.Values); reason != "" {
		return 0, "", nil, reason
	}
	const none = "the heat input cannot be worked out, so there is nothing to compare"
	r, problem := e.gasRate()
	fuel, ok := e.fuel()
	if problem != "" || !ok {
		return 0, "", nil, none
	}
	cv, _ := e.calorificValue()
	gross, err := gas.HeatInputGrossKW(r.m3PerHour, cv)
	if err != nil {
		return 0, "", nil, none
	}
	net, err := fuel.NetFromGrossKW(gross)
	if err != nil {
		return 0, "", nil, none
	}
	working = append(r.working, line("Heat input %s kW gross, %s kW net.", show(gross, 2), show(net, 2)))
	if e.condensing() {
		return gross, "gross", working, ""
	}
	return net, "net", working, ""
}

// leastShareOut is the share of the heat input that comes out of any appliance
// at full rate, in percent; our own choice, wide on purpose.
const leastShareOut = 40.0

// balance compares an output with the heat input.
func (e delivery) balance(w waterHeat, more string) records.Finding {
	in, basis, working, why := e.heatPutIn()
	if why != "" {
		return exempt(why)
	}
	b, err := gas.HeatBalanceOf(in, w.kw, inputUncertaintyPct, outputUncertaintyPct)
	if err != nil {
		return doubtful(withUnit(show(w.kw, 2), "kW"), coolReading+err.Error()+".")
	}
	f := inside(line("%s kW, %s %% of the heat input", show(w.kw, 2), show(b.Percent, 1)),
		"No more heat comes out than goes in.")
	if below(b.HighPercent, leastShareOut) {
		f = doubtful(f.Reading,
			"Hardly any of the heat comes out: read the flow, temperatures and meter again, or look for what stops it.")
	}
	if above(b.LowPercent, 100) {
		f = doubtful(f.Reading, "More heat comes out than goes in: read the flow, temperatures and meter again."+more)
	}
	f.Working = append(append(working, w.working),
		line("%s ÷ %s kW %s = %s %%; between %s and %s %% allowing for the uncertainties.", show(w.kw, 2), show(in, 2),
			basis,
			show(b.Percent, 1), show(b.LowPercent, 1), show(b.HighPercent, 1)))
	f.Limit = copyOf(balanceLimit)
	return f
}

func (e delivery) heatingBalance() records.Finding {
	if !e.anyOf(records.HeatingFlowL.Field) {
		return exempt("the water flow through the boiler is not known")
	}
	if f, ok := e.need(records.FlowC.Field, records.ReturnC.Field); !ok {
		return f
	}
	w, err := e.waterHeat(records.HeatingFlowL, records.ReturnC, records.FlowC)
	switch {
	case err != nil:
		return doubtful("", coolReading+err.Error()+".")
	case w.riseK <= 0:
		return doubtful(e.entered(records.ReturnC.Field), "The return is not colder than the flow.")
	}
	return e.balance(w, "")
}

func (e delivery) hotBalance() records.Finding {
	w, f, ok := e.hotWater()
	if !ok {
		return f
	}
	return e.balance(w, " Or it burns more gas for hot water than was timed: time the gas with hot water running.")
}
