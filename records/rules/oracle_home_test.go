package rules_test

import (
	"fmt"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"

	"pgregory.net/rapid"
)

// home is what decides whether the law asks for a carbon monoxide alarm.
type home struct {
	nation    records.Nation
	day       string
	purpose   records.Purpose
	tenure    records.Tenure
	kind      string
	flue      string
	installed string
}

// demanded is the law as the reference lists it, nation by nation:
//   - England: a new or replacement appliance not solely for cooking, from 1
//     October 2022 (Approved Document J); each let home from the same day, but
//     not for a cooker (Regulations 2015 as amended 2022)
//   - Wales: a new flued appliance from 6 January 2025 (Approved Document J);
//     each let home from 1 December 2022, cookers included (regulation 5)
//   - Scotland: each home from 1 February 2022, a new appliance from 1 October
//     2013, not for cooking alone
//   - Northern Ireland: a new appliance from 31 October 2012, private
//     tenancies from 1 December 2024 (unconfirmed)
func (h home) demanded() bool {
	installing := h.purpose == records.Commissioning && h.installed != "existing"
	let := h.purpose == records.LandlordCheck || h.tenure == records.Landlord || h.tenure == records.Tenant ||
		h.tenure == records.Agent
	cooks := h.kind == records.KindCooker
	since := func(day string) bool { return h.day >= day }
	switch h.nation {
	case records.England:
		return since("2022-10-01") && !cooks && (installing || let)
	case records.Wales:
		return since("2025-01-06") && installing && h.flue != records.FlueNone || since("2022-12-01") && let
	case records.Scotland:
		return !cooks && (since("2022-02-01") || since("2013-10-01") && installing)
	case records.NorthernIreland:
		return since("2012-10-31") && installing && !cooks || since("2024-12-01") && let
	}
	return false
}

// Every nation, day round each date, purpose, tenure and kind.
func TestAlarmsAgainstTheLaw(t *testing.T) {
	days := []string{"2012-10-30", "2012-10-31", "2013-09-30", "2013-10-01", "2022-01-31", "2022-02-01", "2022-09-30",
		"2022-10-01", "2022-11-30", "2022-12-01", "2024-11-30", "2024-12-01", "2025-01-05", "2025-01-06", "2026-11-20"}
	tried, asked := 0, 0
	for _, nation := range records.Nations {
		for _, day := range days {
			for _, purpose := range records.Purposes {
				for _, tenure := range []records.Tenure{records.OwnerOccupier, records.Landlord, records.Tenant} {
					for _, kind := range [][2]string{{records.KindCombination, records.FlueSealedFanned},
						{records.KindCooker, records.FlueNone}, {records.KindSpaceHeater, records.FlueNone},
						{records.KindFire, records.FlueOpenNatural}} {
						for _, installed := range []string{"new", "existing"} {
							h := home{nation: nation, day: day, purpose: purpose, tenure: tenure, kind: kind[0],
								flue: kind[1], installed: installed}
							if h.judged(t) {
								asked++
							}
							tried++
						}
					}
				}
			}
		}
	}
	if tried < 5000 || asked < 1000 || asked > tried-1000 {
		t.Errorf("%d of %d ask for an alarm", asked, tried)
	}
}

// judged compares the finding on a home without an alarm with the law, and
// returns whether an alarm is asked for.
func (h home) judged(t *testing.T) bool {
	t.Helper()
	r := &records.Record{Purpose: h.purpose, WorkDate: records.MustDate(h.day), Values: records.Values{},
		Property: records.Property{Nation: h.nation}, Contact: records.Contact{Tenure: h.tenure}}
	for f, entry := range map[*records.Field]string{records.ApplianceKind.Field: h.kind,
		records.ApplianceFlue.Field: h.flue, records.ApplianceInstalled.Field: h.installed,
		records.AlarmFitted.Field: "no"} {
		r.Values.Put(f, entry)
	}
	want := records.Exempt
	if h.demanded() {
		want = records.Outside
	}
	f, _ := findingOf(rules.Evaluate(r, records.Facts{}), "ventilation.alarm")
	if f.Outcome != want {
		t.Errorf("%+v: %s, the law says %s (%s)", h, f.Outcome, want, f.Reason)
	}
	if f.Limit != nil && !f.Limit.Source.InForce(r.WorkDate) {
		t.Errorf("%+v: %s is not in force", h, f.Limit.Source)
	}
	return want == records.Outside
}

