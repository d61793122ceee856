package rules

import (
	"gaugebook/records"
)

// To add an answer that takes a check away or makes one easier, add a row here
// and rows of altered records in testdata/rules/altered: a test fails until
// both are there.
//
// An answer that takes nothing away but rules other fields out, such as the
// kind of meter, is here too, for what is left standing in those fields.
var answers = []answer{
	{field: records.ApplianceKind.Field, title: "Kind of appliance and readings agree",
		codes: []string{records.KindWaterHeater, records.KindWarmAir, records.KindFire, records.KindRange,
			records.KindCooker, records.KindSpaceHeater, records.KindSystem, records.KindRegular},
		conflicts: []conflict{
			{reads: combustionReadings(), codes: []string{records.KindCooker, records.KindSpaceHeater},
				says: firstOf(combustionReadings())},
			{reads: waterReadings(), codes: []string{records.KindWarmAir, records.KindFire, records.KindRange,
				records.KindCooker, records.KindSpaceHeater}, says: firstOf(waterReadings())},
			{reads: heatingReadings(), codes: []string{records.KindWaterHeater, records.KindWarmAir, records.KindFire,
				records.KindRange, records.KindCooker, records.KindSpaceHeater}, says: firstOf(heatingReadings())},
			{reads: hotWaterReadings(), codes: []string{records.KindSystem, records.KindRegular},
				says: firstOf(hotWaterReadings())},
		}},
	{field: records.ApplianceFlue.Field, title: "Kind of flue and readings agree",
		codes: []string{records.FlueSealedFanned, records.FlueSealedNatural, records.FlueOpenFanned,
			records.FlueOpenNatural, records.FlueNone},
		conflicts: []conflict{
			{reads: flueReadings(), codes: []string{records.FlueNone}, says: firstOf(flueReadings())},
			{reads: smokeTests, codes: []string{records.FlueSealedFanned, records.FlueSealedNatural},
				says: firstOf(smokeTests)},
			{reads: inletReadings, codes: []string{records.FlueOpenFanned, records.FlueOpenNatural, records.FlueNone},
				says: firstOf(inletReadings)},
		}},
	{field: records.ApplianceCondensing.Field, title: "Condensing or not, and readings agree", codes: []string{"no"},
		rulesOut: condensateReadings(), reason: records.CondensingReason.Field,
		supported: notCondensing, reads: []*records.Field{records.ApplianceKind.Field,
			records.ApplianceInstalled.Field},
		conflicts: []conflict{{reads: []*records.Field{records.ApplianceKind.Field, records.ApplianceInstalled.Field},
			says: also(contradiction.newBoilerInEngland), excused: true}}},
	{field: records.ApplianceInstalled.Field, title: "Installed, and why the visit was made",
		codes:     []string{"existing"},
		conflicts: []conflict{{says: also(contradiction.commissionedAgain)}}},
	{field: records.ApplianceFuel.Field, title: "Fuel and supply agree",
		codes:     []string{records.FuelPropane, records.FuelButane},
		conflicts: []conflict{{reads: []*records.Field{records.HeatCV.Field}, says: also(contradiction.naturalCalorific)}}},

	{field: records.TightnessSupply.Field, title: "Supply and readings agree", codes: []string{records.SupplyMedium},
		reason:    records.StatedDropSource.Field,
		supported: func(*entries, string) string { return "" },
		conflicts: []conflict{{reads: []*records.Field{records.StatedDropMbar.Field, records.ApplianceFuel.Field},
			codes: []string{records.SupplyLow}, says: also(contradiction.ownDrop)}}},
	{field: records.TightnessSituation.Field, title: "Installation under test and readings agree",
		codes:     []string{records.SituationNew, records.SituationNone},
		conflicts: []conflict{{codes: []string{records.SituationNew}, says: also(contradiction.routineVisit)}}},
	{field: records.TightnessGaugeHow.Field, title: "Kind of gauge and the gauge used agree",
		codes:     []string{records.GaugeElectronic},
		conflicts: []conflict{{reads: []*records.Field{records.TightnessGauge.Field}, says: also(contradiction.coarseGauge)}}},
	{field: records.TightnessMeter.Field, title: "Meter and heat input agree", codes: []string{"none"},
		conflicts: []conflict{{reads: meterReadings, says: firstOf(meterReadings)}}},

	{field: records.Examined.Field, title: "What was examined and readings agree",
		codes:  []string{records.ExaminedPressure, records.ExaminedInput, records.ExaminedNeither},
		reason: records.ExaminedReason.Field,
		supported: func(_ *entries, code string) string {
			if code == records.ExaminedNeither {
				return ""
			}
			return "the law asks for operating pressure or heat input, and one of them was examined"
		},
		conflicts: []conflict{{reads: heatReadings(), codes: []string{records.ExaminedPressure,
			records.ExaminedNeither}, says: firstOf(heatReadings())}}},
	{field: records.PressureLoad.Field, title: "Load and other appliances agree"},
	{field: records.HeatMeter.Field, title: "Meter units and readings agree", codes: []string{records.MeterImperial}},

	{field: records.MinRate.Field, title: "Minimum rate and readings agree", codes: []string{"not-possible"},
		reason: records.MinRateReason.Field, supported: oneRateOnly,
		reads: []*records.Field{records.ApplianceKind.Field, records.ApplianceCondensing.Field}},
	{field: records.CO2Method.Field, title: "How CO₂ was found, and the readings", codes: []string{"measured"},
		conflicts: []conflict{{reads: []*records.Field{records.Analyser.Field}, says: also(contradiction.noCO2Sensor)}}},

	{field: records.FlueSystem.Field, title: "Flue system and kind of flue agree",
		codes: []string{records.FlueTwin, records.FlueSingle}, rulesOut: inletReadings,
		conflicts: []conflict{
			{reads: []*records.Field{records.ApplianceFlue.Field}, codes: []string{records.FlueSingle},
				says: also(contradiction.sealedFlue)},
			{reads: []*records.Field{records.ApplianceFlue.Field},
				codes: []string{records.FlueConcentric, records.FlueTwin}, says: also(contradiction.openFlueKind)},
		}},
	{field: records.FlueTerminal.Field, title: "Where the flue ends, and distances agree",
		codes:     []string{records.TerminalRoof},
		conflicts: []conflict{{reads: []*records.Field{records.FlueDistances.Field}, says: also(contradiction.wallPlaces)}}},
	{field: records.FlueLow.Field, title: "Terminal out of reach, and its height", codes: []string{"no"},
		conflicts: []conflict{{reads: []*records.Field{records.FlueDistances.Field}, says: also(contradiction.lowTerminal)}}},

	{field: records.VentPlace.Field, title: "Place and openings agree",
		codes: []string{records.PlaceCompartment, records.PlaceRoom, records.PlaceOutdoors},
		conflicts: []conflict{{reads: []*records.Field{records.ApplianceKind.Field},
			codes: []string{records.PlaceOutdoors}, says: also(contradiction.indoorKind)}}},
	{field: records.VentTo.Field, title: "Compartment ventilation and openings agree",
		codes: []string{records.VentNone}, rulesOut: []*records.Field{records.VentHighCm2.Field,
			records.VentLowCm2.Field}},
	{field: records.VentStated.Field, title: "Ventilation that is stated, and the flue",
		codes: []string{records.VentStatedNone}, reason: records.VentStatedDocument.Field,
		supported: func(*entries, string) string { return "" },
		conflicts: []conflict{{reads: []*records.Field{records.ApplianceFlue.Field, records.ApplianceKind.Field,
			records.RatedInputKW.Field, records.RatedInputBasis.Field, records.ApplianceFuel.Field,
			records.VentPlace.Field, records.VentAirtight.Field}, says: also(contradiction.needsAir)}}},
	{field: records.AlarmFitted.Field, title: "Alarm present, and what is said of it", codes: []string{"no"}},
	{field: records.AlarmRoom.Field, title: "Alarm's place and distance agree", codes: []string{records.AlarmOtherRoom},
		rulesOut: []*records.Field{records.AlarmDistanceM.Field}},
	{field: records.AlarmFixed.Field, title: "What the alarm is fixed to, and its distances agree",
		codes: []string{records.AlarmFree}},

	{field: records.VolumeBasis.Field, title: "System volume is found in one way"},
	{field: records.WaterSystem.Field, title: "Sealed or vented, and readings agree",
		codes:     []string{records.SystemVented},
		conflicts: []conflict{{reads: []*records.Field{records.ApplianceKind.Field}, says: also(contradiction.combination)}}},
	{field: records.CondensateOut.Field, title: "Condensate pipe outdoors or not, and readings agree",
		codes: []string{"no"}},

	{field: records.ElectricSupply.Field, title: "Electricity supply and appliance agree",
		codes: []string{records.SupplyAbsent},
		conflicts: []conflict{{reads: []*records.Field{records.ApplianceFlue.Field, records.ApplianceKind.Field},
			says: also(contradiction.needsElectricity)}}},
	{field: records.Bond.Field, title: "Bonding and what was measured of it agree",
		codes: []string{records.BondAbsent, records.BondPlastic}},
	{field: records.BondAt.Field, title: "Where the bonding is, and its distance agree",
		codes: []string{records.BondAtEntry}},

	{field: records.Notifiable.Field, title: "Building control notice and what was fitted agree",
		codes: []string{"no"}, reason: records.NotifiableReason.Field, supported: notNotifiable,
		reads: []*records.Field{records.ApplianceInstalled.Field, records.ApplianceKind.Field},
		conflicts: []conflict{{reads: []*records.Field{records.ApplianceInstalled.Field, records.ApplianceKind.Field},
			says: also(contradiction.newHere), excused: true}}},
}

