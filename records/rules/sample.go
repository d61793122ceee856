package rules

import (
	"gaugebook/records"
)

// Sample returns an invented commissioning record in which every finding is
// inside or exempt, for examples, documents and tests. Its readings fit each
// other: gas rate and data plate, pipe runs and loss, oxygen and CO2. Each
// call returns a new one.
func Sample() *records.Record {
	r := &records.Record{
		ID: "sample", ApplianceID: "sample-appliance",
		Purpose: records.Commissioning, WorkDate: records.MustDate("2026-11-20"), Stage: records.Draft,
		Property: records.Property{Line1: "14 Larkspur Rise", Town: "Wexmoor", Postcode: "AA7 4TB",
			Nation: records.England},
		Contact: records.Contact{Name: "Imogen Farrow", Email: "imogen.farrow@example.org", Phone: "01632 960114",
			Tenure: records.OwnerOccupier},
		Engineer: records.Engineer{Name: "Tamsin Oakhurst", Licence: "9001234",
			CompetenceUntil: records.MustDate("2028-03-31")},
		Firm: records.Firm{Name: "Tarn Lane Heating", Address: "3 Tanner's Yard, Wexmoor, AA7 1AA",
			Phone: "01632 960100",
			Email: "office@tarnlane.example", Registration: "900123"},
		Instruments: []records.Instrument{
			{ID: "gauge-1", Kind: "gauge", Make: "Quillmere", Model: "P20", Serial: "QM-20417",
				CalibratedOn: records.MustDate("2026-05-04"), CalibrationDue: records.MustDate("2027-05-04")},
			{ID: "analyser-1", Kind: "analyser", Make: "Quillmere", Model: "F4", Serial: "QM-77120",
				CalibratedOn: records.MustDate("2026-06-15"), CalibrationDue: records.MustDate("2027-06-15")},
		},
		Values: records.Values{},
	}
	for _, section := range [][]entry{sampleAppliance, sampleTightness, samplePressure, sampleHeat, sampleCombustion,
		sampleFlue,
		sampleVentilation, sampleWater, sampleDelivery, sampleElectrical, sampleHandover} {
		for _, e := range section {
			r.Values.Put(e.field, e.text)
		}
	}
	r.Values.PutRows(records.TightnessRuns,
		map[string]string{"pipe": "copper-28", "length_m": "2.50", "feeds": "yes", "elbows": "2"},
		map[string]string{"pipe": "copper-22", "length_m": "6.50", "feeds": "yes", "elbows": "3", "tees": "1"},
		map[string]string{"pipe": "copper-15", "length_m": "4.00", "feeds": "no", "elbows": "2"})
	r.Values.PutRows(records.FlueBends, map[string]string{"angle_deg": "90", "count": "1", "equivalent_m": "1.0"})
	r.Values.PutRows(records.FlueDistances,
		map[string]string{"position": "above-ground", "distance_mm": "2350"},
		map[string]string{"position": "beside-opening", "distance_mm": "640"},
		map[string]string{"position": "below-eaves", "distance_mm": "410"},
		map[string]string{"position": "corner-or-boundary", "distance_mm": "900"})
	return r
}

type entry struct {
	field *records.Field
	text  string
}

var sampleAppliance = []entry{
	{records.ApplianceKind.Field, records.KindCombination}, {records.ApplianceMake.Field, "Tarnwick"},
	{records.ApplianceModel.Field, "TC 24"},
	{records.ApplianceSerial.Field, "TC24-0061873"}, {records.ApplianceLocation.Field, "Utility room"},
	{records.ApplianceFuel.Field, records.FuelNatural},
	{records.ApplianceCondensing.Field, "yes"}, {records.ApplianceFlue.Field, records.FlueSealedFanned},
	{records.ApplianceInstalled.Field, "replacement"},
	{records.RatedInputKW.Field, "24.5"}, {records.RatedInputBasis.Field, "net"}, {records.RatedOutputKW.Field, "24.0"},
	{records.StatedDocument.Field, "Tarnwick TC 24 installation manual, issue 3, table 7"},
	{records.StatedInletMinMbar.Field, "18.0"}, {records.StatedInletMaxMbar.Field, "22.5"},
	{records.StatedCO2MaxRateLow.Field, "8.7"}, {records.StatedCO2MaxRateHigh.Field, "9.5"},
	{records.StatedCO2MinRateLow.Field, "8.3"}, {records.StatedCO2MinRateHigh.Field, "9.1"},
	{records.StatedFlueLengthMaxM.Field, "9.0"}, {records.StatedFlueFallMinMM.Field, "44"},
}

