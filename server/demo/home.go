package demo

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gaugebook/records"
)

// home draws what the house around the appliance gives it and takes from it:
// air, water and electricity. What a kind of appliance or visit does not have
// is left out.
func (m model) home(vs records.Values, rng *rand.Rand, purpose records.Purpose) {
	put := func(f *records.Field, format string, args ...any) { vs.Put(f, fmt.Sprintf(format, args...)) }
	put(records.AlarmDistanceM.Field, "%.2f", 1.1+1.6*rng.Float64())
	put(records.AlarmExpiry.Field, "%d-%02d-28", 2030+rng.IntN(5), 1+rng.IntN(12))
	switch {
	case m.flue == records.FlueNone:
		put(records.VentStated.Field, "%s", records.VentStatedArea)
		put(records.VentStatedDocument.Field, "%s %s installation instructions, page 9", m.make, m.name)
		put(records.VentStatedLowCm2.Field, "100")
		put(records.VentOpeningCm2.Field, "%d", 105+rng.IntN(20))
		put(records.VentClear.Field, "yes")
	case m.flue == records.FlueOpenNatural, m.flue == records.FlueOpenFanned:
		put(records.VentOpeningCm2.Field, "%d", 50+rng.IntN(20))
		put(records.VentClear.Field, "yes")
	}
	m.waterSide(vs, rng, purpose)
	m.delivered(vs, rng)
	switch {
	case !m.boiler():
		remove(vs, records.TimeControl.Field, records.RoomControl.Field, records.Interlock.Field,
			records.RadValves.Field, records.FloorM2.Field,
			records.Zones.Field, records.Compensation.Field, records.ExtraMeasure.Field)
		if m.flue != records.FlueOpenFanned && m.flue != records.FlueSealedFanned {
			put(records.ElectricSupply.Field, "%s", records.SupplyAbsent)
			remove(vs, records.FuseA.Field, records.Polarity.Field, records.Earthed.Field, records.Isolation.Field)
		}
	case m.kind != records.KindCombination:
		remove(vs, records.ExtraMeasure.Field)
		put(records.CylinderSet.Field, "yes")
	}
}

func (m model) boiler() bool {
	return m.kind == records.KindCombination || m.kind == records.KindSystem || m.kind == records.KindRegular
}

func (m model) waterSide(vs records.Values, rng *rand.Rand, purpose records.Purpose) {
	volume := 60 + rng.IntN(40)
	dose := math.Ceil(float64(volume)/10) / 10
	if !m.boiler() {
		hardness := vs.Clone()
		remove(vs, records.Water.Fields()...)
		if m.kind == records.KindWaterHeater {
			vs[records.HardnessPPM.Key] = hardness[records.HardnessPPM.Key]
		}
		return
	}
	vs.Put(records.VolumeLitres.Field, fmt.Sprint(volume))
	vs.Put(records.InhibitorLitres.Field, fmt.Sprintf("%.1f", dose))
	vs.Put(records.VesselLitres.Field, "10")
	vs.Put(records.ColdFillBar.Field, fmt.Sprintf("%.1f", 1.1+0.1*float64(rng.IntN(4))))
	if purpose != records.Commissioning {
		remove(vs, records.WaterCleaning.Field, records.SolidsMainsPPM.Field, records.SolidsSystemPPM.Field,
			records.InhibitorLitres.Field)
		vs.Put(records.InhibitorLevel.Field, "enough")
	}
}

// delivered draws flow and temperatures that carry the rated output.
func (m model) delivered(vs records.Values, rng *rand.Rand) {
	const kjPerLitreK = 4.19
	flow := func(riseK float64) float64 { return m.outputKW * 60 / (riseK * kjPerLitreK) }
	if m.boiler() {
		back := 46 + 4*rng.Float64()
		vs.Put(records.FlowC.Field, fmt.Sprintf("%.1f", back+20))
		vs.Put(records.ReturnC.Field, fmt.Sprintf("%.1f", back))
		vs.Put(records.HeatingFlowL.Field, fmt.Sprintf("%.2f", flow(20)))
	} else {
		remove(vs, records.FlowC.Field, records.ReturnC.Field, records.HeatingFlowL.Field, records.DesignScope.Field)
	}
	if m.kind == records.KindCombination || m.kind == records.KindWaterHeater {
		cold := 9 + 4*rng.Float64()
		vs.Put(records.HotInC.Field, fmt.Sprintf("%.1f", cold))
		vs.Put(records.HotOutC.Field, fmt.Sprintf("%.1f", cold+34))
		vs.Put(records.HotFlowL.Field, fmt.Sprintf("%.1f", flow(34)*(0.98+0.03*rng.Float64())))
	} else {
		remove(vs, records.HotInC.Field, records.HotOutC.Field, records.HotFlowL.Field)
	}
}

func remove(vs records.Values, fs ...*records.Field) {
	for _, f := range fs {
		delete(vs, f.Key)
	}
}
