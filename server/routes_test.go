package server_test

import (
	"net/http"
	"slices"
	"testing"

	"gaugebook/records"
	"gaugebook/server"
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
