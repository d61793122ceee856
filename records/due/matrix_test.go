package due_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/due"
)

// issueCase is one combination of what a record can say that matters for what
// falls due.
type issueCase struct {
	purpose    records.Purpose
	nation     records.Nation
	tenure     records.Tenure
	notifiable string // "" is not answered
	installed  string
	dose       string // litres of inhibitor put in
	level      string
	class      records.Class // of an entry in the condition report, "" for none
	deadline   string        // of the landlord check, "" for none known
}

const matrixDay = "2027-12-31"

func (c issueCase) record() *records.Record {
	r := &records.Record{Purpose: c.purpose, WorkDate: records.MustDate(matrixDay), Values: records.Values{},
		Property: records.Property{Nation: c.nation}, Contact: records.Contact{Tenure: c.tenure}}
	r.Values.Put(records.ApplianceKind.Field, records.KindCombination)
	for f, entry := range map[*records.Field]string{records.Notifiable.Field: c.notifiable,
		records.ApplianceInstalled.Field: c.installed, records.InhibitorLitres.Field: c.dose,
		records.InhibitorLevel.Field: c.level} {
		if entry != "" {
			r.Values.Put(f, entry)
		}
	}
	if c.class != "" {
		r.Condition = &records.ConditionReport{Entries: []records.ConditionEntry{{Class: c.class}}}
	}
	return r
}

// wants is what the law and the trade ask of the combination, as dates in
// words, written down apart from the program:
//   - service: 12 months after commissioning and service
//   - landlord: 12 months after the installation of a new appliance in a let
//     home, and after each landlord check, counted from the deadline where the
//     check was made in the two months before it (Great Britain)
//   - copy to the tenant 28 days after the check; building notice 30 days
//     (England, Wales), the day itself (Northern Ireland), none in Scotland
//   - inhibitor: a test a year after the dose or after a good test
//   - dangerous fitting: 14 days
func (c issueCase) wants() []string {
	var out []string
	add := func(kind records.DutyKind, day string) { out = append(out, string(kind)+" "+day) }
	if c.purpose == records.Commissioning || c.purpose == records.Service {
		add(records.AnnualService, "2028-12-31")
	}
	let := c.tenure == records.Landlord || c.tenure == records.Agent || c.tenure == records.Tenant
	switch {
	case c.purpose == records.Commissioning && let && c.installed != "existing":
		add(records.LandlordCheckDue, "2028-12-31")
	case c.purpose == records.LandlordCheck:
		next := "2028-12-31"
		if c.deadline == "2028-01-31" && c.nation != records.NorthernIreland {
			next = "2029-01-31"
		}
		add(records.LandlordCheckDue, next)
		add(records.TenantCopy, "2028-01-28")
	}
	if c.notifiable == "yes" {
		switch c.nation {
		case records.England, records.Wales:
			add(records.BuildingNotice, "2028-01-30")
		case records.NorthernIreland:
			add(records.BuildingNotice, matrixDay)
		}
	}
	if c.dose == "0.5" || c.dose == "" && c.level == "enough" || c.dose == "0" && c.level == "enough" {
		add(records.InhibitorRecheck, "2028-12-31")
	}
	if c.class == records.Immediate {
		add(records.IncidentReport, "2028-01-14")
	}
	return out
}

// Every combination, against what is written down above.
func TestWhatFallsDueForEveryCombination(t *testing.T) {
	tried, kinds := 0, map[string]bool{}
	each := func(c issueCase) {
		var got []string
		for _, d := range due.ForIssue(c.record(), date(t, c.deadline)) {
			got = append(got, fmt.Sprintf("%s %s", d.Kind, d.Due))
			kinds[string(d.Kind)] = true
			if d.Why == "" || d.Source.Document == "" || d.Source.Confidence == "" || !strings.HasSuffix(d.Why, ".") {
				t.Errorf("%+v: %s without reason or source: %+v", c, d.Kind, d)
			}
		}
		want := c.wants()
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%+v: %v, want %v", c, got, want)
		}
		tried++
	}
	for _, purpose := range records.Purposes {
		for _, nation := range append(slices.Clone(records.Nations), "") {
			for _, tenure := range append(slices.Clone(records.Tenures), "") {
				for _, class := range append(slices.Clone(records.Classes), "") {
					base := issueCase{purpose: purpose, nation: nation, tenure: tenure, class: class}
					for _, notifiable := range []string{"", "yes", "no"} {
						for _, installed := range []string{"", "new", "replacement", "existing"} {
							c := base
							c.notifiable, c.installed = notifiable, installed
							each(c)
						}
					}
					for _, dose := range []string{"", "0", "0.5"} {
						for _, level := range []string{"", "enough", "low"} {
							for _, deadline := range []string{"", "2028-01-31", "2027-06-30", "2028-12-31"} {
								c := base
								c.dose, c.level, c.deadline = dose, level, deadline
								each(c)
							}
						}
					}
				}
			}
		}
	}
	if tried < 10000 || len(kinds) != 6 {
		t.Errorf("%d combinations, kinds %v", tried, kinds)
	}
}

// The same record gives the same duties, and is not changed by asking.
func TestWhatFallsDueIsRepeatable(t *testing.T) {
	c := issueCase{purpose: records.LandlordCheck, nation: records.Wales, tenure: records.Landlord, notifiable: "yes",
		dose: "0.5", class: records.Immediate}
	r := c.record()
	before := r.Values.Clone()
	first := due.ForIssue(r, records.MustDate("2028-01-31"))
	for range 3 {
		if again := due.ForIssue(r, records.MustDate("2028-01-31")); !slices.Equal(first, again) {
			t.Fatalf("%v, then %v", first, again)
		}
	}
	if len(before) != len(r.Values) {
		t.Error("the record was changed")
	}
}

// A sentence that a person reads names the dates in words, not as codes.
func TestReasonsReadAsSentences(t *testing.T) {
	for _, purpose := range records.Purposes {
		for _, nation := range records.Nations {
			c := issueCase{purpose: purpose, nation: nation, tenure: records.Landlord, notifiable: "yes", dose: "0.5",
				class: records.Immediate}
			for _, deadline := range []string{"", "2028-01-31", "2028-02-29", "2027-12-30"} {
				for _, d := range due.ForIssue(c.record(), date(t, deadline)) {
					if strings.Contains(d.Why, "2027-") || strings.Contains(d.Why, "2028-") ||
						strings.Contains(d.Why, "  ") || strings.Contains(d.Why, "%!") ||
						strings.Contains(d.Why, "1 months") {
						t.Errorf("%s in %s: %q", d.Kind, nation, d.Why)
					}
				}
			}
		}
	}
}
