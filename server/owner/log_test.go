package owner_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

// The log says who did what, when, from where and by which key, and each of
// these finds it.
func TestLogPage(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	key, err := site.Store.People.NewKey(t.Context(), storetest.Actor, site.People[records.RoleEngineer].ID, "van")
	if err != nil {
		t.Fatal(err)
	}
	body := `{"property": {"line1": "7 Saltpan Row", "town": "Ambershaw", "postcode": "AB12 3XY", "nation": "England"}}`
	req := httptest.NewRequest(http.MethodPost, site.HTTP.URL+"/api/v1/properties", strings.NewReader(body))
	req.RequestURI = ""
	req.Header.Set("Authorization", "Bearer "+key.Token)
	req.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	if res.Body.Close(); res.StatusCode != http.StatusCreated {
		t.Fatal(res.Status)
	}
	issued := site.Issued()
	if p := owner.Post("/instruments", servertest.Form("kind", "gauge", "serial", "G-77")); p.Status != 303 {
		t.Fatal(p.Status, p.Body)
	}
	byKey, err := site.Store.Audit.Find(t.Context(), store.AuditQuery{Origin: store.Origin{KeyID: key.ID}})
	if err != nil || len(byKey) != 1 || byKey[0].What != "property added" || byKey[0].Origin.Address != "127.0.0.1" {
		t.Fatalf("by the key: %+v, %v", byKey, err)
	}
	for path, c := range map[string]struct{ has, hasNot string }{
		"/log":                                  {"Instrument saved", ""},
		"/log?who=Rhona+Tweddle":                {"G-77", "Record issued"},
		"/log?what=record+issued":               {issued.Number, "G-77"},
		"/log?key=" + key.ID:                    {"7 Saltpan Row", issued.Number},
		"/log?address=127.0.0.1":                {"G-77", issued.Number},
		"/log?subject=" + issued.ID:             {issued.Number, "7 Saltpan Row"},
		"/log?from=2026-11-25&until=2026-11-25": {"G-77", ""},
		"/log?from=2026-11-26":                  {"None.", "G-77"},
		"/log?until=2026-11-24":                 {"None.", "G-77"},
		"/log?before=2":                         {"Firm changed", "G-77"},
	} {
		p := owner.Get(path)
		rows := p.Body[strings.Index(p.Body, "<tbody>"):]
		if p.Status != 200 || !strings.Contains(rows, c.has) || c.hasNot != "" && strings.Contains(rows, c.hasNot) {
			t.Errorf("%s: status %d, want %q and not %q in\n%s", path, p.Status, c.has, c.hasNot, rows)
		}
	}
	for _, path := range []string{"/log?from=soon", "/log?before=x"} {
		if p := owner.Get(path); p.Status != http.StatusUnprocessableEntity || !strings.Contains(p.Body, "Not accepted") {
			t.Errorf("%s: status %d", path, p.Status)
		}
	}
	for _, role := range []records.Role{records.RoleOffice, records.RoleEngineer} {
		if p := site.As(role).Get("/log"); p.Status != http.StatusForbidden {
			t.Errorf("%s may read the log: %d", role, p.Status)
		}
	}
}
