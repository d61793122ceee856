package server_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
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
		k, err := site.Store.People.NewKey(t.Context(), records.Actor{Name: "test"}, site.People[role].ID, "test")
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
