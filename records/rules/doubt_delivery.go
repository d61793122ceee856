package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

var flueBalanceLimit = words("no more heat in the water than the flue loss allows", records.ByPhysics,
	sure(clause(physics,
		"conservation of energy: Siegert loss and condensation at the flue temperature; "+
			"twice the combined uncertainty"),
		records.Practice))

func deliveryDoubts() []Rule {
	return []Rule{{
		ID: "delivery.flue_balance", Title: "Heat delivered against flue loss", Section: records.HeatDelivery.ID,
		Reads: with(rateReads(), records.ApplianceFuel.Field, records.HeatingFlowL.Field, records.FlowC.Field,
			records.ReturnC.Field,
			records.O2MaxPct.Field, records.FlueTempMaxC.Field, records.AirTempC.Field, records.ApplianceKind.Field,
			records.Examined.Field),
		Limits: []records.Limit{flueBalanceLimit},
		Explains: "The flue gas shows how much of the heat can have gone into the water, condensation included. " +
			"More than that contradicts the gas, water flow or temperature readings.",
		eval: on(delivery.flueBalance),
	}}
}

// netEfficiencyPct is the best that the flue gas allows, on net value.
func netEfficiencyPct(f gas.Fuel, o2, flueC, airC float64) (float64, error) {
	loss, err := f.Siegert.LossFromO2Percent(o2, flueC, airC, gas.SiegertO2Percent)
	if err != nil {
		return 0, err
	}
	c, err := f.CondensationAt(o2, flueC)
	return 100 - loss + c.GainNetPercent, err
}

func (e delivery) flueBalance() records.Finding {
	rs, ok := e.all(records.HeatingFlowL, records.FlowC, records.ReturnC, records.O2MaxPct, records.FlueTempMaxC,
		records.AirTempC)
	r, problem := e.gasRate()
	fuel, known := e.fuel()
	examined := e.Values.Choice(records.Examined)
	if !ok || problem != "" || !known || examined == records.ExaminedPressure || examined == records.ExaminedNeither {
		return notThere("gas, water and flue gas were not all measured")
	}
	cv, _ := e.calorificValue()
	gross, err := gas.HeatInputGrossKW(r.m3PerHour, cv)
	net, err2 := fuel.NetFromGrossKW(gross)
	best, err3 := netEfficiencyPct(fuel, rs[3].Value, rs[4].Value, rs[5].Value)
	riseK := difference(rs[1], rs[2])
	out, err4 := gas.WaterKW(rs[0].Value, math.Max(0, riseK))
	if err != nil || err2 != nil || err3 != nil || err4 != nil || net < 0.1 || riseK < waterTempErrorK {
		return exempt("the readings do not give a heat balance; each is judged in its own section")
	}
	inU := math.Sqrt(float64(meterErrorPct*meterErrorPct) + float64(calorificErrorPct*calorificErrorPct))
	riseU := 100 * math.Sqrt2 * waterTempErrorK / riseK
	outU := math.Min(50, math.Sqrt(float64(waterFlowErrorPct*waterFlowErrorPct)+float64(riseU*riseU)))
	b, err := gas.HeatBalanceOf(net, out, inU, outU)
	if err != nil {
		return exempt("the readings do not give a heat balance; each is judged in its own section")
	}
	// LowPercent takes off one joint uncertainty; the band is twice that.
	least := b.Percent - float64(2*(b.Percent-b.LowPercent))
	reading := line("%s %% of the net heat input", show(b.Percent, 1))
	f := sound(reading, "The flue loss leaves enough heat for what the water took.", flueBalanceLimit)
	if above(least, best) {
		f = odd(reading, "There is more heat in the water than the flue loss allows: read the gas, water flow and "+
			"temperatures again.", flueBalanceLimit)
	}
	f.Working = append(r.working,
		line("Heat into the water %s kW, net heat input %s kW.", show(out, 2), show(net, 2)),
		line("The flue loss allows %s %% net; after twice the uncertainty at least %s %% was delivered.",
			show(best, 1), show(least, 1)))
	return f
}
