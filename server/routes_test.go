package server

import (
	"gaugebook/records/store"
	"slices"
	"testing"

	"github.com/labstack/echo/v4"
)

// Every route that Echo knows must stand in one of the two tables, where it
// is said who may use it.
func TestEveryRouteSaysWhoMayUseIt(t *testing.T) {
	s := &Server{}
	declared := map[string]access{}
	for _, r := range s.routes() {
		declared[r.method+" "+r.path] = r.who
	}
	for _, r := range s.apiTable() {
		declared[r.method+" "+r.path] = r.who
	}
	s.echo = echo.New()
	s.sessions = newSessions(&store.Store{}, true, nil)
	s.addRoutes()
	known := map[access]bool{open: true, visitor: true, member: true, engineers: true, desk: true, owners: true}
	for _, r := range s.echo.Routes() {
		who, ok := declared[r.Method+" "+r.Path]
		if !ok || !known[who] {
			t.Errorf("%s %s does not say who may use it (%q)", r.Method, r.Path, who)
		}
	}
	if got, want := len(s.echo.Routes()), len(declared); got != want {
		t.Errorf("%d routes, %d declared", got, want)
	}
}

// Each route is in the words of the page of roles once, or is none that a
// person opens; each sentence is true of all its routes.
func TestEveryRouteHasWords(t *testing.T) {
	s := &Server{}
	said := map[string]int{}
	for _, route := range wordless {
		said[route]++
	}
	guards := map[string]access{}
	for _, r := range slices.Concat(s.routes(), s.apiTable()) {
		guards[r.method+" "+r.path] = r.who
	}
	alike := func(a access) access {
		if a == visitor {
			return open
		}
		return a
	}
	for _, a := range abilities {
		for _, route := range a.routes {
			said[route]++
			if alike(guards[route]) != alike(guards[a.routes[0]]) {
				t.Errorf("%q: %s lets in %q, %s %q", a.words, route, guards[route], a.routes[0], guards[a.routes[0]])
			}
		}
	}
	for route := range guards {
		if said[route] != 1 {
			t.Errorf("%s has words %d times: give it some in abilities", route, said[route])
		}
		delete(said, route)
	}
	for route := range said {
		t.Errorf("%s has words but is no route", route)
	}
	words := 0
	for _, g := range s.abilityGroups() {
		words += len(g.Sentences)
	}
	if words != len(abilities) {
		t.Errorf("%d sentences on the page, %d written", words, len(abilities))
	}
}
