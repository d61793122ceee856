package server_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
	"gaugebook/server/web"
)

// Each role against each route. Ids that do not exist are enough: the guard
// answers before the handler looks for anything.
func TestEachRoleAgainstEachRoute(t *testing.T) {
	site := servertest.Start(t)
	clients := map[records.Role]*servertest.Client{}
	for _, role := range records.Roles {
		clients[role] = site.As(role)
	}
	fill := strings.NewReplacer(":id", "none", ":section", "tightness", ":duty", "none", ":key", "none", ":rule",
		"tightness.drop", ":number", "2026-00001",
		":code", "ABCD-ABCD-ABCD", ":token", "none", "*", "favicon.svg")
	for _, r := range server.RouteTable(site.Server) {
		if r.Path == "/sign-out" || r.Path == "/sign-in" || r.Path == "/sign-in/code" {
			continue // these change who is signed in; see package account
		}
		path := fill.Replace(r.Path)
		for _, role := range records.Roles {
			p := clients[role].Do(r.Method, path, url.Values{})
			if forbidden := p.Status == http.StatusForbidden; forbidden == r.Access.Allows(role) {
				t.Errorf("%s %s as %s: status %d, allowed %v", r.Method, path, role, p.Status, r.Access.Allows(role))
			}
			if p.Status >= 500 {
				t.Errorf("%s %s as %s: status %d", r.Method, path, role, p.Status)
			}
		}
		p := site.Guest().Do(r.Method, path, url.Values{})
		if asked := strings.HasPrefix(p.Location, "/sign-in"); asked == open(r.Access) {
			t.Errorf("%s %s as a guest: status %d to %q, access %v", r.Method, path, p.Status, p.Location, r.Access)
		}
	}
}

func TestRolesAreWhatTheDesignSays(t *testing.T) {
	site := servertest.Start(t)
	draft := site.Draft()
	for _, c := range []struct {
		method, path string
		engineer     int
		office       int
		owner        int
	}{
		{"GET", "/register", 403, 200, 200},
		{"GET", "/records/" + draft.ID + "/sections/heat", 200, 403, 200},
		{"GET", "/records/" + draft.ID, 200, 200, 200},
		{"POST", "/records/" + draft.ID + "/issue", 422, 403, 422},
		{"GET", "/firm", 403, 403, 200},
		{"GET", "/people", 403, 403, 200},
		{"GET", "/drop-bands", 403, 403, 200},
		{"GET", "/limits", 403, 403, 200},
		{"POST", "/limits", 403, 403, 422},
		{"GET", "/messages", 403, 200, 200},
		{"GET", "/instruments", 200, 200, 200},
		{"POST", "/instruments", 403, 422, 422},
	} {
		for role, want := range map[records.Role]int{records.RoleEngineer: c.engineer, records.RoleOffice: c.office,
			records.RoleOwner: c.owner} {
			if p := site.As(role).Do(c.method, c.path, url.Values{}); p.Status != want {
				t.Errorf("%s %s as %s: %d, want %d", c.method, c.path, role, p.Status, want)
			}
		}
	}
}

// What another site makes a browser send is refused; see sameOrigin.
func TestCrossSite(t *testing.T) {
	site, c := servertest.StartAs(t, records.RoleEngineer)
	form := url.Values{"purpose": {"service"}, "work_date": {"2026-11-20"}}
	path := "/appliances/" + site.Appliance.ID + "/records"
	for _, h := range []http.Header{
		{"Sec-Fetch-Site": {"cross-site"}}, {"Sec-Fetch-Site": {"same-site"}}, {"Origin": {"https://evil.example"}},
		{"Origin": {"null"}},
	} {
		c.Header = h
		if p := c.Post(path, form); p.Status != http.StatusForbidden || !strings.Contains(p.Body, "another site") {
			t.Errorf("%v: status %d", h, p.Status)
		}
	}
	for _, h := range []http.Header{{"Sec-Fetch-Site": {"same-origin"}}, {"Origin": {site.HTTP.URL}}, {}} {
		c.Header = h
		if p := c.Post(path, form); p.Status != 303 {
			t.Errorf("%v: status %d\n%s", h, p.Status, servertest.Clip(p.Body))
		}
	}
}

func TestHeaders(t *testing.T) {
	site := servertest.Start(t)
	for _, path := range []string{"/sign-in", "/rules", "/no-such-page", "/static/css/app.css"} {
		h := site.Guest().Get(path).Header
		for name, want := range map[string]string{
			"Content-Security-Policy": "default-src 'none'", "X-Content-Type-Options": "nosniff",
			"X-Frame-Options": "DENY", "Referrer-Policy": "same-origin", "X-Request-Id": "",
		} {
			if got := h.Get(name); !strings.HasPrefix(got, want) || got == "" {
				t.Errorf("%s: %s is %q", path, name, got)
			}
		}
	}
}

func TestBadBaseURL(t *testing.T) {
	site := servertest.Start(t)
	for _, bad := range []string{"", "records.example", "ftp://records.example", "http://records.example"} {
		changed := *site.App
		changed.BaseURL = bad
		if _, err := server.New(server.Config{App: &changed}); err == nil ||
			!strings.Contains(err.Error(), bad) {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func open(a web.Access) bool { return a == web.Open || a == web.Everyone }
