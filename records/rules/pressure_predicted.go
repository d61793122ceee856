package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

// The band round the predicted loss within which a measured one is believed:
// a factor of two and 0.3 mbar, for two gauge readings, unrecorded fittings,
// valves and flexible ends. Our own choice, wide on purpose.
const (
	predictedFactor    = 2.0
	predictedSlackMbar = 0.3
)

var predictedLimit = words("half to twice the predicted loss, and 0.3 mbar either way", records.ByPhysics,
	sure(clause(physics, "Darcy-Weisbach with Colebrook-White; fittings by BS 6891:2005"), records.Practice))

func predictedReads() []*records.Field {
	return append([]*records.Field{
		records.Examined.Field, records.ApplianceFuel.Field, records.MeterMbar.Field, records.ApplianceMbar.Field,
		records.PressureLoad.Field, records.OtherFlowM3H.Field, records.TightnessRuns.Field,
		records.RatedInputKW.Field, records.RatedInputBasis.Field,
	}, rateReads()...)
}

func (e pressure) predictedDrop() records.Finding {
	if f, ok := e.need(records.ApplianceFuel.Field, records.MeterMbar.Field, records.ApplianceMbar.Field); !ok {
		return f
	}
	meter, _ := e.Values.Number(records.MeterMbar)
	appliance, _ := e.Values.Number(records.ApplianceMbar)
	lost := difference(meter, appliance)
	run, working, why := e.predict(meter.Value)
	if why != "" {
		return exempt("no loss can be predicted: " + why)
	}
	low := max(float64(run.LeastTotalMbar/predictedFactor)-predictedSlackMbar, 0)
	high := float64(run.TotalMbar*predictedFactor) + predictedSlackMbar
	l := predictedLimit
	band := span(low, high, "mbar", l.Rank, l.Source)
	l.Text = show(low, 2) + " to " + withUnit(show(high, 2), "mbar") + " (" + l.Text + ")"
	l.Low, l.High, l.Unit = band.Low, band.High, band.Unit
	f := inside(withUnit(show(lost, 2), "mbar"), "The pressure loss measured agrees with the pipe runs entered.")
	switch {
	case above(lost, *l.High):
		f.Outcome = records.Doubtful
		f.Reason = "Far more pressure is lost than the pipe runs entered account for: look for a wrong run, a " +
			"blockage or a misreading."
	// a loss of up to one gauge step below zero counts as none
	case below(lost, *l.Low) && (*l.Low > 0 || below(lost, -gaugeStepMbar)):
		f.Outcome = records.Doubtful
		f.Reason = "Far less pressure is lost than the pipe runs entered account for: look for a wrong run, a low " +
			"gas rate or a misreading."
	}
	f.Limit = &l
	f.Working = append(working, line("Measured: %s mbar.", show(lost, 2)))
	return f
}

// predict works out the loss of the runs that feed the appliance; why says
// why it cannot.
func (e pressure) predict(workingMbar float64) (loss gas.RunLoss, working []string, why string) {
	fuel, ok := e.fuel()
	if !ok {
		return loss, nil, "no fuel is entered"
	}
	flow, from, ok := e.flowM3PerHour()
	if !ok {
		return loss, nil, "there is no measured or rated gas rate"
	}
	if e.Values.Choice(records.PressureLoad) == "highest" {
		other, ok := e.Values.Float(records.OtherFlowM3H)
		if !ok {
			return loss, nil, "the gas used by other appliances on the same pipe is not entered"
		}
		flow += other
		from += line(", and %s m³/h by other appliances", show(other, 3))
	}
	rs, problem := e.runs()
	if problem != "" {
		return loss, nil, "the pipe runs are not complete"
	}
	working = append(working, line("Gas rate %s m³/h: %s.", show(flow, 3), from))
	var segments []gas.Segment
	for _, r := range rs {
		if !r.feeds {
			continue
		}
		if !r.hasBore {
			return loss, nil, "the pressure loss of corrugated pipe is not known"
		}
		fittings := equivalentM(r)
		segments = append(segments, gas.Segment{Pipe: r.Pipe, LengthM: r.LengthM, FittingsM: fittings,
			FlowM3PerHour: flow})
		working = append(working, line("%s: %s m and fittings equal to %s m.", r.Pipe.Label, show(r.LengthM, 2),
			show(fittings, 2)))
	}
	if segments == nil {
		return loss, nil, "no pipe run is marked as feeding this appliance"
	}
	flowing, err := fuel.At(workingMbar)
	if err == nil {
		loss, err = gas.RunLossOf(flowing, segments)
	}
	if err != nil {
		return loss, nil, err.Error()
	}
	for i, s := range loss.Segments {
		working = append(working, line("Run %d: %s mbar, %s flow, Re %s.", i+1, show(s.Mbar, 3), s.Regime,
			show(s.Reynolds, 0)))
	}
	return loss, append(working, line("Predicted: %s mbar.", show(loss.TotalMbar, 2))), ""
}

// equivalentM is the length of straight pipe that the run's fittings count as.
func equivalentM(r run) float64 {
	total := 0.0
	for _, f := range []struct {
		kind  string
		count float64
	}{{gas.Elbow90, r.elbows}, {gas.Bend90, r.bends}, {gas.TeePiece, r.tees}} {
		if one, ok := gas.FittingLengthOf(gas.BS6891Of2005, f.kind, r.Pipe.NominalMM); ok {
			total += float64(f.count * one.EquivalentM)
		}
	}
	return total
}

// flowM3PerHour is the gas that the appliance draws: as timed at the meter,
// else what its rated input needs.
func (e pressure) flowM3PerHour() (flow float64, from string, ok bool) {
	if rate, err := e.gasRate(); err == "" {
		return rate.m3PerHour, "timed at the meter", true
	}
	_, gross, ok := e.ratedKW()
	if !ok {
		return 0, "", false
	}
	cv, _ := e.calorificValue()
	flow, err := gas.GasRateForGrossKW(gross, cv)
	return flow, "from the rated heat input", err == nil
}
