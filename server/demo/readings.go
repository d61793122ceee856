package demo

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"

	"gaugebook/records"
	"gaugebook/records/gas"
	"gaugebook/records/rules"
)

// plate returns the Appliance section of one appliance.
func (m model) plate(serial string, replaced bool) records.Values {
	vs := records.Values{}
	put := func(f *records.Field, entry string) { vs.Put(f, entry) }
	put(records.ApplianceKind.Field, m.kind)
	put(records.ApplianceMake.Field, m.make)
	put(records.ApplianceModel.Field, m.name)
	put(records.ApplianceSerial.Field, serial)
	put(records.ApplianceLocation.Field, m.location)
	put(records.ApplianceFuel.Field, m.fuel)
	put(records.ApplianceCondensing.Field, yesNo(m.condensing))
	put(records.ApplianceFlue.Field, m.flue)
	put(records.ApplianceInstalled.Field, map[bool]string{true: "replacement", false: "new"}[replaced])
	put(records.RatedInputKW.Field, fmt.Sprintf("%.1f", m.netKW))
	put(records.RatedInputBasis.Field, "net")
	put(records.RatedOutputKW.Field, fmt.Sprintf("%.1f", m.outputKW))
	put(records.StatedDocument.Field, m.make+" "+m.name+" installation and servicing instructions")
	put(records.StatedCO2MaxRateLow.Field, m.co2Low)
	put(records.StatedCO2MaxRateHigh.Field, m.co2High)
	put(records.StatedCO2MinRateLow.Field, m.minLow)
	put(records.StatedCO2MinRateHigh.Field, m.minHigh)
	put(records.StatedFlueLengthMaxM.Field, m.flueMaxM)
	if m.condensing {
		put(records.StatedFlueFallMinMM.Field, "44")
	}
	switch m.kind {
	case records.KindCombination, records.KindSystem, records.KindRegular:
	case records.KindSpaceHeater, records.KindCooker: // nothing to sample
	default: // no published level is on file
		put(records.StatedRatioMax.Field, "0.008")
		put(records.StatedPage.Field, "Servicing, page 22")
	}
	return vs
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// visit draws the readings of one visit that fit each other: gas rate and
// data plate, pipe and loss, oxygen and CO₂. They are inside every limit; the
// scenario then spoils some.
func (m model) visit(rng *rand.Rand, on records.Date, purpose records.Purpose, engineer,
	customer string) records.Values {
	vs := rules.Sample().Values
	for _, f := range records.ApplianceSection.Fields() {
		delete(vs, f.Key) // the appliance has its own
	}
	put := func(f *records.Field, format string, args ...any) { vs.Put(f, fmt.Sprintf(format, args...)) }

	gauge, analyser := []string{"gauge-a", "gauge-b"}[rng.IntN(2)], []string{"analyser-a", "analyser-b"}[rng.IntN(2)]
	put(records.TightnessGauge.Field, "%s", gauge)
	put(records.PressureGauge.Field, "%s", gauge)
	put(records.Analyser.Field, "%s", analyser)
	delete(vs, records.TightnessEdition.Key)
	if on.Before(records.MustDate("2026-10-01")) && !on.Before(records.MustDate("2026-03-01")) {
		put(records.TightnessEdition.Field, "%s", records.Edition3)
	}
	hour := 9 + rng.IntN(6)
	put(records.TightnessTime.Field, "%02d:%02d", hour, 5*rng.IntN(6))
	put(records.PressureTime.Field, "%02d:%02d", hour+1, 5*rng.IntN(6))
	put(records.HeatTime.Field, "%02d:%02d", hour+1, 30+5*rng.IntN(3))
	put(records.CombustionTime.Field, "%02d:%02d", hour+1, 50+5*rng.IntN(2))
	put(records.TestPressureMbar.Field, "%.1f", 20.1+0.1*float64(rng.IntN(8)))
	put(records.DropMbar.Field, "%.1f", 0.1*float64(rng.IntN(2)))
	put(records.BeforeDropMbar.Field, "%.1f", 0.1*float64(rng.IntN(2)))
	put(records.EngineerName.Field, "%s", engineer)
	put(records.ReceivedBy.Field, "%s", customer)
	put(records.Notifiable.Field, "%s", yesNo(purpose == records.Commissioning))
	put(records.ForUser.Field, "%s", notesFor[rng.IntN(len(notesFor))])

	flow := m.gasRate()
	m.pressures(vs, rng, flow)
	m.meter(vs, rng, flow, meterAt(customer, on, purpose)+float64(rng.IntN(100))/1000)
	m.products(vs, rng)
	m.route(vs, rng)
	m.home(vs, rng, purpose)
	if m.flue == records.FlueNone {
		remove(vs, records.Flue.Fields()...)
		remove(vs, records.Combustion.Fields()...)
	}
	return vs
}

var notesFor = []string{
	"Cold fill pressure left at 1.2 bar. Top up when the display asks for it.",
	"Programmer set to your times; spare sheet left in the drawer.",
	"Please keep the shrub clear of the terminal.",
	"",
	"Thermostat in the hall leads; radiator valves can be turned down room by room.",
}

// calorificValue is what the demo's suppliers state, in MJ/m³ gross.
func (m model) calorificValue() float64 {
	if m.fuel == records.FuelPropane {
		return 95.65
	}
	return 39.2
}

// gasRate is the gas rate in m³/h at the data plate's rating.
func (m model) gasRate() float64 {
	ratio := 1.11
	if m.fuel == records.FuelPropane {
		ratio = 1.087
	}
	return m.netKW * ratio * 3.6 / m.calorificValue()
}

func (m model) pressures(vs records.Values, rng *rand.Rand, flow float64) {
	lpg := m.fuel == records.FuelPropane
	meter, standing, shift := 20.4+0.1*float64(rng.IntN(8)), 22.5+0.1*float64(rng.IntN(12)), 0.0
	if lpg {
		shift = 16.5
		vs.Put(records.StatedDropMbar.Field, "0.5")
		vs.Put(records.StatedDropSource.Field, "Supplier's instructions for this bulk tank, page 6")
		vs.Put(records.TestPressureMbar.Field, "45.0")
		vs.Put(records.LetByPressureMbar.Field, "8.5")
	}
	loss := math.Round(predictedLoss(vs, m.fuel, flow)*10)/10 + 0.1*float64(rng.IntN(2))
	if !lpg {
		loss = min(loss, 0.9)
	}
	vs.Put(records.StandingMbar.Field, fmt.Sprintf("%.1f", standing+shift))
	vs.Put(records.MeterMbar.Field, fmt.Sprintf("%.1f", meter+shift))
	vs.Put(records.ApplianceMbar.Field, fmt.Sprintf("%.1f", meter+shift-loss))
}

// meterAt is what the meter of a home stands at on a day, in m³. It only ever
// rises, from one visit of a day to the next as well.
func meterAt(customer string, on records.Date, purpose records.Purpose) float64 {
	home := fnv.New32a()
	home.Write([]byte(customer))
	h := home.Sum32()
	perDay := 2 + h%3
	within := map[records.Purpose]float64{records.LandlordCheck: 0.2, records.Service: 0.4,
		records.Remedial: 0.6}[purpose]
	return within + float64(h%4000+perDay*uint32(on.DaysSince(records.MustDate("2020-01-01"))))
}

// meter times the meter for about a minute, on to the next digit.
func (m model) meter(vs records.Values, rng *rand.Rand, flow, start float64) {
	digits := math.Ceil(flow * 1000 * 62 / 3600)
	seconds := digits / 1000 * 3600 / flow * (1 + 0.01*(rng.Float64()-0.5))
	vs.Put(records.HeatStartM3.Field, fmt.Sprintf("%.3f", start))
	vs.Put(records.HeatEndM3.Field, fmt.Sprintf("%.3f", start+digits/1000))
	vs.Put(records.HeatSeconds.Field, fmt.Sprintf("%.0f", math.Ceil(seconds)))
	vs.Put(records.HeatCV.Field, fmt.Sprintf("%.2f", m.calorificValue()))
}

// products draws oxygen and lets CO₂ follow from it for the fuel.
func (m model) products(vs records.Values, rng *rand.Rand) {
	maxCO2 := 11.7
	if m.fuel == records.FuelPropane {
		maxCO2 = 13.7
	}
	at := func(o2 float64, o2Field, co2Field records.NumberField) {
		o2 = math.Round(o2*10) / 10
		co2, err := gas.CO2FromO2Percent(o2, maxCO2)
		if err != nil {
			panic(err) // the draw below is always in range
		}
		vs.Put(o2Field.Field, fmt.Sprintf("%.1f", o2))
		vs.Put(co2Field.Field, fmt.Sprintf("%.1f", co2))
	}
	base := 4.2
	if !m.condensing {
		base = 9
	}
	at(base+0.6*rng.Float64(), records.O2MaxPct, records.CO2MaxPct)
	at(base+1.1+0.4*rng.Float64(), records.O2MinPct, records.CO2MinPct)
	vs.Put(records.COMaxPPM.Field, fmt.Sprint(48+rng.IntN(70)))
	vs.Put(records.COMinPPM.Field, fmt.Sprint(6+rng.IntN(20)))
	flue := 54.0
	if !m.condensing {
		flue = 140
	}
	vs.Put(records.FlueTempMaxC.Field, fmt.Sprintf("%.1f", flue+8*rng.Float64()))
	vs.Put(records.FlueTempMinC.Field, fmt.Sprintf("%.1f", flue-9+3*rng.Float64()))
	vs.Put(records.AirTempC.Field, fmt.Sprintf("%.1f", 9+10*rng.Float64()))
	if m.kind == records.KindFire {
		for _, f := range []records.NumberField{records.COMinPPM, records.CO2MinPct, records.O2MinPct,
			records.FlueTempMinC} {
			delete(vs, f.Key)
		}
		vs.Put(records.MinRate.Field, "not-possible")
	}
}

// route is the flue, for the kind of flue.
func (m model) route(vs records.Values, rng *rand.Rand) {
	vs.Put(records.FlueLengthM.Field, fmt.Sprintf("%.2f", 0.8+2*rng.Float64()))
	if m.flue == records.FlueOpenNatural || m.flue == records.FlueOpenFanned {
		vs.Put(records.FlueSystem.Field, records.FlueSingle)
		vs.Put(records.FlueTerminal.Field, records.TerminalRoof)
		vs.Put(records.FlueFlow.Field, "drawn")
		vs.Put(records.FlueSpillage.Field, "drawn")
		vs.Put(records.StatedFlueLengthMaxM.Field, "12")
		delete(vs, records.FlueFallMM.Key)
		delete(vs, records.FlueDistances.Key)
		delete(vs, records.InletO2Pct.Key)
		delete(vs, records.InletCO2Pct.Key)
		vs.PutRows(records.FlueDistances, map[string]string{"position": "roof-structure", "distance_mm": "2400",
			"stated_mm": "1500"})
	}
}

// predictedLoss is the loss in mbar of the runs that feed the appliance, by
// the same physics as the rules use.
func predictedLoss(vs records.Values, fuel string, flow float64) float64 {
	f, _ := gas.FuelByCode(gas.FuelCode(fuel))
	working := 21.0
	if fuel == records.FuelPropane {
		working = 37
	}
	flowing, err := f.At(working)
	if err != nil {
		panic(err)
	}
	total := 0.0
	for _, run := range vs.Rows(records.TightnessRuns) {
		pipe, ok := gas.PipeByCode(run.Text("pipe"))
		if !ok || run.Text("feeds") != "yes" {
			continue
		}
		fittings := 0.5 * (run.Float("elbows") + run.Float("tees"))
		loss, err := gas.PipeLoss(flowing, flow, gas.Bore{BoreMM: pipe.BoreMM, RoughnessMM: pipe.RoughnessMM,
			LengthM: run.Float("length_m") + fittings})
		if err != nil {
			panic(err)
		}
		total += loss.Mbar
	}
	return total
}
