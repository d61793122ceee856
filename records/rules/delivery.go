package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	flowReturnLimit = words("return colder than flow", records.ByPhysics, clause(physics, "radiators give off heat"))
	condenseAdvice  = words("return below about 55 °C", records.ByPhysics,
		sure(clause(physics, "dew point of the products of natural gas; advice"), records.OneSource))
	designFlowLimit = most(55, "°C", records.ByRegulation,
		dated(records.Source{Document: "Approved Document L, volume 1, England", Edition: "2021",
			Clause:     "new or wholly replaced system: at most 55 °C, else the lowest practicable",
			Confidence: records.OneSource}, "2022-06-15", ""))
	hotOutputLimit = words("at least 95 % of the rated output", records.ByPractice,
		records.Source{Document: "Boiler manufacturers' tables of hot-water flow",
			Clause: "flow and rise against output", Confidence: records.OneSource})
	balanceLimit = words("heat delivered not above heat put in, each ± 5 %", records.ByPhysics,
		clause(physics, "conservation of energy; uncertainties are our own choice"))
)

// Uncertainties, in percent, of a timed heat input and of a heat output from
// flow and temperatures. Our own choice.
const (
	inputUncertaintyPct  = 5.0
	outputUncertaintyPct = 5.0
)

func deliveryRules() []Rule {
	id := records.HeatDelivery.ID
	input := with(rateReads(), records.ApplianceKind.Field, records.ApplianceCondensing.Field,
		records.ApplianceFuel.Field, records.Examined.Field)
	return []Rule{
		{ID: "delivery.flow_return", Title: "Flow and return", Section: id,
			Reads: kindAnd(records.FlowC.Field, records.ReturnC.Field), Limits: []records.Limit{flowReturnLimit},
			Explains: "What comes back warmer than it left was read at the wrong pipe. The difference tells whether " +
				"the system takes the heat.",
			eval: ifHeating(flowReturn)},
		{ID: "delivery.condensing", Title: "Return cool enough to condense", Section: id,
			Reads:  kindAnd(records.ApplianceCondensing.Field, records.ReturnC.Field),
			Limits: []records.Limit{condenseAdvice},
			Explains: "A condensing boiler saves gas only when the return is cool. This is advice: nothing is " +
				"judged outside.",
			eval: ifHeating(ifCondensing(condensingReturn))},
		{ID: "delivery.heating_balance", Title: "Heating output against heat input", Section: id,
			Reads:  with(input, records.HeatingFlowL.Field, records.FlowC.Field, records.ReturnC.Field),
			Limits: []records.Limit{balanceLimit},
			Explains: "Flow through the boiler times its temperature difference, against the heat of the gas timed " +
				"at the meter: no more can come out than went in. A non-condensing appliance is held against the " +
				"net heat input, a condensing one against the gross.",
			eval: ifHeating(heatingBalance)},
		{ID: "delivery.design_flow", Title: "Designed flow temperature", Section: id, Purposes: commissioningOnly,
			Reads:  kindAnd(records.DesignScope.Field, records.DesignFlowC.Field),
			Limits: []records.Limit{designFlowLimit},
			Explains: "England asks that a new or wholly replaced wet system be sized for at most 55 °C, or for " +
				"the lowest that is practicable: above it the reason has to be given.",
			eval: ifHeating(designFlow)},
		{ID: "delivery.hot_output", Title: "Hot-water output against rated output", Section: id,
			Reads: kindAnd(records.HotFlowL.Field, records.HotInC.Field, records.HotOutC.Field,
				records.HotRatedKW.Field, records.RatedOutputKW.Field),
			Limits: []records.Limit{hotOutputLimit},
			Explains: "Flow times temperature rise, against what the data plate promises. Manufacturers' own tables " +
				"lie up to 5 % below. A tap that is not wide open, or an outlet at its set temperature, reads low " +
				"without a fault.",
			eval: ifHotWater(hotOutput)},
		{ID: "delivery.hot_balance", Title: "Hot-water output against heat input", Section: id,
			Reads:  with(input, records.HotFlowL.Field, records.HotInC.Field, records.HotOutC.Field),
			Limits: []records.Limit{balanceLimit},
			Explains: "As for heating. Where hot water burns more gas than heating does, the gas has to be timed " +
				"with hot water running.",
			eval: ifHotWater(hotBalance)},
	}
}