// The free area that BS 5440-2 asks of an open flue, in tenths of a cm² and of
// a kW: 5 cm² for each kW net above 7; every kW in Northern Ireland and in a
// very airtight dwelling.
func TestVentilationAgainstTheReference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kw := rapid.IntRange(5, 700).Draw(t, "tenths of a kW")
		nation := rapid.SampledFrom(records.Nations).Draw(t, "nation")
		airtight := rapid.Bool().Draw(t, "airtight")
		needed := 5 * max(0, kw-70)
		if airtight || nation == records.NorthernIreland {
			needed = 5 * kw
		}
		area := max(0, needed+rapid.IntRange(-2, 2).Draw(t, "off"))
		c := ruleCase{base: "fire", changes: fmt.Sprintf("property.nation=%s; appliance.rated_input_kw=%d.%d; "+
			"appliance.rated_input_basis=net; ventilation.place=room; ventilation.airtight=%s; "+
			"ventilation.opening_cm2=%d.%d; ventilation.stated=", nation, kw/10, kw%10,
			map[bool]string{true: "yes", false: "no"}[airtight], area/10, area%10)}
		r, facts, err := c.build()
		if err != nil {
			t.Fatal(err)
		}
		want := records.Outside
		switch {
		case needed == 0:
			want = records.Exempt
		case area >= needed:
			want = records.Inside
		}
		f, _ := findingOf(rules.Evaluate(r, facts), "ventilation.opening")
		if f.Outcome != want || f.Outcome == records.Inside && f.AtLimit != (area == needed) {
			t.Fatalf("%d tenths of a kW in %s, airtight %v, %d tenths of a cm²: %s, at the limit %v, want %s (%s)", kw,
				nation, airtight, area, f.Outcome, f.AtLimit, want, f.Reason)
		}
	})
}

// The least distance of Approved Document J diagram 34 for a fanned balanced
// flue on a wall, by position.
var fannedMM = map[string]int{"below-opening": 300, "above-opening": 300, "beside-opening": 300, "below-gutter": 75,
	"below-eaves": 200, "below-balcony": 200, "beside-drain": 150, "corner-or-boundary": 300, "above-ground": 300,
	"facing-surface": 600, "facing-terminal": 1200, "car-port-opening": 1200, "vertical-terminal": 1500,
	"beside-terminal": 300}

// Several distances at once, in any order: outside when one is too short, and
// the finding names the place with the least to spare.
func TestTerminalAgainstTheDiagram(t *testing.T) {
	var places []string
	for _, c := range records.TerminalPositions {
		if fannedMM[c.Code] > 0 {
			places = append(places, c.Code)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		rows := make([]map[string]string, rapid.IntRange(1, 5).Draw(t, "rows"))
		least := 9
		spare := map[string]int{} // the least over the distance needed, by place
		for i := range rows {
			place := rapid.SampledFrom(places).Draw(t, "place")
			off := rapid.IntRange(-3, 3).Draw(t, "off")
			mm := fannedMM[place] + off
			label := records.FlueDistances.Column("position").ChoiceLabel(place)
			if was, ok := spare[label]; !ok || off < was {
				spare[label] = off
			}
			least = min(least, off)
			rows[i] = map[string]string{"position": place, "distance_mm": fmt.Sprint(mm)}
		}
		r := rules.Sample()
		r.Values.PutRows(records.FlueDistances, rows...)
		f, _ := findingOf(rules.Evaluate(r, records.Facts{}), "flue.terminal")
		want := records.Inside
		if least < 0 {
			want = records.Outside
		}
		if f.Outcome != want || len(f.Working) != len(rows) {
			t.Fatalf("%v: %s with %d lines of working, want %s with %d", rows, f.Outcome, len(f.Working), want,
				len(rows))
		}
		if place, _, _ := strings.Cut(f.Reading, ": "); spare[place] != least {
			t.Fatalf("%v: names %q, with %d mm to spare; the worst has %d", rows, f.Reading, spare[place], least)
		}
	})
}
