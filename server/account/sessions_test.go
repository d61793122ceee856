package account_test

import (
	"crypto/sha256"
	"encoding/base64"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/servertest"
)

// Each way out of a session: signing out, ending one, ending the others, the
// owner; each in the log, and in a letter where somebody else may have done it.
func TestSessionsEnd(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	later := func() { site.Clock.Set(site.App.Now().Add(time.Second)) }
	sessions := func() (open []records.SignIn) {
		all, err := site.Store.SignIns.Of(t.Context(), maud.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, in := range all {
			if in.Open(site.App.Now()) {
				open = append(open, in)
			}
		}
		return open
	}
	here := site.Guest()
	here.Header.Set("User-Agent", "Mozilla/5.0 (Linux; Android 14) Chrome/150.0 Mobile Safari/537.36")
	here.Header.Set("X-Forwarded-For", "2001:db8:1:2:3:4:5:6")
	here.Post("/sign-in", signInForm(maud))
	there, away, left := site.As(records.RoleEngineer), site.As(records.RoleEngineer), site.As(records.RoleEngineer)
	site.Guest().Post("/sign-in", servertest.Form("email", maud.Email, "password", "wrong wrong wrong"))
	here.Expect("/account", 200, []string{"Chromium on Android, here", "2001:db8:1:2::/64",
		"A program on an unknown device", "refused: wrong password", "End all others"}, nil)
	if len(sessions()) != 4 {
		t.Fatalf("%d sessions", len(sessions()))
	}
	left.Post("/sign-out", nil)
	if got := sessions(); len(got) != 3 {
		t.Errorf("after signing out: %d", len(got))
	}
	later()
	if p := here.Post("/account/sessions/"+sessions()[0].ID+"/end", nil); p.Status != 303 {
		t.Errorf("ending one: %d", p.Status)
	}
	if p := away.Get("/"); !strings.HasPrefix(p.Location, "/sign-in") {
		t.Errorf("the ended one: %d", p.Status)
	}
	there.Expect("/", 200, nil, nil)
	if p := site.As(records.RoleOffice).Post("/account/sessions/"+sessions()[0].ID+"/end", nil); p.Status != 404 {
		t.Errorf("somebody else's: %d", p.Status)
	}
	later()
	if p := here.Post("/account/sessions/end", nil); p.Status != 303 {
		t.Errorf("ending all others: %d", p.Status)
	}
	if p := there.Get("/"); !strings.HasPrefix(p.Location, "/sign-in") {
		t.Errorf("the other one: %d", p.Status)
	}
	here.Expect("/account", 200, []string{"nowhere else. Sessions ended: 1"}, []string{"End all others"})
	later()
	owner := site.As(records.RoleOwner)
	owner.Expect("/people/"+maud.ID, 200, []string{"1 open session, last used", "out everywhere"}, nil)
	if p := owner.Post("/people/"+maud.ID+"/sessions/end", nil); p.Status != 303 {
		t.Errorf("by the owner: %d", p.Status)
	}
	if p := here.Get("/"); !strings.HasPrefix(p.Location, "/sign-in") {
		t.Errorf("after the owner ended it: %d", p.Status)
	}
	log, err := site.Store.Audit.Find(t.Context(), store.AuditQuery{Subject: maud.ID, Limit: 20})
	if err != nil {
		t.Fatal(err)
	}
	said := map[string]int{}
	for _, e := range log {
		said[e.What]++
	}
	if said["session ended"] != 2 || said["sessions ended"] != 2 {
		t.Errorf("logged %v", said)
	}
	told := 0
	for _, m := range site.Outbox() {
		if m.Kind == records.AccountKind && m.ToEmail == maud.Email {
			told++
		}
	}
	if told != 3 {
		t.Errorf("told %d times", told)
	}
}

// A session of an earlier program, which was on no list, goes on and is put on it.
func TestSessionOfBeforeGoesOn(t *testing.T) {
	site := servertest.Start(t)
	c := site.As(records.RoleEngineer)
	var token string
	for _, cookie := range c.Cookies() {
		if cookie.Name == "gaugebook" {
			sum := sha256.Sum256([]byte(cookie.Value))
			token = base64.RawURLEncoding.EncodeToString(sum[:])
		}
	}
	sessions := site.Store.People.Sessions()
	data, found, err := sessions.Find(token)
	if err != nil || !found {
		t.Fatal("no session", err)
	}
	until, values, err := scs.GobCodec{}.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	delete(values, "sign-in")
	values["seen"] = site.App.Now().Unix()
	if data, err = (scs.GobCodec{}).Encode(until, values); err != nil {
		t.Fatal(err)
	}
	if err := sessions.Commit(token, data, until); err != nil {
		t.Fatal(err)
	}
	c.Expect("/", 200, nil, nil)
	all, err := site.Store.SignIns.Of(t.Context(), site.People[records.RoleEngineer].ID)
	if err != nil || len(all) != 2 || !all[0].Open(site.App.Now()) {
		t.Errorf("on the list: %+v, %v", all, err)
	}
	c.Expect("/account", 200, []string{", here"}, nil)
}

// An attempt with an address that nobody has is as much work, and is kept for
// nobody.
func TestAttemptsForNobody(t *testing.T) {
	site := servertest.Start(t)
	site.Guest().Post("/sign-in", servertest.Form("email", "nobody@tweddle.example", "password", "wrong wrong wrong"))
	all, err := site.Store.SignIns.Of(t.Context(), "")
	if err != nil || len(all) != 1 || all[0].Refused != "wrong password" {
		t.Errorf("kept %+v, %v", all, err)
	}
}
