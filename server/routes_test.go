package server_test

import (
	"testing"

	"gaugebook/server"
	"gaugebook/server/servertest"
)

// Every route that Echo knows must stand in one of the two tables, where it
// is said who may use it.
func TestEveryRouteSaysWhoMayUseIt(t *testing.T) {
	site := servertest.Start(t)
	declared := map[string]bool{}
	for _, r := range append(server.RouteTable(site.Server), server.APITable(site.Server)...) {
		declared[r.Method+" "+r.Path] = true
	}
	known := server.EchoOf(site.Server).Routes()
	for _, r := range known {
		if !declared[r.Method+" "+r.Path] {
			t.Errorf("%s %s does not say who may use it", r.Method, r.Path)
		}
	}
	if got, want := len(known), len(declared); got != want {
		t.Errorf("%d routes, %d declared", got, want)
	}
}
