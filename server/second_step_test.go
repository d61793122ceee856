package server_test

import (
	"net/url"
	"regexp"
	"testing"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
	"gaugebook/server/web"
)

// An owner who has to set up a second step can do nothing else: each route is
// tried.
func TestSetUpBeforeAnythingElse(t *testing.T) {
	site := servertest.Start(t)
	boss, c := site.People[records.RoleOwner], site.As(records.RoleOwner)
	second := site.Store.SecondSteps
	if err := second.AddPasskey(t.Context(), boss.Actor(), records.Passkey{PersonID: boss.ID, Name: "x",
		CredentialID: []byte("x")}, nil); err != nil {
		t.Fatal(err)
	}
	if err := second.AskOwners(t.Context(), boss.Actor(), true); err != nil {
		t.Fatal(err)
	}
	c.Expect("/", 200, nil, nil)
	if err := second.TakeAway(t.Context(), boss.Actor(), boss.ID); err != nil {
		t.Fatal(err)
	}
	c = site.As(records.RoleOwner)
	tried := 0
	for _, r := range server.RouteTable(site.Server) {
		if r.Setup || r.Access == web.Open || r.Access == web.Everyone {
			continue
		}
		tried++
		path := regexp.MustCompile(`:\w+|\*`).ReplaceAllString(r.Path, "none")
		if p := c.Do(r.Method, path, url.Values{}); p.Status != 303 || p.Location != "/account/second-step" {
			t.Errorf("%s %s: %d to %q", r.Method, path, p.Status, p.Location)
		}
	}
	if tried < 100 {
		t.Errorf("only %d routes", tried)
	}
	c.Expect("/account/second-step", 200, []string{"Set up one of these two"}, nil)
}
