package rules_test

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gaugebook/records"
	"gaugebook/records/gas"
	"gaugebook/records/rules"
)

// The study's records are drawn from physics: first an installation, then the
// state it is in on a day, then what instruments of stated uncertainty show of
// it. A stated uncertainty is taken as twice the standard deviation; what is
// common to a visit (calibration) is drawn once, what is not, for each reading.

// site is what does not change between visits.
type site struct {
	fuel             gas.Fuel
	kind, flue       string
	condensing       bool
	ratedNetKW       float64
	basis            string
	runs             []map[string]string
	segments         []gas.Segment
	meter            string // of the tightness test
	gauge            string
	lossShare        float64 // of the predicted loss, for fittings nobody counted
	co2Max           float64 // true, of the gas supplied
	co2MaxSet        float64 // that the analyser uses
	direct, minTaken bool
	o2Max, o2Min     float64 // true settings
}

// draw is chance, with instruments that err so many times as much as stated.
type draw struct {
	*rand.Rand
	errors float64
}

func (d draw) between(low, high float64) float64 { return low + (high-low)*d.Float64() }

// error2 is an error of a stated uncertainty, taken as two standard deviations.
func (d draw) error2(stated float64) float64 { return d.errors * d.NormFloat64() * stated / 2 }
func (d draw) chance(p float64) bool         { return d.Float64() < p }
func pick[T any](d draw, xs ...T) T          { return xs[d.IntN(len(xs))] }

func drawSite(d draw) site {
	s := site{fuel: gas.Fuels()[pick(d, 0, 0, 0, 0, 0, 0, 0, 1, 1, 2)], basis: pick(d, "net", "gross"),
		gauge: pick(d, records.GaugeElectronic, records.GaugeElectronic, records.GaugeElectronic, records.GaugeWater),
		meter: pick(d, "g4", "e6"), lossShare: d.between(0.85, 1.2), direct: d.chance(0.3), minTaken: d.chance(0.8)}
	s.co2Max = d.between(s.fuel.PublishedCO2MaxLowPercent, s.fuel.PublishedCO2MaxHighPercent)
	s.co2MaxSet = pick(d, s.fuel.PublishedCO2MaxLowPercent, s.fuel.PublishedCO2MaxHighPercent)
	s.o2Max, s.o2Min = d.between(3.6, 6.2), d.between(3.8, 6.8)
	switch n := d.IntN(10); {
	case n < 7:
		s.kind = pick(d, records.KindCombination, records.KindCombination, records.KindSystem, records.KindRegular)
		s.flue, s.condensing, s.ratedNetKW = records.FlueSealedFanned, true, d.between(10, 38)
	case n < 9:
		s.kind = pick(d, records.KindRegular, records.KindWaterHeater)
		s.flue, s.ratedNetKW = pick(d, records.FlueSealedFanned, records.FlueOpenNatural), d.between(9, 30)
		s.o2Max, s.o2Min = d.between(6, 11), d.between(8, 14)
	default:
		s.kind, s.flue, s.ratedNetKW = records.KindFire, records.FlueOpenNatural, d.between(3, 7.5)
		s.o2Max, s.o2Min = d.between(13, 18), d.between(14, 19)
	}
	s.layPipe(d)
	return s
}

// layPipe draws runs until they lose what a sound installation loses.
func (s *site) layPipe(d draw) {
	for {
		s.runs, s.segments = nil, nil
		for _, code := range []string{"copper-28", "copper-22", "copper-15"} {
			if !d.chance(0.6) {
				continue
			}
			p, _ := gas.PipeByCode(code)
			length := math.Round(d.between(0.5, 9)*100) / 100
			elbows, bends := d.IntN(5), d.IntN(3)
			s.runs = append(s.runs, map[string]string{"pipe": code, "length_m": records.FormatNumber(length, 2),
				"feeds":  "yes",
				"elbows": fmt.Sprint(elbows), "bends": fmt.Sprint(bends)})
			s.segments = append(s.segments, gas.Segment{Pipe: p, LengthM: length,
				FittingsM: 0.5*float64(elbows) + 0.3*float64(bends)})
		}
		if s.segments != nil && s.loss(s.flow(s.ratedNetKW*s.fuel.GrossNetRatio, s.fuel.GrossMJPerM3)) < 1.3 {
			return
		}
	}
}

func (s *site) flow(grossKW, cv float64) float64 { return must(gas.GasRateForGrossKW(grossKW, cv)) }

