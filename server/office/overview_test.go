package office_test

import (
	"context"
	"testing"

	"gaugebook/records"
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
		site.As(role).Expect("/overview", 200, []string{
			"Tamsin Oakhurst", "1 of 1", "100 %", // one record, clear at the first go
			">before<", ">today<", "1 in all", "Competence", "5 Dec 2026", "1 open", `<svg class="chart"`,
			`<rect class="late"`,
		}, []string{"NaN", "no longer on file"})
	}
	site.As(records.RoleEngineer).Expect("/overview", 403, nil, nil)
}
