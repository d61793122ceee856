package rules

import (
	"fmt"
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	freshLimit = most(roundTo(gas.AirO2Percent+oxygenErrorPct, 2), "% O₂", records.ByPhysics,
		sure(clause(physics, "oxygen of fresh air and the error of the sensor"), records.Confirmed))
	inletFitLimit = most(roundTo(co2ErrorPct+0.57*oxygenErrorPct+0.13, 1), "% CO₂ apart", records.ByPhysics,
		sure(clause(physics, "oxygen and CO₂ in the same air: errors of both sensors and of rounding added up"),
			records.Practice))
	cleanerLimit = words("not more CO in the room than in the flue, within 25 ppm", records.ByPractice,
		ownBand("3 ppm in the room, 20 ppm in the flue"))
	timeEnoughTest = words("at least the settling time stated between test and readings", records.ByPhysics,
		sure(clause(physics, "the appliance is lit only after the test; two minutes allowed for the clock"),
			records.Practice))
)

func inletDoubts() []Rule {
	id := records.Combustion.ID
	oxygens := []records.NumberField{records.InletO2Pct, records.O2MaxPct, records.O2MinPct}
	return []Rule{
		{ID: "combustion.oxygen_range", Title: "Oxygen not above that of fresh air", Section: id,
			Reads: fieldsOf(oxygens, records.MinRate.Field), Limits: []records.Limit{freshLimit},
			Explains: "Nothing in or around a flue holds more oxygen than fresh air; a higher reading means the " +
				"analyser was not zeroed, or a mistake.",
			eval: func(e *entries) records.Finding {
				return heat{e}.oxygenRange(oxygens)
			}},
		{ID: "combustion.inlet_agree", Title: "Oxygen agrees with CO₂ in the air inlet", Section: id,
			Reads: []*records.Field{records.InletO2Pct.Field, records.InletCO2Pct.Field,
				records.ApplianceFuel.Field},
			Limits: []records.Limit{inletFitLimit},
			Explains: "Combustion products in the air inlet lower its oxygen and raise its CO₂ together. One " +
				"without the other is the sensor or a mistake, not the flue.",
			eval: on(heat.inletAgree)},
		{ID: "combustion.ambient_flue", Title: "Less CO in the room than in the flue", Section: id,
			Reads: fieldsOf([]records.NumberField{records.AmbientCOPPM, records.COMaxPPM, records.COMinPPM},
				records.MinRate.Field),
			Limits: []records.Limit{cleanerLimit},
			Explains: "More carbon monoxide in the room than in the flue means another source, a sensor that was " +
				"not zeroed, or readings that were swapped.",
			eval: on(heat.ambientFlue)},
		{ID: "combustion.time_enough", Title: "Enough time to settle", Section: id, Purposes: commissioningOnly,
			Reads: []*records.Field{records.TightnessTime.Field, records.CombustionTime.Field,
				records.SettleMinutes.Field},
			Limits: []records.Limit{timeEnoughTest},
			Explains: "At commissioning the installation is tested, then the appliance is lit and left to settle. " +
				"If the settling time stated does not fit between the two times entered, one of the three is wrong.",
			eval: on(heat.timeEnough)},
	}
}

func (e heat) oxygenRange(fs []records.NumberField) records.Finding {
	highest, reading := -1.0, ""
	for _, f := range fs {
		if x, ok := e.Values.Float(f); ok && x > highest {
			highest, reading = x, e.entered(f.Field)
		}
	}
	if reading == "" {
		return notThere("no oxygen reading is entered")
	}
	if above(highest, *freshLimit.High) {
		return odd(reading, "Fresh air does not hold that much oxygen: zero the analyser outdoors and read again.",
			freshLimit)
	}
	return sound(reading, "No oxygen reading is above that of fresh air.", freshLimit)
}

func (e heat) inletAgree() records.Finding {
	rs, ok := e.all(records.InletO2Pct, records.InletCO2Pct)
	fuel, known := e.fuel()
	if !ok || !known {
		return notThere("oxygen and CO₂ in the air inlet are not both entered")
	}
	expected, err := gas.CO2FromO2Percent(min(rs[0].Value, gas.InstrumentO2Percent), fuel.PublishedCO2MaxHighPercent)
	if err != nil {
		return notThere("oxygen and CO₂ in the air inlet are not both entered")
	}
	reading := e.entered(records.InletO2Pct.Field) + " O₂, " + e.entered(records.InletCO2Pct.Field) + " CO₂"
	apart := math.Abs(rs[1].Value - expected)
	f := sound(reading, "Oxygen and CO₂ in the air inlet agree.", inletFitLimit)
	if above(apart, *inletFitLimit.High) {
		f = odd(reading,
			"Oxygen and CO₂ in the air inlet contradict each other: read both again before blaming the flue.",
			inletFitLimit)
	}
	f.Working = []string{line("At %s %% O₂ expect %s %% CO₂; the reading was %s %%.", show(rs[0].Value, 2),
		show(expected, 2),
		show(rs[1].Value, 2))}
	return f
}

func (e heat) ambientFlue() records.Finding {
	ambient, ok := e.Values.Float(records.AmbientCOPPM)
	flue, has := -1.0, false
	for _, f := range []records.NumberField{records.COMaxPPM, records.COMinPPM} {
		if x, there := e.Values.Float(f); there {
			flue, has = max(flue, x), true
		}
	}
	if !ok || !has {
		return notThere("CO in the room and in the flue are not both entered")
	}
	reading := line("room %s ppm, flue %s ppm", show(ambient, 0), show(flue, 0))
	if above(ambient, flue+ambientCOErrorPPM+flueCOErrorPPM+2) {
		return odd(reading, "There is more CO in the room than in the flue: another source, a sensor that was not "+
			"zeroed, or readings that were swapped.", cleanerLimit)
	}
	return sound(reading, "There is not more CO in the room than in the flue.", cleanerLimit)
}

func (e heat) timeEnough() records.Finding {
	test, ok := minutesOf(e.Values.Text(records.TightnessTime))
	read, ok2 := minutesOf(e.Values.Text(records.CombustionTime))
	settle, ok3 := e.Values.Float(records.SettleMinutes)
	if !ok || !ok2 || !ok3 {
		return notThere("the two times and the settling time are not all entered")
	}
	between := float64(read - test)
	reading := line("%s min between, %s min to settle", show(between, 0), show(settle, 1))
	switch {
	case between < 0:
		return exempt("the readings are entered as earlier than the test, which another rule judges")
	case below(between, settle-clockErrorMin):
		return odd(reading, "The settling time stated does not fit between the tightness test and the readings.",
			timeEnoughTest)
	}
	return sound(reading, "The settling time stated fits between the tightness test and the readings.", timeEnoughTest)
}

// minutesOf turns a time of day as HH:MM into minutes after midnight.
func minutesOf(clock string) (int, bool) {
	var h, m int
	n, err := fmt.Sscanf(clock, "%d:%d", &h, &m)
	return 60*h + m, err == nil && n == 2
}
