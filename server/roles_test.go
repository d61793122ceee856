package server_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server"
	"gaugebook/server/servertest"
	"gaugebook/server/web"
)

// mayBy is who a heading of the page of roles means; the last are guests too.
var mayBy = map[string][]records.Role{
	"Everybody who signs in may":                   records.Roles,
	"Engineers and the owner may also":             {records.RoleEngineer, records.RoleOwner},
	"The office and the owner may also":            {records.RoleOffice, records.RoleOwner},
	"Only the owner may":                           {records.RoleOwner},
	"Customers and others may, without signing in": records.Roles,
}

// saidOfRoles reads the page of roles: the heading that each sentence is under.
func saidOfRoles(t *testing.T, page string) map[string]string {
	t.Helper()
	said := map[string]string{}
	headings := regexp.MustCompile(`(?s)<h2>(.*?)</h2>(.*?)</ul>`).FindAllStringSubmatch(page, -1)
	if len(headings) != len(mayBy) {
		t.Fatalf("%d headings", len(headings))
	}
	for _, h := range headings {
		if mayBy[h[1]] == nil {
			t.Fatalf("who is %q", h[1])
		}
		for _, line := range regexp.MustCompile(`<li>(.*?)</li>`).FindAllStringSubmatch(h[2], -1) {
			said[line[1]] = h[1]
		}
	}
	return said
}

// The page of roles says of every route and role what really happens.
func TestRolesPageIsWhatHappens(t *testing.T) {
	site := servertest.Start(t)
	said := saidOfRoles(t, site.As(records.RoleOffice).Get("/roles").Body)
	token := map[records.Role]string{}
	clients := map[records.Role]*servertest.Client{}
	for _, role := range records.Roles {
		clients[role] = site.As(role)
		k, err := site.Store.People.NewKey(t.Context(), site.People[role].Actor(), site.People[role].ID, "test",
			store.KeyTerms{Scope: records.KeyIssues})
		if err != nil {
			t.Fatal(err)
		}
		token[role] = k.Token
	}
	table := server.AllRoutes(site.Server)
	fill := regexp.MustCompile(`:\w+|\*`)
	for _, r := range table {
		words := r.May
		who := said[words]
		if words == "" || strings.HasPrefix(r.Path, "/sign-") {
			continue // no person opens it, or it changes who is signed in
		}
		if who == "" {
			t.Errorf("%s %s: %q is not on the page", r.Method, r.Path, words)
			continue
		}
		api := strings.HasPrefix(r.Path, "/api/")
		path := fill.ReplaceAllString(r.Path, "none")
		for _, role := range records.Roles {
			c := clients[role]
			if api {
				c = site.Guest()
				c.Header.Set("Authorization", "Bearer "+token[role])
			}
			got, may := c.Do(r.Method, path, url.Values{}).Status, slices.Contains(mayBy[who], role)
			if (got == http.StatusForbidden) == may {
				t.Errorf("%s %s as %s: status %d, the page says %v", r.Method, path, role, got, may)
			}
		}
		p := site.Guest().Do(r.Method, path, url.Values{})
		shut := strings.HasPrefix(p.Location, "/sign-in") || p.Status == http.StatusUnauthorized
		if shut == strings.HasPrefix(who, "Customers") {
			t.Errorf("%s %s as a guest: status %d, the page says %q", r.Method, path, p.Status, who)
		}
	}
}

// Every route that Echo knows must stand in one of the two tables, where it
// is said who may use it.
func TestEveryRouteSaysWhoMayUseIt(t *testing.T) {
	site := servertest.Start(t)
	declared := map[string]web.Access{}
	for _, r := range server.AllRoutes(site.Server) {
		declared[r.Method+" "+r.Path] = r.Access
	}
	known := map[web.Access]bool{web.Open: true, web.Everyone: true, web.SignedIn: true, web.Engineers: true,
		web.Office: true, web.Owners: true}
	served := server.EchoOf(site.Server).Routes()
	for _, r := range served {
		if who, ok := declared[r.Method+" "+r.Path]; !ok || !known[who] {
			t.Errorf("%s %s does not say who may use it (%q)", r.Method, r.Path, who)
		}
	}
	if got, want := len(served), len(declared); got != want {
		t.Errorf("%d routes, %d declared", got, want)
	}
}

// Each route says what it is for, or is none that a person opens; no words
// stand for two kinds of access, or the page would say both.
func TestEveryRouteHasWords(t *testing.T) {
	programs := []string{"GET /healthz", "GET /readyz", "GET /static/*", "GET /favicon.ico"}
	who := map[string]web.Access{}
	for _, r := range server.AllRoutes(servertest.Start(t).Server) {
		route := r.Method + " " + r.Path
		if (r.May == web.ByPrograms) != slices.Contains(programs, route) {
			t.Errorf("%s is for %q: say what a person may do with it", route, r.May)
		}
		access := r.Access
		if access == web.Everyone {
			access = web.Open
		}
		if was, seen := who[r.May]; seen && was != access {
			t.Errorf("%s: %q is open to %q and to %q", route, r.May, was, access)
		}
		who[r.May] = access
	}
}

// HEAD is answered like GET, without a body, everywhere; what has no GET has
// no HEAD.
func TestHead(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	token := site.Token(row.ID)
	owner := site.As(records.RoleOwner)
	for _, path := range []string{"/", "/sign-in", "/healthz", "/static/css/app.css", "/records/" + row.ID,
		"/records/" + row.ID + "/pdf", "/r/" + token, "/r/" + token + "/record.pdf", "/r/none", "/no-such-page",
		"/rules"} {
		get, head := owner.Get(path), owner.Do(http.MethodHead, path, nil)
		if head.Status != get.Status || head.Body != "" ||
			head.Header.Get("Content-Type") != get.Header.Get("Content-Type") ||
			head.Header.Get("Content-Security-Policy") == "" {
			t.Errorf("HEAD %s: status %d, GET %d; %d bytes; %q", path, head.Status, get.Status, len(head.Body),
				head.Header.Get("Content-Type"))
		}
	}
	if p := owner.Do(http.MethodHead, "/records/"+row.ID+"/amend", nil); p.Status != http.StatusMethodNotAllowed {
		t.Errorf("HEAD of a form's address: status %d", p.Status)
	}
}
