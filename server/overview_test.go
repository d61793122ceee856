package server_test

import (
	"context"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

func TestOverview(t *testing.T) {
	site := servertest.Start(t)
	site.Issued()
	site.Draft()
	ctx := context.Background()
	if _, err := site.Store.Duties.Add(ctx, storetest.Actor, site.Appliance.ID,
		records.Duty{Kind: records.AnnualService, Due: records.MustDate("2026-10-01")}); err != nil {
		t.Fatal(err)
	}
	maud := site.People[records.RoleEngineer]
	maud.CompetenceUntil = records.MustDate("2026-12-05")
	if _, err := site.Store.People.Update(ctx, storetest.Actor, maud); err != nil {
		t.Fatal(err)
	}
	for _, role := range []records.Role{records.RoleOffice, records.RoleOwner} {
		check(t, site.As(role), expect{"/overview", 200, []string{
			"Maud Tweddle", "1 of 1", "100 %", // one record, clear at the first go
			">before<", ">today<", "1 in all", "Competence", "5 Dec 2026", "1 open", `<svg class="chart"`,
			`<rect class="late"`,
		}, []string{"NaN", "no longer on file"}})
	}
	check(t, site.As(records.RoleEngineer), expect{"/overview", 403, nil, nil})
}

// The appliance's page follows the readings from visit to visit.
func TestDriftOnTheAppliance(t *testing.T) {
	site := servertest.Start(t)
	first := site.Issued()
	path := "/appliances/" + site.Appliance.ID
	engineer := site.As(records.RoleEngineer)
	check(t, engineer, expect{path, 200, nil, []string{"Over the visits"}})
	ctx := context.Background()
	r, err := site.Book.Start(ctx, site.People[records.RoleEngineer], site.Appliance.ID, records.Service,
		records.DateOf(site.Clock.Now()))
	if err != nil {
		t.Fatal(err)
	}
	r.Findings = storetest.Draft(site.Appliance.ID, records.Service, "2026-11-25").Findings
	r.Values = rules.Sample().Values.Clone()
	r.Values.Put(records.COMaxPPM.Field, "180")
	r.Values.Put(records.CO2MaxPct.Field, "9.0")
	r, err = site.Store.Records.SaveDraft(ctx, storetest.Actor, r, r.Revision)
	if err != nil {
		t.Fatal(err)
	}
	second, _, err := site.Store.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, storetest.Issuer())
	if err != nil {
		t.Fatal(err)
	}
	// 180 ppm of CO to 9.0 % of CO₂ is 0.0180 / 9.0 = 0.0020.
	check(t, engineer, expect{path, 200, []string{"Over the visits", first.Number, second.Number, ">0.0020<",
		"CO/CO₂ ratio over the visits"}, []string{"NaN"}})
	if p := engineer.Get(path); strings.Count(p.Body, `<circle class="ring"`) < 4 {
		t.Errorf("too few points: %d", strings.Count(p.Body, `<circle class="ring"`))
	}
}
