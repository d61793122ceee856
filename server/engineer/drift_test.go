package engineer_test

import (
	"context"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

// The appliance's page follows the readings from visit to visit.
func TestDriftOnTheAppliance(t *testing.T) {
	site := servertest.Start(t)
	first := site.Issued()
	path := "/appliances/" + site.Appliance.ID
	engineer := site.As(records.RoleEngineer)
	engineer.Expect(path, 200, nil, []string{"Over the visits"})
	ctx := context.Background()
	r, err := site.App.Start(ctx, site.People[records.RoleEngineer], site.Appliance.ID, records.Service,
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
	engineer.Expect(path, 200, []string{"Over the visits", first.Number, second.Number, ">0.0020<",
		"CO/CO₂ ratio over the visits"}, []string{"NaN"})
	if p := engineer.Get(path); strings.Count(p.Body, `<circle class="ring"`) < 4 {
		t.Errorf("too few points: %d", strings.Count(p.Body, `<circle class="ring"`))
	}
}
