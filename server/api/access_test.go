package api_test

import (
	"bytes"
	"context"
	"net/http"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

// apiAccess says who may call what; every route of the API must be here.
var apiAccess = map[string]string{
	"GET /api/v1/openapi.yaml":           "anybody",
	"GET /api/v1/schema":                 "anybody",
	"GET /api/v1/rules":                  "anybody",
	"GET /api/v1/verify/{number}/{code}": "anybody",
	"POST /api/v1/check":                 "owner office engineer",
	"GET /api/v1/properties":             "owner office engineer",
	"POST /api/v1/properties":            "owner office engineer",
	"GET /api/v1/appliances":             "owner office engineer",
	"POST /api/v1/appliances":            "owner office engineer",
	"GET /api/v1/appliances/{id}":        "owner office engineer",
	"GET /api/v1/duties":                 "owner office engineer",
	"POST /api/v1/records":               "owner engineer",
	"GET /api/v1/records/{id}":           "owner office engineer",
	"PATCH /api/v1/records/{id}":         "owner engineer",
	"POST /api/v1/records/{id}/issue":    "owner engineer",
	"GET /api/v1/records/{id}/findings":  "owner office engineer",
	"GET /api/v1/records/{id}/pdf":       "owner office engineer",
}

func TestAPIAccess(t *testing.T) {
	a := startAPI(t)
	callers := map[string]program{"guest": {caller: a}, "stranger": {a, "gbk_" + strings.Repeat("a", 26)}}
	for _, role := range records.Roles {
		callers[string(role)] = a.as(role)
	}
	routes := apiRoutes()
	if len(routes) != len(apiAccess) {
		t.Errorf("%d routes, %d of them in this table", len(routes), len(apiAccess))
	}
	for _, route := range routes {
		allowed, known := apiAccess[route]
		if !known {
			t.Errorf("%s is not in the table", route)
		}
		method, path, _ := strings.Cut(route, " ")
		path = strings.NewReplacer("{id}", "nothing", "{number}", "2026-00001", "{code}",
			"0000-0000-0000").Replace(path)
		body := ""
		if method != get {
			body = "{}"
		}
		for who, p := range callers {
			got := p.do(method, path, body)
			refused := got.status == http.StatusUnauthorized || got.status == http.StatusForbidden
			switch {
			case allowed == "anybody" || strings.Contains(allowed, who):
				if refused {
					t.Errorf("%s by %s: %d", route, who, got.status)
				}
			case who == "guest" || who == "stranger":
				if got.status != http.StatusUnauthorized || !strings.HasPrefix(got.header.Get("WWW-Authenticate"),
					"Bearer") {
					t.Errorf("%s by %s: %d %v", route, who, got.status, got.header)
				}
			case got.status != http.StatusForbidden:
				t.Errorf("%s by %s: %d", route, who, got.status)
			}
		}
	}
}

func TestAPIKeyStopsWorking(t *testing.T) {
	a, ctx := startAPI(t), context.Background()
	person := a.site.People[records.RoleEngineer]
	k, err := a.site.Store.People.NewKey(ctx, storetest.Actor, person.ID, "tablet")
	if err != nil {
		t.Fatal(err)
	}
	p, other := program{a, k.Token}, a.as(records.RoleEngineer)
	const path = "/api/v1/duties"
	p.do(get, path, "").want(t, 200)
	p.do(get, path, "", "Authorization", "bearer "+k.Token).want(t, 200)
	for _, header := range []string{k.Token, "Bearer", "Bearer ", "Basic " + k.Token, "Bearer " + k.Token + " x",
		"Bearer " + k.ID} {
		got := p.do(get, path, "", "Authorization", header).want(t, 401)
		if bytes.Contains(got.body, []byte(k.Token)) {
			t.Errorf("the key is repeated in %s", got.body)
		}
	}
	if got := (program{caller: a}).do(get, path, "", "Cookie", "gaugebook="+k.Token); got.status != 401 {
		t.Errorf("a key in a cookie: %d", got.status)
	}
	if err := a.site.Store.People.RevokeKey(ctx, storetest.Actor, person.ID, k.ID); err != nil {
		t.Fatal(err)
	}
	p.do(get, path, "").want(t, 401)
	other.do(get, path, "").want(t, 200)

	person.Role = records.RoleOffice
	if _, err := a.site.Store.People.Update(ctx, storetest.Actor, person); err != nil {
		t.Fatal(err)
	}
	other.do(post, "/api/v1/records", "{}").want(t, 403)
	person.Active = false
	if _, err := a.site.Store.People.Update(ctx, storetest.Actor, person); err != nil {
		t.Fatal(err)
	}
	other.do(get, path, "").want(t, 401)
}

// A session is no key: a page of another site must not be able to make a
// browser call the API, nor to read what it says.
func TestAPISessionIsNoKey(t *testing.T) {
	a := startAPI(t)
	owner := a.site.As(records.RoleOwner)
	if got := owner.Get("/api/v1/duties"); got.Status != http.StatusUnauthorized {
		t.Errorf("with a session: %d", got.Status)
	}
	p := a.as(records.RoleOwner)
	res, err := http.DefaultClient.Do(p.request(post, "/api/v1/check", "{}", []string{"Sec-Fetch-Site", "cross-site"}))
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusForbidden || res.Header.Get("Access-Control-Allow-Origin") != "" {
		t.Errorf("from another site: %d %v", res.StatusCode, res.Header)
	}
}

func TestAPIVerifyIsLimited(t *testing.T) {
	a := startAPI(t)
	a.site = servertest.Start(t, func(c *server.Config) { c.VerifyPerMinute = 3 })
	guest, count := program{caller: a}, map[int]int{}
	for range 8 {
		got := guest.do(get, "/api/v1/verify/2026-00001/0000-0000-0000", "")
		count[got.status]++
		if got.status == 429 && got.header.Get("Retry-After") == "" {
			t.Errorf("429 without Retry-After: %v", got.header)
		}
	}
	if count[404] < 3 || count[429] < 4 {
		t.Errorf("statuses %v", count)
	}
	if _, err := a.site.Store.Records.Issued(context.Background(),
		"2026-00001"); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
}
