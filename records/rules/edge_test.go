package rules_test

import (
	"math"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// edge is a rule whose finding compares the reading of one field with a
// limit. The edges themselves are taken from the limit that the finding shows,
// so a change of a figure moves the test with it and cannot be forgotten on
// one side.
type edge struct {
	rule, base, changes, day string
	field                    records.NumberField
	beyond                   records.Outcome // what a reading outside gives
	// lowIsNotAnEdge: below Low another limit takes over, which has a row of
	// its own.
	lowIsNotAnEdge bool
	crossCheck     bool // compares readings with each other, so no edge is called one
}

// notMeasured are rules about what is set, timed, counted or made to a size:
// two minutes timed as two minutes are no edge.
var notMeasured = map[string]bool{"tightness.let_by_time": true, "tightness.stabilise": true,
	"tightness.duration": true, "heat.time": true, "heat.cv": true, "combustion.settled": true,
	"water.cold_fill": true, "water.safety_valve": true, "water.vessel_charge": true, "water.vessel_size": true,
	"water.inhibitor": true, "water.scale": true, "water.condensate_size": true, "water.condensate_fall": true,
	"water.condensate_outside": true, "water.condensate_run": true, "delivery.design_flow": true,
	"electrical.fuse": true, "electrical.bond_size": true, "electrical.bond_place": true, "electrical.zones": true}

func edges() []edge {
	const out, doubt = records.Outside, records.Doubtful
	const before2026 = "2025-06-01"
	connected := "tightness.pipework_drop_mbar=0"
	return []edge{
		{rule: "tightness.let_by_pressure", field: records.LetByPressureMbar, beyond: out},
		{rule: "tightness.let_by_pressure", field: records.LetByPressureMbar, beyond: out, day: before2026},
		{rule: "tightness.let_by_time", field: records.LetByMinutes, beyond: out},
		{rule: "tightness.let_by_rise", field: records.LetByRiseMbar, beyond: out},
		{rule: "tightness.let_by_rise", field: records.LetByRiseMbar, beyond: out,
			changes: "tightness.gauge_kind=water"},
		{rule: "tightness.test_pressure", field: records.TestPressureMbar, beyond: out, lowIsNotAnEdge: true},
		{rule: "tightness.test_pressure", field: records.TestPressureMbar, beyond: out, day: before2026},
		{rule: "tightness.stabilise", field: records.StabiliseMin, beyond: out},
		{rule: "tightness.duration", field: records.TestMinutes, beyond: out},
		{rule: "tightness.drop", field: records.DropMbar, beyond: out, changes: "tightness.situation=new"},
		{rule: "tightness.drop", field: records.DropMbar, beyond: out, day: before2026,
			changes: "tightness.drop_mbar=3"},
		{rule: "tightness.drop", field: records.DropMbar, beyond: out, day: before2026,
			changes: "tightness.meter=g10; tightness.drop_mbar=0.9"},
		{rule: "tightness.drop", field: records.DropMbar, beyond: out,
			changes: "tightness.drop_mbar=2; facts.bands=0.01:7+0.02:3+0.035:1"},
		{rule: "tightness.drop", base: "propane", field: records.DropMbar, beyond: out},
		{rule: "tightness.pipework", field: records.PipeworkDropMbar, beyond: out,
			changes: "tightness.drop_mbar=5; " + connected},
		{rule: "tightness.worse_after", field: records.DropMbar, beyond: doubt, crossCheck: true,
			changes: "tightness.before_drop_mbar=0"},
		{rule: "pressure.standing", field: records.StandingMbar, beyond: out},
		{rule: "pressure.meter", field: records.MeterMbar, beyond: out},
		{rule: "pressure.meter", field: records.MeterMbar, beyond: out, day: "2023-07-31"},
		{rule: "pressure.meter", base: "propane", field: records.MeterMbar, beyond: out},
		{rule: "pressure.appliance", field: records.ApplianceMbar, beyond: out},
		{rule: "pressure.appliance", base: "unlimited", field: records.ApplianceMbar, beyond: out},
		{rule: "pressure.appliance", base: "propane", field: records.ApplianceMbar, beyond: out},
		{rule: "heat.time", field: records.HeatSeconds, beyond: out},
		{rule: "heat.time", field: records.HeatSeconds, beyond: out, day: "2023-08-31", changes: "heat.seconds=125"},
		{rule: "heat.cv", field: records.HeatCV, beyond: doubt},
		{rule: "heat.cv", base: "propane", field: records.HeatCV, beyond: doubt, changes: "heat.cv_mj_per_m3=95"},
		{rule: "heat.cv", base: "propane", field: records.HeatCV, beyond: doubt,
			changes: "appliance.fuel=butane; heat.cv_mj_per_m3=125"},
		{rule: "combustion.settled", field: records.SettleMinutes, beyond: out},
		{rule: "combustion.ambient_co", field: records.AmbientCOPPM, beyond: out},
		{rule: "combustion.inlet_o2", field: records.InletO2Pct, beyond: out},
		{rule: "combustion.max_co", field: records.COMaxPPM, beyond: out},
		{rule: "combustion.min_co", field: records.COMinPPM, beyond: out},
		{rule: "combustion.max_co", base: "fire", field: records.COMaxPPM, beyond: out,
			changes: "appliance.stated_co_max_ppm=120"},
		{rule: "combustion.max_co2", field: records.CO2MaxPct, beyond: out},
		{rule: "combustion.min_co2", field: records.CO2MinPct, beyond: out},
		{rule: "combustion.oxygen_range", field: records.InletO2Pct, beyond: doubt, crossCheck: true},
		{rule: "flue.fall", field: records.FlueFallMM, beyond: out},
		{rule: "flue.length", field: records.FlueLengthM, beyond: out, changes: "flue.bends="},
		{rule: "ventilation.opening", base: "fire", field: records.VentOpeningCm2, beyond: out,
			changes: "appliance.rated_input_kw=20; ventilation.airtight=no; ventilation.opening_cm2=80; " +
				"ventilation.clear=yes"},
		{rule: "ventilation.alarm_distance", field: records.AlarmDistanceM, beyond: out},
		{rule: "ventilation.alarm_position", field: records.AlarmFromWallMM, beyond: out,
			changes: "ventilation.alarm_fixed=ceiling; ventilation.alarm_from_wall_mm=400"},
		{rule: "ventilation.alarm_position", field: records.AlarmBelowCeilingMM, beyond: out,
			changes: "ventilation.alarm_fixed=wall; ventilation.alarm_below_ceiling_mm=200; " +
				"ventilation.alarm_above_openings=yes"},
		{rule: "water.cold_fill", field: records.ColdFillBar, beyond: out},
		{rule: "water.safety_valve", field: records.SafetyValveBar, beyond: doubt},
		{rule: "water.vessel_charge", field: records.VesselBar, beyond: out, changes: "water.cold_fill_bar="},
		{rule: "water.vessel_size", field: records.VesselLitres, beyond: out, changes: "water.vessel_stated_l=8"},
		{rule: "water.inhibitor", field: records.InhibitorLitres, beyond: out},
		{rule: "water.scale", field: records.HardnessPPM, beyond: out, changes: "water.scale=none"},
		{rule: "water.condensate_size", field: records.CondensateMM, beyond: out},
		{rule: "water.condensate_size", field: records.CondensateMM, beyond: out,
			changes: "water.condensate_stated_mm=22; water.condensate_mm=24"},
		{rule: "water.condensate_fall", field: records.CondensateFall, beyond: out},
		{rule: "water.condensate_outside", field: records.CondensateOutMM, beyond: out,
			changes: "water.condensate_outside=yes; water.condensate_outside_mm=32"},
		{rule: "water.condensate_run", field: records.CondensateOutM, beyond: out,
			changes: "water.condensate_outside=yes; water.condensate_outside_m=2"},
		{rule: "delivery.design_flow", field: records.DesignFlowC, beyond: doubt,
			changes: "delivery.system_new=new; delivery.design_flow_c=50"},
		{rule: "electrical.fuse", field: records.FuseA, beyond: out},
		{rule: "electrical.fuse", field: records.FuseA, beyond: out, changes: "electrical.fuse_stated_a=5"},
		{rule: "electrical.bond_size", field: records.BondMM2, beyond: doubt},
		{rule: "electrical.bond_place", field: records.BondFromMeterMM, beyond: out},
		{rule: "electrical.zones", field: records.Zones, beyond: out,
			changes: "electrical.floor_m2=200; electrical.zones=3"},
	}
}

func TestReadingsOnEachSideOfTheirLimit(t *testing.T) {
	tried := 0
	for _, e := range edges() {
		if e.base == "" {
			e.base = "clear"
		}
		name := e.rule + " on " + e.base + " with " + e.changes
		c := ruleCase{file: "edges", rule: e.rule, base: e.base, changes: e.changes, workDate: e.day}
		r, facts, err := c.build()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		judged := func(x float64) records.Finding {
			t.Helper()
			v, err := e.field.Parse(records.FormatNumber(x, e.field.Decimals))
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			r.Values[e.field.Key] = v
			f, _ := findingOf(rules.Evaluate(r, facts), e.rule)
			return f
		}
		start, _ := findingOf(rules.Evaluate(r, facts), e.rule)
		if start.Outcome != records.Inside || start.Limit == nil || start.Limit.Low == nil && start.Limit.High == nil {
			t.Errorf("%s: the base is %s, limit %v", name, start.Outcome, start.Limit)
			continue
		}
		step := math.Pow10(-e.field.Decimals)
		for _, side := range []struct {
			limit    *float64
			out      float64
			replaced bool
		}{{start.Limit.Low, -step, e.lowIsNotAnEdge}, {start.Limit.High, step, false}} {
			if side.limit == nil || side.replaced {
				continue
			}
			at := *side.limit
			exact := math.Abs(at/step-math.Round(at/step)) < 1e-6
			if !exact { // the last step inside
				at = math.Floor(at/step) * step
				if side.out < 0 {
					at += step
				}
			}
			if f := judged(at); f.Outcome != records.Inside || f.AtLimit != (exact && !e.crossCheck && !notMeasured[e.rule]) {
				t.Errorf("%s: %v is %s, at the limit %v (%s)", name, at, f.Outcome, f.AtLimit, f.Reason)
			}
			if f := judged(at - side.out); f.Outcome != records.Inside || f.AtLimit && exact {
				t.Errorf("%s: %v, a step inside, is %s, at the limit %v", name, at-side.out, f.Outcome, f.AtLimit)
			}
			beyond := at + side.out
			if beyond < e.field.Min || beyond > e.field.Max {
				continue
			}
			if f := judged(beyond); f.Outcome != e.beyond {
				t.Errorf("%s: %v, a step outside, is %s (%s)", name, beyond, f.Outcome, f.Reason)
			} else if f.Limit == nil || f.Limit.Source != start.Limit.Source {
				t.Errorf("%s: %v is held against another limit: %v", name, beyond, f.Limit)
			}
			tried++
		}
	}
	if tried < 60 {
		t.Errorf("only %d edges", tried)
	}
}

// A finding on its edge says so; one that is not does not.
func TestOnlyTheEdgeIsCalledTheEdge(t *testing.T) {
	for _, c := range mustCases(t) {
		r, facts, err := c.build()
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range rules.Evaluate(r, facts) {
			says := strings.Contains(f.Reason, "exactly at the limit")
			if says && !f.AtLimit || f.AtLimit && f.Outcome != records.Inside {
				t.Errorf("%s: %s is %s, at its limit %v: %s", c, f.Rule, f.Outcome, f.AtLimit, f.Reason)
			}
		}
	}
}
