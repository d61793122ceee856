package rules

import (
	"gaugebook/records"
)

// accuracyClass is what is taken of an instrument for a quantity where its own
// figures are not on file. An instrument whose own figures are worse is coarser
// than what the limits take for granted.
type accuracyClass struct {
	name string
	records.Accuracy
	source records.Source
}

// The classes. The standard's own tables of EN 50379 were not seen: the margins
// are those that a neighbouring country's law lets instruments of its statutory
// class have, which is what EN 50379-2 is for.
var (
	statutory = records.Source{Document: "Swiss metrology office, instruction on flue gas instruments",
		Edition: "January 2004", Clause: "statutory margins, as reproduced in one instrument manual; for EN 50379 " +
			"instruments, whose own table was not seen", Confidence: records.OneSource}
	classOxygen = accuracyClass{"analyser, oxygen", records.Accuracy{Quantity: records.QuantityOxygen, Step: 0.1,
		Within: 0.4}, statutory}
	classCO2 = accuracyClass{"analyser, CO₂", records.Accuracy{Quantity: records.QuantityCO2, Step: 0.1, Within: 0.35,
		WithinPercent: 7}, statutory}
	classCO = accuracyClass{"analyser, CO", records.Accuracy{Quantity: records.QuantityCO, Step: 1, Within: 12,
		WithinPercent: 10}, statutory}
	classRoomCO = accuracyClass{"CO in room air", records.Accuracy{Quantity: records.QuantityCO, Step: 1, Within: 3,
		WithinPercent: 5}, records.Source{Document: "EN 50379-3", Clause: "up to 20 ppm, as one training page gives it",
		Confidence: records.Unconfirmed}}
	classTemperature = accuracyClass{"thermocouple, class 1", records.Accuracy{Quantity: records.QuantityTemperature,
		Step: 0.1, Within: 1.5, WithinPercent: 0.4}, records.Source{Document: "IEC 60584-1", Edition: "2013",
		Clause: "type K, class 1", Confidence: records.OneSource}}
	classGauge = accuracyClass{"electronic gauge", records.Accuracy{Quantity: records.QuantityPressure, Step: 0.1,
		Within: 0.2}, clause(practice, "electronic gauge with steps of 0.1 mbar")}
	classWaterGauge = accuracyClass{"water gauge", records.Accuracy{Quantity: records.QuantityPressure, Step: 0.5},
		clause(sure(practice, records.Unconfirmed), "water gauge, readable to 0.5 mbar")}
)

// taken is how a field's reading is taken: with which instrument, of which
// class, and whether it is the difference of two readings of one gauge.
type taken struct {
	instrument *records.TextField
	class      *accuracyClass
	difference bool
}

// takenWith says it of every reading that an instrument gives.
var takenWith = map[string]taken{
	records.LetByPressureMbar.Key: {&records.TightnessGauge, &classGauge, false},
	records.LetByRiseMbar.Key:     {&records.TightnessGauge, &classGauge, true},
	records.TestPressureMbar.Key:  {&records.TightnessGauge, &classGauge, false},
	records.DropMbar.Key:          {&records.TightnessGauge, &classGauge, true},
	records.PipeworkDropMbar.Key:  {&records.TightnessGauge, &classGauge, true},
	records.BeforeDropMbar.Key:    {&records.TightnessGauge, &classGauge, true},
	records.StandingMbar.Key:      {&records.PressureGauge, &classGauge, false},
	records.MeterMbar.Key:         {&records.PressureGauge, &classGauge, false},
	records.ApplianceMbar.Key:     {&records.PressureGauge, &classGauge, false},
	records.AmbientCOPPM.Key:      {&records.Analyser, &classRoomCO, false},
	records.InletO2Pct.Key:        {&records.Analyser, &classOxygen, false},
	records.InletCO2Pct.Key:       {&records.Analyser, &classCO2, false},
	records.COMaxPPM.Key:          {&records.Analyser, &classCO, false},
	records.COMinPPM.Key:          {&records.Analyser, &classCO, false},
	records.CO2MaxPct.Key:         {&records.Analyser, &classCO2, false},
	records.CO2MinPct.Key:         {&records.Analyser, &classCO2, false},
	records.O2MaxPct.Key:          {&records.Analyser, &classOxygen, false},
	records.O2MinPct.Key:          {&records.Analyser, &classOxygen, false},
	records.FlueTempMaxC.Key:      {&records.Analyser, &classTemperature, false},
	records.FlueTempMinC.Key:      {&records.Analyser, &classTemperature, false},
	records.AirTempC.Key:          {&records.Analyser, &classTemperature, false},
	records.FlowC.Key:             {nil, &classTemperature, false},
	records.ReturnC.Key:           {nil, &classTemperature, false},
	records.HotInC.Key:            {nil, &classTemperature, false},
	records.HotOutC.Key:           {nil, &classTemperature, false},
}

// accuracyOf is the accuracy that a field was read with; coarse says why it is
// coarser than what its limit takes for granted.
func (e *entries) accuracyOf(key string) (a records.Accuracy, how taken, coarse string, ok bool) {
	how, ok = takenWith[key]
	if !ok {
		return a, how, "", false
	}
	class := *how.class
	if how.instrument == &records.TightnessGauge &&
		e.Values.Choice(records.TightnessGaugeHow) == records.GaugeWater {
		class = classWaterGauge
	}
	if how.instrument != nil {
		if in, there := e.Instrument(e.Values.Text(*how.instrument)); there {
			if own, stated := in.Stated(class.Quantity); stated {
				x, _ := e.Values[key].Reading()
				return own, how, coarser(own, class, x.Value, how.difference), true
			}
		}
	}
	return class.Accuracy, how, "", true
}

// coarser says why an instrument's own figures are coarser at a reading than its
// class, or "". What the margin puts both readings of a difference out by cancels.
func coarser(own records.Accuracy, class accuracyClass, at float64, difference bool) string {
	switch {
	case above(own.Step, class.Step):
		return line("The instrument shows steps of %s, coarser than the %s that the limit takes for granted.",
			show(own.Step, 4), show(class.Step, 4))
	case !difference && above(own.Of(at), class.Of(at)):
		return line("The instrument is right to ± %s, less sure than the ± %s that the limit takes for granted.",
			show(own.Of(at), 4), show(class.Of(at), 4))
	}
	return ""
}
