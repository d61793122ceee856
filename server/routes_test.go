package server

import (
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
	s.sessions = newSessions(nil, true, nil)
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
