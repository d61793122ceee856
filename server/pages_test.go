package server_test

import (
	"net/http"
	"strings"
	"testing"

	"gaugebook/records/store"
	"gaugebook/server/servertest"
)

// expect is one request and what its answer has and does not have.
type expect struct {
	path   string
	status int
	has    []string
	hasNot []string
}

func check(t *testing.T, c *servertest.Client, e expect) {
	t.Helper()
	p := c.Get(e.path)
	if p.Status != e.status {
		t.Errorf("GET %s: status %d, want %d\n%s", e.path, p.Status, e.status, clip(p.Body))
		return
	}
	for _, s := range e.has {
		if !strings.Contains(p.Body, s) {
			t.Errorf("GET %s: no %q in\n%s", e.path, s, clip(p.Body))
		}
	}
	for _, s := range e.hasNot {
		if strings.Contains(p.Body, s) {
			t.Errorf("GET %s: there is a %q in\n%s", e.path, s, clip(p.Body))
		}
	}
}

func clip(s string) string { return s[:min(len(s), 6000)] }

func TestPages(t *testing.T) {
	site := servertest.Start(t)
	draft, issued := site.Draft(), site.Issued()
	token := site.Token(issued.ID)
	engineer, office, owner, guest := site.As(store.Engineer), site.As(store.Office), site.As(store.Owner), site.Guest()
	_ = owner
	for _, e := range []expect{
		{"/", 200, []string{"Your drafts", "Due soon", "Tweddle"}, []string{"Requests for a visit"}},
		{"/records/" + draft.ID, 200, []string{"Tightness test"}, nil},
		{"/records/" + draft.ID + "/sections/tightness", 200, []string{`name="tightness.drop_mbar"`}, nil},
		{"/records/" + draft.ID + "/review", 200, []string{"Condition report"}, nil},
		{"/records/" + issued.ID, 200, []string{issued.Number, issued.Seal.Code}, nil},
	} {
		check(t, engineer, e)
	}
	check(t, office, expect{"/", 200, []string{"Requests for a visit", "late"}, []string{"Your drafts"}})
	check(t, office, expect{"/register", 200, []string{issued.Number}, nil})
	check(t, guest, expect{"/r/" + token, http.StatusOK, []string{"0800 111 999", issued.Number, "noindex"}, nil})
	check(t, guest, expect{"/v/" + issued.Number + "/" + issued.Seal.Code, 200, []string{"in force"}, nil})
}