func (s *site) loss(flow float64) float64 {
	segments := append([]gas.Segment(nil), s.segments...)
	for i := range segments {
		segments[i].FlowM3PerHour = flow
	}
	return must(gas.RunLossOf(must(s.fuel.At(20)), segments)).TotalMbar * s.lossShare
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// sheet is a record being filled in.
type sheet struct {
	draw
	vs records.Values
}

// put writes a number at an instrument's resolution, within the field's range.
func (s sheet) put(f records.NumberField, x float64, decimals int) {
	s.vs.Put(f.Field, records.FormatNumber(min(max(x, f.Min), f.Max), decimals))
}

func (s sheet) say(f *records.Field, text string) { s.vs.Put(f, text) }

// visitTo draws a visit. It leaves the meter where earlier visits may not be.
func visitTo(d draw, s site, meterM3 float64) records.Values {
	vs := rules.Sample().Values
	for _, f := range records.ApplianceSection.Fields() {
		if len(f.Name()) > 7 && f.Name()[:7] == "stated_" {
			delete(vs, f.Key)
		}
	}
	for _, f := range records.HeatDelivery.Fields() {
		if f.Kind == records.NumberKind {
			delete(vs, f.Key)
		}
	}
	sh := sheet{d, vs}
	sh.identity(s)
	cv := s.calorific(sh)
	gross := s.ratedNetKW * s.fuel.GrossNetRatio * (1 + d.error2(0.03))
	flow := s.flow(gross, cv)
	sh.pressures(s, flow)
	sh.heat(flow, meterM3)
	flueC := sh.products(s)
	sh.delivery(s, gross/s.fuel.GrossNetRatio, flueC)
	sh.times()
	sh.leaveOut(s)
	return vs
}

// leaveOut takes away what the appliance does not have: nobody enters the water
// side of a fire.
func (sh sheet) leaveOut(s site) {
	var none []*records.Field
	boiler := s.kind == records.KindCombination || s.kind == records.KindSystem || s.kind == records.KindRegular
	if !boiler {
		none = append(none, records.Water.Fields()...)
		for _, g := range records.Electrical.Groups {
			if g.Title == "Heating controls" {
				none = append(none, g.Fields...)
			}
		}
	}
	if s.kind == records.KindFire {
		none = append(none, records.HeatDelivery.Fields()...)
	}
	if !s.condensing {
		none = append(none, records.CondensateMM.Field, records.CondensateFall.Field, records.CondensateOut.Field,
			records.CondensateEnd.Field, records.CondensateTrap.Field)
		if boiler {
			sh.say(records.CondensingReason.Field, "Assessment form 7: no drain can be reached")
		}
	}
	if s.flue == records.FlueOpenNatural {
		none = append(none, records.InletO2Pct.Field, records.InletCO2Pct.Field, records.FlueFallMM.Field,
			records.FlueDistances.Field)
	}
	for _, f := range none {
		delete(sh.vs, f.Key)
	}
}

func (sh sheet) identity(s site) {
	yes := map[bool]string{true: "yes", false: "no"}
	sh.say(records.ApplianceKind.Field, s.kind)
	sh.say(records.ApplianceFuel.Field, string(s.fuel.Code))
	sh.say(records.ApplianceCondensing.Field, yes[s.condensing])
	sh.say(records.ApplianceFlue.Field, s.flue)
	rated := s.ratedNetKW
	if s.basis == "gross" {
		rated *= s.fuel.GrossNetRatio
	}
	sh.put(records.RatedInputKW, rated, 1)
	sh.say(records.RatedInputBasis.Field, s.basis)
	output := 0.88
	if s.condensing {
		output = 0.975
	}
	sh.put(records.RatedOutputKW, s.ratedNetKW*output, 1)
	if s.flue == records.FlueOpenNatural {
		sh.say(records.FlueSystem.Field, records.FlueSingle)
		sh.say(records.FlueTerminal.Field, records.TerminalRoof)
		sh.say(records.FlueFlow.Field, "drawn")
		sh.say(records.FlueSpillage.Field, "drawn")
	}
}

// calorific draws the gas supplied and, where it is known, enters it.
func (s site) calorific(sh sheet) float64 {
	if s.fuel.Code != gas.NaturalGas {
		delete(sh.vs, records.HeatCV.Key)
		return s.fuel.GrossMJPerM3 * (1 + sh.error2(0.03))
	}
	cv := sh.between(37.6, 42.9)
	sh.put(records.HeatCV, cv*(1+sh.error2(0.006)), 1)
	return cv
}

func (sh sheet) pressures(s site, flow float64) {
	working := map[gas.FuelCode][2]float64{gas.NaturalGas: {19, 22.5}, gas.Propane: {34, 39},
		gas.Butane: {27, 30}}[s.fuel.Code]
	meter := sh.between(working[0], working[1])
	lockUp := meter + sh.between(0.8, 4)
	sh.say(records.PressureLoad.Field, "alone")
	if sh.chance(0.3) {
		other := sh.between(0.1, 1)
		flow += other
		sh.say(records.PressureLoad.Field, "highest")
		sh.put(records.OtherFlowM3H, other*(1+sh.error2(0.1)), 2)
	}
	bias := sh.error2(0.2)
	read := func(f records.NumberField, x float64) { sh.put(f, x+bias+sh.error2(0.06), 1) }
	read(records.StandingMbar, lockUp)
	read(records.MeterMbar, meter)
	read(records.ApplianceMbar, meter-s.loss(flow)-sh.between(0, 0.15))
	sh.tightness(s, lockUp, bias)
}

func (sh sheet) tightness(s site, lockUp, bias float64) {
	sh.say(records.TightnessGaugeHow.Field, s.gauge)
	sh.say(records.TightnessMeter.Field, s.meter)
	sh.vs.PutRows(records.TightnessRuns, s.runs...)
	read := func(f records.NumberField, x float64) {
		if s.gauge == records.GaugeWater {
			sh.put(f, math.Round(4*(x+sh.error2(0.25)))/4, 2)
			return
		}
		sh.put(f, x+sh.error2(0.06), 1)
	}
	leak := 0.0
	if sh.chance(0.1) { // an appliance valve that lets by a little, before and after
		leak = sh.between(0.3, 0.9)
	}
	read(records.LetByPressureMbar, sh.between(7.3, 9.7)+bias)
	sh.put(records.LetByRiseMbar, 0, 1)
	read(records.TestPressureMbar, min(sh.between(20, 21), lockUp)+bias)
	read(records.DropMbar, max(0, leak+sh.error2(0.1)))
	read(records.BeforeDropMbar, max(0, leak+sh.error2(0.1)))
	if s.fuel.Code != gas.NaturalGas {
		sh.put(records.StatedDropMbar, 1.5, 1)
		sh.say(records.StatedDropSource.Field, "Invented procedure for LPG")
	}
	if leak > 0 {
		sh.put(records.PipeworkDropMbar, 0, 1)
	}
}

// heat times the meter from one change of its last digit to the next after a
// minute, or over whole turns of the dial.
func (sh sheet) heat(flow, meterM3 float64) {
	shown := flow * (1 + sh.error2(0.03))
	step, f := 0.001, records.HeatStartM3
	if sh.chance(0.2) {
		sh.say(records.HeatMeter.Field, records.MeterImperial)
		delete(sh.vs, records.HeatStartM3.Key)
		delete(sh.vs, records.HeatEndM3.Key)
		step = gas.M3PerFt3
	}
	seconds := step * 3600 / shown
	n := max(1, math.Ceil(60/seconds))
	if step == gas.M3PerFt3 {
		sh.say(records.HeatDialFt3.Field, "1")
		sh.put(records.HeatTurns, n, 0)
	} else {
		sh.put(f, meterM3, 3)
		start, _ := sh.vs.Float(f)
		sh.put(records.HeatEndM3, start+n*step, 3)
	}
	sh.put(records.HeatSeconds, n*seconds+sh.error2(1), pick(sh.draw, 0, 1))
}

// analyser holds the errors that a visit's readings share.
type analyser struct{ o2, co2, flueC, co float64 }

func (sh sheet) products(s site) (flueMaxC float64) {
	a := analyser{sh.error2(0.3), sh.error2(0.3), sh.error2(5), 1 + sh.error2(0.05)}
	air := sh.between(4, 26)
	flue, low := sh.between(40, 82), sh.between(34, 62)
	switch {
	case s.kind == records.KindFire:
		flue = sh.between(110, 260)
		low = flue - sh.between(10, 60)
	case !s.condensing:
		flue = sh.between(95, 190)
		low = flue - sh.between(5, 50)
	case low > flue+10: // the water warmed up between the readings, but not by more
		low = flue + sh.between(0, 10)
	}
	method := "from-o2"
	if s.direct {
		method = "measured"
	}
	sh.say(records.CO2Method.Field, method)
	sh.put(records.AirTempC, air+sh.error2(1), 1)
	sh.put(records.AmbientCOPPM, math.Abs(sh.error2(3)), 0)
	sh.put(records.InletO2Pct, min(20.95+sh.error2(0.1), 21.1), 1)
	sh.put(records.InletCO2Pct, math.Abs(0.04+sh.error2(0.1)), 2)
	sh.point(s, a, s.o2Max, math.Exp(4.3+0.5*sh.NormFloat64()), flue, records.O2MaxPct, records.CO2MaxPct,
		records.COMaxPPM, records.FlueTempMaxC)
	if s.minTaken {
		sh.say(records.MinRate.Field, "taken")
		sh.point(s, a, s.o2Min, math.Exp(2.8+0.6*sh.NormFloat64()), low, records.O2MinPct, records.CO2MinPct,
			records.COMinPPM, records.FlueTempMinC)
		return flue
	}
	sh.say(records.MinRate.Field, "not-possible")
	sh.say(records.MinRateReason.Field, "One rate only: instructions, page 4")
	for _, f := range []records.NumberField{records.O2MinPct, records.CO2MinPct, records.COMinPPM,
		records.FlueTempMinC} {
		delete(sh.vs, f.Key)
	}
	return flue
}

// point burns the gas with the excess air that leaves the true oxygen, and
// shows what an analyser makes of the products.
func (sh sheet) point(s site, a analyser, o2, co, flueC float64, fO2, fCO2, fCO, fTemp records.NumberField) {
	products := must(s.fuel.ProductsAt(must(s.fuel.Stoichiometry.ExcessAirPercent(o2)), gas.ReferenceMbar))
	// Distributed gas is not the pure test gas; its CO2max lies in the published range.
	trueCO2 := products.CO2DryPercent * s.co2Max / s.fuel.Stoichiometry.CO2MaxPercent
	// The sensor is set right in fresh air, so its error grows away from it.
	shownO2 := products.O2DryPercent + a.o2*(1-o2/20.9) + sh.error2(0.06)
	shownCO2 := must(gas.CO2FromO2Percent(min(max(shownO2, 0), 20.9), s.co2MaxSet))
	if s.direct {
		shownCO2 = trueCO2 + a.co2 + sh.error2(0.06)
	}
	sh.put(fO2, shownO2, 1)
	sh.put(fCO2, shownCO2, 1)
	sh.put(fCO, math.Max(0, co*a.co+sh.error2(4)), 0)
	sh.put(fTemp, flueC+a.flueC+sh.error2(1), 1)
}

func (sh sheet) delivery(s site, netKW, flueC float64) {
	if s.kind == records.KindFire {
		return
	}
	air, _ := sh.vs.Float(records.AirTempC)
	loss := must(s.fuel.Siegert.LossFromO2Percent(s.o2Max, flueC, air, gas.SiegertO2Percent))
	gain := must(s.fuel.CondensationAt(s.o2Max, flueC)).GainNetPercent * sh.between(0.6, 1)
	out := netKW * (100 - loss + gain - sh.between(0.5, 2)) / 100
	if s.kind == records.KindCombination || s.kind == records.KindSystem || s.kind == records.KindRegular {
		rise := sh.between(9, 21)
		back := sh.between(45, 60)
		if s.condensing {
			back = max(22, flueC-sh.between(3, 20))
		}
		sh.put(records.ReturnC, back+sh.error2(1), 1)
		sh.put(records.FlowC, back+rise+sh.error2(1), 1)
		sh.put(records.HeatingFlowL, waterLitres(out, rise)*(1+sh.error2(0.05)), 1)
	}
	if s.kind == records.KindCombination || s.kind == records.KindWaterHeater {
		rise, cold := sh.between(28, 40), sh.between(5, 15)
		sh.put(records.HotInC, cold+sh.error2(1), 1)
		sh.put(records.HotOutC, cold+rise+sh.error2(1), 1)
		sh.put(records.HotFlowL, waterLitres(out, rise)*(1+sh.error2(0.05)), 1)
	}
}

func (sh sheet) times() {
	settle := 3 + sh.IntN(12)
	at := 8*60 + sh.IntN(7*60)
	for _, f := range []records.TextField{records.TightnessTime, records.PressureTime, records.HeatTime,
		records.CombustionTime} {
		sh.say(f.Field, fmt.Sprintf("%02d:%02d", at/60, at%60))
		at += 8 + settle + sh.IntN(30)
	}
	sh.put(records.SettleMinutes, float64(settle), 0)
}

// studyRecord draws a record and the facts beside it.
func studyRecord(d draw) (*records.Record, records.Facts, site) {
	r := rules.Sample()
	s := drawSite(d)
	meter := d.between(500, 80000)
	r.Values = visitTo(d, s, meter)
	if d.chance(0.4) {
		r.Purpose = records.Service
	}
	return r, records.Facts{Earlier: visitTo(d, s, meter-d.between(100, 450))}, s
}

// waterLitres is the flow in l/min that carries a heat in kW.
func waterLitres(kw, riseK float64) float64 { return kw * 60 / (riseK * 4.19) }