var (
	smokeTests    = []*records.Field{records.FlueFlow.Field, records.FlueSpillage.Field}
	inletReadings = []*records.Field{records.InletO2Pct.Field, records.InletCO2Pct.Field}
	meterReadings = []*records.Field{records.HeatStartM3.Field, records.HeatEndM3.Field, records.HeatTurns.Field}
)

func combustionReadings() []*records.Field {
	return readingsOf(&records.Combustion, records.AmbientCOPPM.Field)
}
func heatReadings() []*records.Field { return readingsOf(&records.HeatInput) }
func flueReadings() []*records.Field { return readingsOf(&records.Flue) }

func waterReadings() []*records.Field {
	return with(readingsOf(&records.Water), readingsOf(&records.HeatDelivery)...)
}

// readingsOf lists the numbers and answers of a section, all but some.
func readingsOf(s *records.Section, but ...*records.Field) []*records.Field {
	var out []*records.Field
fields:
	for _, f := range s.Fields() {
		for _, b := range but {
			if f == b {
				continue fields
			}
		}
		if holdsReading(f) {
			out = append(out, f)
		}
	}
	return out
}

func heatingReadings() []*records.Field {
	return []*records.Field{records.WaterCleaning.Field, records.SolidsMainsPPM.Field, records.SolidsSystemPPM.Field,
		records.TurbidityPPM.Field, records.InhibitorLitres.Field, records.InhibitorLevel.Field,
		records.FilterFitted.Field, records.WaterSystem.Field, records.ColdFillBar.Field, records.VesselBar.Field,
		records.VesselLitres.Field, records.SafetyValveBar.Field, records.DischargePipe.Field,
		records.DischargeEnd.Field, records.FillingLoopOff.Field, records.FlowC.Field, records.ReturnC.Field,
		records.HeatingFlowL.Field, records.TimeControl.Field, records.RoomControl.Field, records.Interlock.Field,
		records.CylinderSet.Field, records.RadValves.Field}
}