// ifHotWater judges only appliances that heat tap water as it flows.
func ifHotWater(eval func(*visit) records.Finding) func(*visit) records.Finding {
	return func(v *visit) records.Finding {
		switch v.Values.Choice(records.ApplianceKind) {
		case records.KindSystem, records.KindRegular:
			return exempt("the appliance heats no tap water as it flows")
		}
		return eval(v)
	}
}

func flowReturn(v *visit) records.Finding {
	if f, ok := v.taken(records.FlowC.Field, records.ReturnC.Field); !ok {
		return f
	}
	flow, _ := v.Values.Number(records.FlowC)
	back, _ := v.Values.Number(records.ReturnC)
	k := difference(flow, back)
	f := inside(v.entered(records.FlowC.Field)+", return "+v.entered(records.ReturnC.Field),
		"The system takes heat: the difference is "+show(k, 1)+" K.")
	if k <= 0 {
		f = doubtful(f.Reading,
			"The return is not colder than the flow: were the pipes changed over, or was the burner off?")
	}
	f.Limit = copyOf(flowReturnLimit)
	return f
}

func condensingReturn(v *visit) records.Finding {
	if f, ok := v.taken(records.ReturnC.Field); !ok {
		return f
	}
	c, _ := v.Values.Float(records.ReturnC)
	reading := v.entered(records.ReturnC.Field)
	if !below(c, 55) {
		return exempt("with a return of " + reading +
			" the boiler condenses little: a lower flow temperature would save gas; advice only")
	}
	f := inside(reading, "The return is cool enough for the boiler to condense.")
	f.Limit = copyOf(condenseAdvice)
	return f
}

func designFlow(v *visit) records.Finding {
	switch {
	case v.Property.Nation != records.England:
		return exempt("the figure of 55 °C that we hold is England's; the other nations have rules of their own, " +
			"which could not be confirmed")
	case !v.current(designFlowLimit.Source):
		return exempt("the figure of 55 °C is in force from " + designFlowLimit.Source.From.Long())
	}
	if f, ok := v.need(records.DesignScope.Field); !ok {
		return f
	}
	if v.Values.Choice(records.DesignScope) != "new" {
		return exempt("the heating system was kept, in whole or in part")
	}
	if f, ok := v.need(records.DesignFlowC.Field); !ok {
		return f
	}
	c, _ := v.Values.Float(records.DesignFlowC)
	f := verdict(c, designFlowLimit, v.entered(records.DesignFlowC.Field), "",
		"The system is designed for a low flow temperature.",
		"Above 55 °C only where no lower temperature is practicable: say why in the condition report.")
	if f.Outcome == records.Outside {
		f.Outcome = records.Doubtful
	}
	return f
}

// waterHeat is the heat of a flow between two temperatures.
type waterHeat struct {
	kw, riseK float64
	working   string
}

func (v *visit) waterHeat(flow, cold, hot records.NumberField) (waterHeat, error) {
	l, _ := v.Values.Float(flow)
	from, _ := v.Values.Number(cold)
	to, _ := v.Values.Number(hot)
	w := waterHeat{riseK: difference(to, from)}
	var err error
	if w.kw, err = gas.WaterKW(l, math.Max(0, w.riseK)); err != nil {
		return w, err
	}
	w.working = line("%s l/min × %s K × 4.19 ÷ 60 = %s kW.", show(l, 2), show(w.riseK, 1), show(w.kw, 2))
	return w, nil
}

const (
	noRise      = "The water is not warmer out than in: were the readings changed over?"
	coolReading = "The output cannot be worked out: "
)

// hotWater is the heat of the hot water drawn; f says why there is none.
func (v *visit) hotWater() (w waterHeat, f records.Finding, ok bool) {
	if f, ok = v.taken(records.HotFlowL.Field, records.HotInC.Field, records.HotOutC.Field); !ok {
		return w, f, false
	}
	w, err := v.waterHeat(records.HotFlowL, records.HotInC, records.HotOutC)
	switch {
	case err != nil:
		return w, doubtful("", coolReading+err.Error()+"."), false
	case w.riseK <= 0:
		return w, doubtful(v.entered(records.HotOutC.Field), noRise), false
	}
	return w, records.Finding{}, true
}

