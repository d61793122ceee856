package account_test

import (
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

// What hands the register over asks for the password again, and everything else
// does not.
func TestPasswordAgainBeforeWhatHandsOver(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	maud := "/people/" + site.People[records.RoleEngineer].ID
	key := servertest.Form("label", "x", "scope", "read", "days", "30")
	if p := owner.Post(maud+"/keys", key); p.Status != 200 {
		t.Fatalf("just signed in: %d", p.Status)
	}
	site.Clock.Set(storetest.Start.Add(time.Hour))
	for _, path := range []string{"/people", maud, "/webhooks", "/register/export?as=csv"} {
		if p := owner.Get(path); p.Status != 303 || !strings.HasPrefix(p.Location, "/confirm?next=%2F") {
			t.Errorf("GET %s: %d to %q", path, p.Status, p.Location)
		}
	}
	for _, path := range []string{"/people", maud, maud + "/invite", maud + "/keys", "/account/keys", "/webhooks"} {
		if p := owner.Post(path, key); p.Status != 303 || !strings.HasPrefix(p.Location, "/confirm?next=") {
			t.Errorf("POST %s: %d to %q", path, p.Status, p.Location)
		}
	}
	keys, err := site.Store.People.Keys(t.Context(), site.People[records.RoleEngineer].ID)
	if err != nil || len(keys) != 1 {
		t.Errorf("%d keys, %v", len(keys), err)
	}
	for _, path := range []string{"/", "/register", "/firm", "/messages", "/account"} {
		owner.Expect(path, 200, nil, nil)
	}
	at := "/confirm?next=%2Fpeople"
	owner.Expect(at, 200, []string{"Confirm that it is you"}, nil)
	if p := owner.Post(at, servertest.Form("password", "wrong wrong wrong")); p.Status != 422 ||
		!strings.Contains(p.Body, "this is not your password") {
		t.Errorf("wrong password: %d", p.Status)
	}
	if p := owner.Post("/confirm?next=%2F%2Fevil.example", servertest.Form("password",
		servertest.Password)); p.Location != "/" {
		t.Errorf("leads to %q", p.Location)
	}
	owner.Expect("/people", 200, nil, nil)
}

// A forgotten password is put right by mail; a stranger learns nothing, and floods
// nobody.
func TestForgottenPassword(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	letters := func() (n int) {
		for _, m := range site.Outbox() {
			if m.Kind == records.InvitationKind {
				n++
			}
		}
		return n
	}
	var answers []string
	for _, email := range []string{"nobody@tweddle.example", maud.Email, maud.Email, strings.ToUpper(maud.Email)} {
		p := site.Guest().Post("/forgotten", servertest.Form("email", email))
		answers = append(answers, p.Location+p.Body)
		deadline := time.Now().Add(20 * time.Second)
		for email == maud.Email && letters() == 0 && time.Now().Before(deadline) {
			time.Sleep(20 * time.Millisecond)
		}
	}
	if answers[0] != answers[1] || answers[0] != "/forgotten/sent" {
		t.Errorf("answers differ: %q", answers)
	}
	time.Sleep(300 * time.Millisecond) // for what must not come
	if n := letters(); n != 1 {
		t.Fatalf("%d letters", n)
	}
	if p := site.Guest().Post("/sign-in", servertest.Form("email", maud.Email, "password",
		servertest.Password)); p.Status != 303 {
		t.Errorf("the old password no longer works: %d", p.Status)
	}
	link := site.JoinLink(maud.Email)
	if m := site.Outbox(); !strings.Contains(m[0].Text, "Somebody has asked for a new password") {
		t.Errorf("the letter says %s", m[0].Text)
	}
	const fresh = "lamp oil and biscuits"
	if p := site.Guest().Post(link, servertest.Form("password", fresh, "again", fresh)); p.Status != 303 {
		t.Errorf("with the link: %d", p.Status)
	}
}