func hotWaterReadings() []*records.Field {
	return []*records.Field{records.HotFlowL.Field, records.HotInC.Field, records.HotOutC.Field}
}

func condensateReadings() []*records.Field {
	return []*records.Field{records.CondensateMM.Field, records.CondensateFall.Field, records.CondensateOut.Field,
		records.CondensateEnd.Field, records.CondensateTrap.Field}
}

// firstOf names the first of some fields that has a value.
func firstOf(fs []*records.Field) func(*entries) string {
	return func(e *entries) string {
		for _, f := range fs {
			if e.Values[f.Key].Present() {
				return "“" + nameOf(f) + "” is entered" + e.withValue(f)
			}
		}
		return ""
	}
}

// answered names an answer in a contradiction.
func (e *entries) answered(f *records.Field) string {
	return "“" + nameOf(f) + "” is “" + e.entered(f) + "”"
}

// condensingSince is when new boilers in England had to condense.
var condensingSince = records.MustDate("2005-04-01") // from memory, unconfirmed

func (e contradiction) newBoilerInEngland() string {
	if e.boiler() && e.installing() && e.Values.Choice(records.ApplianceInstalled) != "" &&
		e.Property.Nation == records.England && !e.WorkDate.Before(condensingSince) {
		return e.answered(records.ApplianceKind.Field) + " and " + e.answered(records.ApplianceInstalled.Field) +
			" in England, where a new boiler condenses unless an assessment says why it cannot"
	}
	return ""
}