var sampleTightness = []entry{
	{records.TightnessSupply.Field, records.SupplyLow}, {records.TightnessSituation.Field, records.SituationConnected},
	{records.TightnessEdition.Field, records.Edition4}, {records.TightnessMeter.Field, "g4"},
	{records.LetByPressureMbar.Field, "8.5"}, {records.LetByMinutes.Field, "1"}, {records.LetByRiseMbar.Field, "0.0"},
	{records.TightnessGauge.Field, "gauge-1"}, {records.TightnessGaugeHow.Field, records.GaugeElectronic},
	{records.TightnessTime.Field, "10:35"},
	{records.TestPressureMbar.Field, "20.4"}, {records.StabiliseMin.Field, "1"}, {records.TestMinutes.Field, "2"},
	{records.DropMbar.Field, "0.1"},
	{records.SmellOfGas.Field, "no"}, {records.BeforeDropMbar.Field, "0.1"}, {records.BeforeSmell.Field, "no"},
	{records.PurgeDone.Field, "yes"},
}

var samplePressure = []entry{
	{records.Examined.Field, records.ExaminedBoth}, {records.PressureGauge.Field, "gauge-1"},
	{records.PressureTime.Field, "11:20"},
	{records.StandingMbar.Field, "22.6"}, {records.PressureLoad.Field, "alone"}, {records.MeterMbar.Field, "20.6"},
	{records.ApplianceMbar.Field, "20.1"},
}

var sampleHeat = []entry{
	{records.HeatMeter.Field, records.MeterMetric}, {records.HeatOthersOff.Field, "yes"},
	{records.HeatTime.Field, "11:30"},
	{records.HeatStartM3.Field, "1482.316"}, {records.HeatEndM3.Field, "1482.359"}, {records.HeatSeconds.Field, "62"},
	{records.HeatCV.Field, "39.2"},
}

var sampleCombustion = []entry{
	{records.Analyser.Field, "analyser-1"}, {records.AnalyserZeroed.Field, "yes"},
	{records.CombustionTime.Field, "11:45"},
	{records.CO2Method.Field, "from-o2"}, {records.SettleMinutes.Field, "10"}, {records.AmbientCOPPM.Field, "0"},
	{records.InletO2Pct.Field, "20.9"}, {records.InletCO2Pct.Field, "0.05"},
	{records.COMaxPPM.Field, "92"}, {records.CO2MaxPct.Field, "9.1"}, {records.O2MaxPct.Field, "4.7"},
	{records.FlueTempMaxC.Field, "58.4"}, {records.AirTempC.Field, "16.2"},
	{records.MinRate.Field, "taken"}, {records.COMinPPM.Field, "14"}, {records.CO2MinPct.Field, "8.7"},
	{records.O2MinPct.Field, "5.4"}, {records.FlueTempMinC.Field, "46.9"},
}

var sampleFlue = []entry{
	{records.FlueSystem.Field, records.FlueConcentric}, {records.FlueTerminal.Field, records.TerminalWall},
	{records.FlueLengthM.Field, "1.80"},
	{records.FlueFallMM.Field, "52"}, {records.FlueMakerParts.Field, "yes"}, {records.FlueJoints.Field, "yes"},
	{records.FlueSupport.Field, "yes"},
	{records.FlueSeen.Field, "all"}, {records.FlueLow.Field, "no"}, {records.FluePlume.Field, "no"},
}

var sampleHandover = []entry{
	{records.SafetyDevices.Field, "yes"}, {records.ControlsShown.Field, "yes"}, {records.ShutOffShown.Field, "yes"},
	{records.InstructionsLeft.Field, "yes"},
	{records.Notifiable.Field, "yes"}, {records.ServiceMonths.Field, "12"},
	{records.ForUser.Field, "Radiators bled and balanced. Top up to 1.2 bar when cold if the display asks for it."},
	{records.EngineerName.Field, "Tamsin Oakhurst"}, {records.Declared.Field, "yes"},
	{records.ReceivedBy.Field, "Imogen Farrow"},
}
