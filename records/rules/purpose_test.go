package rules_test

import (
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// commissioningRules are those that only a commissioning record is judged by.
var commissioningRules = []string{"tightness.before_firing", "combustion.time_enough", "flue.length", "flue.fall",
	"flue.maker_parts", "delivery.design_flow", "electrical.extra_measure", "handover.controls_shown",
	"handover.shut_off_shown", "handover.instructions_left", "handover.notifiable"}

func TestWhichRulesJudgeWhichPurpose(t *testing.T) {
	for _, purpose := range records.Purposes {
		r := rules.Sample()
		r.Purpose = purpose
		judged := map[string]bool{}
		for _, f := range rules.Evaluate(r, records.Facts{}) {
			if judged[f.Rule] {
				t.Errorf("%s: two findings of %s", purpose, f.Rule)
			}
			judged[f.Rule] = true
		}
		for _, rule := range rules.All() {
			only := slices.Contains(commissioningRules, rule.ID)
			if want := !only || purpose == records.Commissioning; judged[rule.ID] != want || rule.For(purpose) != want {
				t.Errorf("%s at a %s: judged %v, For %v", rule.ID, purpose, judged[rule.ID], rule.For(purpose))
			}
		}
	}
	for _, id := range commissioningRules {
		if _, ok := rules.ByID(id); !ok {
			t.Errorf("there is no rule %s", id)
		}
	}
}

// emptied is the sample of a purpose with nothing entered in one section.
func emptied(purpose records.Purpose, id records.SectionID) *records.Record {
	r := rules.Sample()
	r.Purpose = purpose
	for _, f := range records.SectionByID(id).Fields() {
		delete(r.Values, f.Key)
	}
	return r
}

// A service or landlord check may leave the tightness test out, a landlord
// check the combustion readings; commissioning and remedial work may not, and
// a smell of gas is asked about at every visit.
func TestSectionsThatMayBeLeftOut(t *testing.T) {
	may := map[records.SectionID][]records.Purpose{
		records.Tightness.ID:  {records.Service, records.LandlordCheck},
		records.Combustion.ID: {records.LandlordCheck},
	}
	for _, purpose := range records.Purposes {
		for _, section := range []records.SectionID{records.Tightness.ID, records.Combustion.ID} {
			missing, exempt := 0, 0
			for _, f := range rules.Evaluate(emptied(purpose, section), records.Facts{}) {
				if f.Section != section {
					continue
				}
				switch {
				case f.Rule == "tightness.smell":
					if f.Outcome != records.Missing {
						t.Errorf("%s: the smell of gas is %s", purpose, f.Outcome)
					}
				case f.Outcome == records.Missing:
					missing++
				case f.Outcome == records.Exempt:
					exempt++
				case f.Rule != "tightness.edition": // goes by the date alone
					t.Errorf("%s, %s empty: %s is %s", purpose, section, f.Rule, f.Outcome)
				}
			}
			if allowed := slices.Contains(may[section], purpose); allowed != (missing == 0) || exempt == 0 {
				t.Errorf("%s, %s empty: %d missing, %d exempt, allowed %v", purpose, section, missing, exempt, allowed)
			}
		}
	}
}

// One entry in a section, and it is judged whole.
func TestASectionBegunIsJudgedWhole(t *testing.T) {
	for _, purpose := range []records.Purpose{records.Service, records.LandlordCheck} {
		r := emptied(purpose, records.Tightness.ID)
		r.Values.Put(records.TestMinutes.Field, "2")
		missing := 0
		for _, f := range rules.Evaluate(r, records.Facts{}) {
			if f.Section == records.Tightness.ID && f.Outcome == records.Missing {
				missing++
			}
		}
		if missing < 5 {
			t.Errorf("%s with one entry: only %d findings ask for the rest", purpose, missing)
		}
	}
}

// Where neither pressure nor heat input could be examined, combustion stands
// in for both and may not be left out, whatever the visit is for.
func TestCombustionMayNotBeLeftOutWhenItStandsIn(t *testing.T) {
	for _, purpose := range records.Purposes {
		r := emptied(purpose, records.Combustion.ID)
		r.Values.Put(records.Examined.Field, records.ExaminedNeither)
		r.Values.Put(records.ExaminedReason.Field, "No meter and no test point.")
		got := outcomes(rules.Evaluate(r, records.Facts{}))
		if f := got["pressure.examined"]; f.Outcome != records.Missing || !strings.Contains(f.Reason, "mandatory") {
			t.Errorf("%s: %s (%s)", purpose, f.Outcome, f.Reason)
		}
		for _, id := range []string{"combustion.max_ratio", "combustion.analyser", "combustion.zeroed"} {
			if got[id].Outcome != records.Missing {
				t.Errorf("%s: %s is %s", purpose, id, got[id].Outcome)
			}
		}
	}
}

// A section that does not apply to a kind of appliance is exempt as a whole,
// with its reason, while nothing stands in it.
func TestSectionsThatDoNotApplyAreExempt(t *testing.T) {
	skipped := map[records.SectionID]int{}
	for _, kind := range records.ApplianceKind.Choices {
		for _, flue := range records.ApplianceFlue.Choices {
			r := rules.Sample()
			r.Values.Put(records.ApplianceKind.Field, kind.Code)
			r.Values.Put(records.ApplianceFlue.Field, flue.Code)
			for _, s := range records.Sections {
				if s.ExemptReason(r.Values) != "" {
					if err := clearSection(r, string(s.ID)); err != nil {
						t.Fatal(err)
					}
				}
			}
			for _, f := range rules.Evaluate(r, records.Facts{}) {
				why := records.SectionByID(f.Section).ExemptReason(r.Values)
				if why == "" {
					continue
				}
				skipped[f.Section]++
				if f.Outcome != records.Exempt || !strings.EqualFold(f.Reason, why+".") {
					t.Errorf("%s with %s: %s is %s (%s), the section says %s", kind.Code, flue.Code, f.Rule, f.Outcome,
						f.Reason, why)
				}
			}
		}
	}
	if len(skipped) < 3 {
		t.Errorf("sections skipped: %v", skipped)
	}
}

// Where something stands in a section that does not apply, it is judged, and
// the answer that rules the section out is doubtful.
func TestNoAnswerHidesASection(t *testing.T) {
	tried := 0
	for _, kind := range records.ApplianceKind.Choices {
		for _, flue := range records.ApplianceFlue.Choices {
			r := rules.Sample()
			r.Values.Put(records.ApplianceKind.Field, kind.Code)
			r.Values.Put(records.ApplianceFlue.Field, flue.Code)
			r.Values.Put(records.FlueJoints.Field, "no")
			got := outcomes(rules.Evaluate(r, records.Facts{}))
			for id, answer := range map[*records.Section]string{&records.Flue: "appliance.flue_kind_fits",
				&records.Water: "appliance.kind_fits", &records.Combustion: "appliance.kind_fits"} {
				if id.ExemptReason(r.Values) == "" {
					continue
				}
				tried++
				if got[answer].Outcome != records.Doubtful {
					t.Errorf("%s with %s: %s is %s", kind.Code, flue.Code, answer, got[answer].Outcome)
				}
			}
			if got["flue.joints"].Outcome != records.Outside {
				t.Errorf("%s with %s: an open joint is %s", kind.Code, flue.Code, got["flue.joints"].Outcome)
			}
		}
	}
	if tried < 20 {
		t.Errorf("only %d tried", tried)
	}
}

// At a routine visit what is only read when an appliance is commissioned may be
// left out; at commissioning the same blank is missing.
func TestReadingsOfCommissioningMayBeLeftOutLater(t *testing.T) {
	for rule, field := range map[string]*records.Field{
		"water.cleaned": records.WaterCleaning.Field, "water.cold_fill": records.ColdFillBar.Field,
		"water.safety_valve": records.SafetyValveBar.Field, "water.condensate_fall": records.CondensateFall.Field,
		"electrical.fuse": records.FuseA.Field, "electrical.bond": records.Bond.Field,
		"electrical.interlock": records.Interlock.Field, "delivery.condensing": records.ReturnC.Field,
		"ventilation.alarm_distance": records.AlarmDistanceM.Field, "combustion.inlet_o2": records.InletO2Pct.Field,
	} {
		for _, purpose := range records.Purposes {
			r := rules.Sample()
			r.Purpose = purpose
			delete(r.Values, field.Key)
			want := records.Exempt
			if purpose == records.Commissioning {
				want = records.Missing
			}
			if f, _ := findingOf(rules.Evaluate(r, records.Facts{}), rule); f.Outcome != want {
				t.Errorf("%s at a %s without %s: %s, want %s", rule, purpose, field.Key, f.Outcome, want)
			}
		}
	}
}
