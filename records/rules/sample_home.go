package rules

import (
	"gaugebook/records"
)

var sampleVentilation = []entry{
	{records.VentPlace.Field, records.PlaceRoom}, {records.VentAirtight.Field, "no"},
	{records.VentOpeningCm2.Field, "0"}, {records.VentStated.Field, records.VentUnstated},
	{records.AlarmFitted.Field, "yes"}, {records.AlarmRoom.Field, records.AlarmSameRoom},
	{records.AlarmDistanceM.Field, "1.60"},
	{records.AlarmFixed.Field, records.AlarmCeiling}, {records.AlarmFromWallMM.Field, "420"},
	{records.AlarmStandard.Field, "yes"},
	{records.AlarmPower.Field, records.AlarmSealed}, {records.AlarmExpiry.Field, "2034-03-31"},
	{records.AlarmTested.Field, "yes"},
}

var sampleWater = []entry{
	{records.WaterCleaning.Field, "mains"}, {records.SolidsMainsPPM.Field, "310"},
	{records.SolidsSystemPPM.Field, "328"},
	{records.Inhibitor.Field, "Weirmoss C1"}, {records.InhibitorLitres.Field, "1.0"},
	{records.InhibitorTreatsL.Field, "100"},
	{records.VolumeBasis.Field, records.VolumeKnown}, {records.VolumeLitres.Field, "85"},
	{records.FilterFitted.Field, "yes"},
	{records.HardnessPPM.Field, "120"}, {records.ScaleControl.Field, records.ScaleNone},
	{records.WaterSystem.Field, records.SystemSealed}, {records.ColdFillBar.Field, "1.2"},
	{records.VesselBar.Field, "0.9"}, {records.VesselLitres.Field, "8"},
	{records.StaticHeightM.Field, "4.5"}, {records.SafetyValveBar.Field, "3.0"}, {records.FlowMaxC.Field, "70"},
	{records.DischargePipe.Field, "yes"}, {records.DischargeEnd.Field, "yes"}, {records.FillingLoopOff.Field, "yes"},
	{records.CondensateMM.Field, "19.0"}, {records.CondensateFall.Field, "52"}, {records.CondensateOut.Field, "no"},
	{records.CondensateEnd.Field, "internal"}, {records.CondensateTrap.Field, "yes"},
}

var sampleDelivery = []entry{
	{records.FlowC.Field, "68.0"}, {records.ReturnC.Field, "48.5"}, {records.HeatingFlowL.Field, "16.5"},
	{records.DesignScope.Field, "kept"},
	{records.HotFlowL.Field, "10.1"}, {records.HotInC.Field, "11.5"}, {records.HotOutC.Field, "45.5"},
}

var sampleElectrical = []entry{
	{records.ElectricSupply.Field, records.SupplySpur}, {records.FuseA.Field, "3"}, {records.Polarity.Field, "yes"},
	{records.Earthed.Field, "yes"}, {records.Isolation.Field, "yes"},
	{records.Bond.Field, records.BondFitted}, {records.BondMM2.Field, "10"},
	{records.BondAt.Field, records.BondAtMeter}, {records.BondFromMeterMM.Field, "350"},
	{records.TimeControl.Field, "yes"}, {records.RoomControl.Field, "yes"}, {records.Interlock.Field, "yes"},
	{records.RadValves.Field, "yes"},
	{records.FloorM2.Field, "96"}, {records.Zones.Field, "1"}, {records.Compensation.Field, records.ExtraLoad},
	{records.ExtraMeasure.Field, records.ExtraLoad},
}