func hotOutput(v *visit) records.Finding {
	w, f, ok := v.hotWater()
	if !ok {
		return f
	}
	rated, ok := v.Values.Float(records.HotRatedKW)
	if !ok {
		rated, ok = v.Values.Float(records.RatedOutputKW)
	}
	if !ok {
		return missing("Not entered: " + nameOf(records.RatedOutputKW.Field) + ".")
	}
	l := least(roundTo(rated*95/100, 2), "kW", hotOutputLimit.Rank, hotOutputLimit.Source)
	l.Text += line(" (95 %% of %s kW)", show(rated, 2))
	f = verdict(w.kw, l, withUnit(show(w.kw, 2), "kW"), records.Observation,
		"The appliance gives the hot water it is rated for.",
		"Less hot water than rated: open the tap wide, then look at filter, inlet flow, setting and gas rate.")
	f.Working = []string{w.working}
	return f
}

// heatPutIn is the heat input that no output may exceed: net, or gross for an
// appliance that condenses, which can win all of the difference back.
func (v *visit) heatPutIn() (kw float64, basis string, working []string, why string) {
	if reason := records.HeatInput.ExemptReason(v.Values); reason != "" {
		return 0, "", nil, reason
	}
	const none = "the heat input cannot be worked out, so there is nothing to compare with"
	r, problem := v.gasRate()
	fuel, ok := v.fuel()
	if problem != "" || !ok {
		return 0, "", nil, none
	}
	cv, _ := v.calorificValue()
	gross, err := gas.HeatInputGrossKW(r.m3PerHour, cv)
	if err != nil {
		return 0, "", nil, none
	}
	net, err := fuel.NetFromGrossKW(gross)
	if err != nil {
		return 0, "", nil, none
	}
	working = append(r.working, line("Heat input %s kW gross, %s kW net.", show(gross, 2), show(net, 2)))
	if v.condensing() {
		return gross, "gross", working, ""
	}
	return net, "net", working, ""
}

// balance holds an output against the heat put in.
func (v *visit) balance(w waterHeat, more string) records.Finding {
	in, basis, working, why := v.heatPutIn()
	if why != "" {
		return exempt(why)
	}
	b, err := gas.HeatBalanceOf(in, w.kw, inputUncertaintyPct, outputUncertaintyPct)
	if err != nil {
		return doubtful(withUnit(show(w.kw, 2), "kW"), coolReading+err.Error()+".")
	}
	f := inside(line("%s kW, %s %% of the heat put in", show(w.kw, 2), show(b.Percent, 1)),
		"No more heat comes out than was put in.")
	if above(b.LowPercent, 100) {
		f = doubtful(f.Reading, "More heat comes out than was put in: read flow, temperatures and meter again."+more)
	}
	f.Working = append(append(working, w.working),
		line("%s ÷ %s kW %s = %s %%, between %s and %s %% by the uncertainties.", show(w.kw, 2), show(in, 2), basis,
			show(b.Percent, 1), show(b.LowPercent, 1), show(b.HighPercent, 1)))
	f.Limit = copyOf(balanceLimit)
	return f
}

func heatingBalance(v *visit) records.Finding {
	if !v.anyOf(records.HeatingFlowL.Field) {
		return exempt("the water flow through the boiler is not known")
	}
	if f, ok := v.need(records.FlowC.Field, records.ReturnC.Field); !ok {
		return f
	}
	w, err := v.waterHeat(records.HeatingFlowL, records.ReturnC, records.FlowC)
	switch {
	case err != nil:
		return doubtful("", coolReading+err.Error()+".")
	case w.riseK <= 0:
		return doubtful(v.entered(records.ReturnC.Field), "The return is not colder than the flow.")
	}
	return v.balance(w, "")
}

func hotBalance(v *visit) records.Finding {
	w, f, ok := v.hotWater()
	if !ok {
		return f
	}
	return v.balance(w, " Or hot water burns more than was timed: time the gas with hot water running.")
}
