package api_test

import (
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// keyFor makes a key for the engineer on the terms.
func (a caller) keyFor(label string, terms store.KeyTerms) program {
	a.t.Helper()
	maud := a.site.People[records.RoleEngineer]
	k, err := a.site.Store.People.NewKey(a.t.Context(), maud.Actor(), maud.ID, label, terms)
	if err != nil {
		a.t.Fatal(err)
	}
	return program{a, k.Token}
}

// A key does what it was made for and no more; a record that a program issues
// names the key.
func TestAPIKeyScopes(t *testing.T) {
	a := startAPI(t)
	reads := a.keyFor("viewer", store.KeyTerms{Scope: records.KeyReads})
	enters := a.keyFor("tablet", store.KeyTerms{Scope: records.KeyEnters})
	issues := a.keyFor("van tablet", store.KeyTerms{Scope: records.KeyIssues})
	start := `{"appliance_id": "` + a.site.Appliance.ID + `", "purpose": "commissioning", "work_date": "2026-11-25"}`
	reads.do(get, "/api/v1/duties", "").want(t, 200)
	reads.do(post, "/api/v1/records", start).want(t, 403)
	r := into[recordAnswer](t, enters.do(post, "/api/v1/records", start).want(t, 201))
	path := "/api/v1/records/" + r.ID
	reads.do(patch, path, `{"revision": 1}`).want(t, 403)
	enters.do(patch, path, `{"revision": 1, "sections": `+sampleSections(t)+`}`).want(t, 200)
	for _, p := range []program{reads, enters} {
		if got := p.do(post, path+"/issue", `{"revision": 2}`).want(t, 403); !strings.Contains(string(got.body),
			"may issue") {
			t.Errorf("told %s", got.body)
		}
	}
	issues.do(post, path+"/issue", `{"revision": 2}`).want(t, 200)
	row, err := a.site.Store.Records.Issued(t.Context(), r.ID)
	if err != nil || !strings.Contains(string(row.Canonical), `"licence":"7000001","key":"van tablet"}`) {
		t.Errorf("the record does not name the key: %v", err)
	}
	keys, err := a.site.Store.People.Keys(t.Context(), a.site.People[records.RoleEngineer].ID)
	if err != nil || keys[0].LastUsed.IsZero() || keys[0].Scope != records.KeyIssues {
		t.Errorf("%+v, %v", keys, err)
	}
}

func TestAPIKeyExpires(t *testing.T) {
	a := startAPI(t)
	p := a.keyFor("short", store.KeyTerms{Scope: records.KeyReads, Life: time.Hour})
	p.do(get, "/api/v1/duties", "").want(t, 200)
	a.site.Clock.Set(storetest.Start.Add(2 * time.Hour))
	p.do(get, "/api/v1/duties", "").want(t, 401)
}