func notCondensing(e *entries, _ string) string {
	switch {
	case !e.boiler():
		return "only boilers condense as a rule"
	case !e.installing():
		return "the boiler was not installed at this visit"
	}
	return ""
}

func (e contradiction) commissionedAgain() string {
	if e.commissioning() {
		return "the visit is a commissioning, of something that is new or replaced"
	}
	return ""
}

func (e contradiction) routineVisit() string {
	if e.Purpose == records.Service || e.Purpose == records.LandlordCheck {
		return "the visit is a " + string(e.Purpose)
	}
	return ""
}

func (e contradiction) naturalCalorific() string {
	if cv, ok := e.Values.Float(records.HeatCV); ok && cv < *cvRanges[records.FuelPropane].Low {
		return "“" + nameOf(records.HeatCV.Field) + "” is that of natural gas, " + e.entered(records.HeatCV.Field)
	}
	return ""
}

// ownDrop says that a permissible drop is stated where the procedure has its
// own.
func (e contradiction) ownDrop() string {
	if _, stated := e.Values.Float(records.StatedDropMbar); stated && !e.Values.LPG() {
		return "“" + nameOf(records.StatedDropMbar.Field) + "” is entered, " + e.entered(records.StatedDropMbar.Field) +
			", where the procedure has a limit of its own"
	}
	return ""
}

func (e contradiction) coarseGauge() string {
	in, ok := e.Instrument(e.Values.Text(records.TightnessGauge))
	if own, stated := in.Stated(records.QuantityPressure); ok && stated && above(own.Step, classGauge.Step) {
		return "the gauge named shows steps of " + withUnit(show(own.Step, 3), "mbar")
	}
	return ""
}

func oneRateOnly(e *entries, _ string) string {
	if yes, answered := e.Values.Flag(records.ApplianceCondensing); !e.boiler() || answered && !yes {
		return "the kind of appliance may have one rate only"
	}
	return ""
}

// noCO2Sensor says that an analyser with stated accuracies has none for CO2.
func (e contradiction) noCO2Sensor() string {
	in, ok := e.Instrument(e.Values.Text(records.Analyser))
	_, oxygen := in.Stated(records.QuantityOxygen)
	if _, co2 := in.Stated(records.QuantityCO2); ok && oxygen && !co2 {
		return "the analyser named has an accuracy stated for oxygen and none for CO₂"
	}
	return ""
}

