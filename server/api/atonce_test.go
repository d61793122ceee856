package api_test

import (
	"context"
	"sync"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

func TestAPITwoIssueTheSameDraftAtOnce(t *testing.T) {
	a := startAPI(t)
	a.site.App.Draw = servertest.Blank
	callers := []program{a.as(records.RoleEngineer), a.as(records.RoleEngineer), a.as(records.RoleEngineer),
		a.as(records.RoleEngineer)}
	for round := range 3 {
		at := storetest.Property(round)
		at.Postcode = "AA12 3XY" // of no nation
		house, err := a.site.Store.Register.CreateProperty(t.Context(), storetest.Actor, at)
		if err != nil {
			t.Fatal(err)
		}
		home, err := a.site.Store.Register.CreateAppliance(t.Context(), storetest.Actor, house.ID,
			storetest.ApplianceValues(round))
		if err != nil {
			t.Fatal(err)
		}
		r := into[recordAnswer](t, callers[0].do(post, "/api/v1/records",
			`{"appliance_id": "`+home.ID+`", "purpose": "commissioning", "work_date": "2026-11-25"}`).want(t, 201))
		callers[0].do(patch, "/api/v1/records/"+r.ID, `{"revision": 1, "sections": `+sampleSections(t)+`}`).want(t, 200)
		answers := make([]answer, len(callers))
		var ready, done sync.WaitGroup
		ready.Add(len(callers))
		for i, p := range callers {
			done.Go(func() {
				ready.Done()
				ready.Wait()
				answers[i] = p.do(post, "/api/v1/records/"+r.ID+"/issue", `{"revision": 2}`)
			})
		}
		done.Wait()
		count := map[int]int{}
		for _, got := range answers {
			count[got.status]++
			if got.status == 409 {
				if told := into[problem](t, got); told.Stage != records.StageIssued {
					t.Errorf("the loser is told %+v", told)
				}
			}
		}
		if count[200] != 1 || count[409] != len(callers)-1 {
			t.Errorf("round %d: statuses %v", round, count)
		}
	}
	if err := a.site.Store.Records.VerifyIssued(context.Background()); err != nil {
		t.Error(err)
	}
}
