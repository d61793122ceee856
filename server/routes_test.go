package server_test

import (
	"testing"

	"gaugebook/server"
	"gaugebook/server/owner"
	"gaugebook/server/servertest"
	"gaugebook/server/web"
)

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

// Each route is in the words of the page of roles once, or is none that a
// person opens; each sentence is true of all its routes.
func TestEveryRouteHasWords(t *testing.T) {
	said := map[string]int{}
	for _, route := range owner.Wordless {
		said[route]++
	}
	guards := map[string]web.Access{}
	for _, r := range server.AllRoutes(servertest.Start(t).Server) {
		guards[r.Method+" "+r.Path] = r.Access
	}
	alike := func(a web.Access) web.Access {
		if a == web.Everyone {
			return web.Open
		}
		return a
	}
	for _, a := range owner.Abilities {
		for _, route := range a.Routes {
			said[route]++
			if alike(guards[route]) != alike(guards[a.Routes[0]]) {
				t.Errorf("%q: %s lets in %q, %s %q", a.Words, route, guards[route], a.Routes[0], guards[a.Routes[0]])
			}
		}
	}
	for route := range guards {
		if said[route] != 1 {
			t.Errorf("%s has words %d times: give it some in Abilities", route, said[route])
		}
		delete(said, route)
	}
	for route := range said {
		t.Errorf("%s has words but is no route", route)
	}
}