func (e contradiction) sealedFlue() string {
	if k := e.Values.Choice(records.ApplianceFlue); k == records.FlueSealedFanned || k == records.FlueSealedNatural {
		return e.answered(records.ApplianceFlue.Field)
	}
	return ""
}

func (e contradiction) openFlueKind() string {
	if e.Values.OpenFlued() {
		return e.answered(records.ApplianceFlue.Field)
	}
	return ""
}

// wallPlaces are the positions that only a terminal at a wall can have.
func (e contradiction) wallPlaces() string {
	for _, row := range e.Values.Rows(records.FlueDistances) {
		if place := row.Text("position"); oneOf(place, []string{"below-eaves", "below-gutter", "below-balcony",
			"from-own-wall", "vertical-terminal"}) {
			return "a distance is measured “" + records.FlueDistances.Column("position").ChoiceLabel(place) + "”"
		}
	}
	return ""
}

// reachMM is the height below which a terminal is within reach.
const reachMM = 2000.0

func (e contradiction) lowTerminal() string {
	for _, row := range e.Values.Rows(records.FlueDistances) {
		mm, ok := row.Number("distance_mm")
		if ok && row.Text("position") == "above-ground" && below(mm.Value, reachMM) {
			return "its height is measured as " + withUnit(show(mm.Value, 0), "mm") + " above ground, roof or balcony level"
		}
	}
	return ""
}

func (e contradiction) indoorKind() string {
	if k := e.Values.Choice(records.ApplianceKind); oneOf(k, []string{records.KindFire, records.KindCooker,
		records.KindRange, records.KindSpaceHeater, records.KindWarmAir}) {
		return e.answered(records.ApplianceKind.Field)
	}
	return ""
}

// needsAir says that an appliance takes its air from the room, so that no
// instructions can do without ventilation.
func (e contradiction) needsAir() string {
	kind := e.Values.Choice(records.ApplianceKind)
	flueless := e.Values.Choice(records.ApplianceFlue) == records.FlueNone &&
		oneOf(kind, []string{records.KindSpaceHeater, records.KindWaterHeater})
	if e.Values.Choice(records.VentPlace) == records.PlaceRoom && e.roomNeed().none != "" {
		return "" // none is asked for anyway
	}
	if flueless || e.Values.OpenFlued() {
		return e.answered(records.ApplianceFlue.Field)
	}
	return ""
}

func (e contradiction) combination() string {
	if e.Values.Choice(records.ApplianceKind) == records.KindCombination {
		return e.answered(records.ApplianceKind.Field)
	}
	return ""
}

func (e contradiction) needsElectricity() string {
	switch k := e.Values.Choice(records.ApplianceFlue); {
	case k == records.FlueSealedFanned || k == records.FlueOpenFanned:
		return e.answered(records.ApplianceFlue.Field)
	case oneOf(e.Values.Choice(records.ApplianceKind), []string{records.KindCombination, records.KindSystem}):
		return e.answered(records.ApplianceKind.Field)
	}
	return ""
}

func (e contradiction) newHere() string {
	if e.notifiable() {
		return e.answered(records.ApplianceInstalled.Field)
	}
	return ""
}

// notifiable reports whether the nation's law asks for a notice of what was
// done: installation or replacement of a heat-producing appliance in England
// and Wales.
func (e *entries) notifiable() bool {
	return e.installing() && e.Values.Choice(records.ApplianceInstalled) != "" &&
		(e.Property.Nation == records.England || e.Property.Nation == records.Wales) &&
		!oneOf(e.Values.Choice(records.ApplianceKind), []string{records.KindCooker})
}

func notNotifiable(e *entries, _ string) string {
	switch {
	case !e.installing():
		return "nothing was installed or replaced at this visit"
	case e.Property.Nation == records.Scotland || e.Property.Nation == records.NorthernIreland:
		return "the nation has its own rules"
	case !e.notifiable():
		return "a cooker is not notified"
	}
	return ""
}
