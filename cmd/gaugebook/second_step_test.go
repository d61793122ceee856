package main

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/servertest"
)

// Somebody who has lost the phone and the recovery codes is helped on the command
// line, and told; codes go on working after the firm's key has changed.
func TestSecondStepOnTheCommandLine(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "register")
	const email, password = "alder@moss.example", "three cups of oolong"
	must(t, password+"\n", "owner", "--data", dir, "--name", "Alder Mossop", "--email", email)
	s := serve(t, dir)
	if !strings.HasPrefix(s.base, "http://localhost:") {
		t.Errorf("the server is at %s, where no passkey works", s.base)
	}
	v := s.visitor(t).signIn(email, password)
	page := v.get("/account/second-step").fill("/account/codes", nil).press()
	m := regexp.MustCompile(`<p class="code">([A-Z2-7 ]{39})</p>`).FindStringSubmatch(string(page.body))
	if m == nil {
		t.Fatalf("no secret in\n%s", page.body)
	}
	secret := strings.ReplaceAll(m[1], " ", "")
	v.get("/firm").fill("/firm", fields{"name": "Moss", "email": "post@moss.example"}).press()
	code := servertest.OneTimeCode(t, secret, time.Now())
	page.fill("/account/codes/confirm", fields{"code": code}).press().says("Recovery codes")
	s.stop()

	must(t, "", "key", "change", "--data", dir)
	s = serve(t, dir)
	v = s.visitor(t)
	in := fields{"email": email, "password": password}
	next := servertest.OneTimeCode(t, secret, time.Now().Add(30*time.Second)) // a phone half a minute fast
	at := v.get("/sign-in").fill("/sign-in", in).press()
	if at.path != "/sign-in/code?next=%2F" {
		t.Fatalf("the password leads to %s", at.path)
	}
	if got := at.fill("/sign-in/code?next=%2F", fields{"code": next}).press(); got.path != "/" {
		t.Errorf("the code leads to %s\n%s", got.path, got.body)
	}
	for who, says := range map[string]string{"nobody@moss.example": "there is no person", email: ""} {
		got := gaugebook(t, "", "second-step", "remove", "--data", dir, "--email", who)
		if (got.code == 0) != (says == "") || !strings.Contains(got.err, says) {
			t.Errorf("%s: %+v", who, got)
		}
	}
	if got := gaugebook(t, "", "second-step", "remove", "--data", dir, "--email", email); got.code != exitBad ||
		!strings.Contains(got.err, "nothing but its password") {
		t.Errorf("again: %+v", got)
	}
	if got := v.get("/account"); got.path != "/sign-in?next=%2Faccount" {
		t.Errorf("the session leads to %s", got.path)
	}
	s.visitor(t).signIn(email, password)
	s.stop()
	st, err := store.Open(t.Context(), store.Options{Path: filepath.Join(dir, "register.db")})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	list, _, err := st.Outbox.Find(t.Context(), store.OutboxQuery{})
	if err != nil || !strings.Contains(list[0].Text, "by command line") || list[0].Kind != records.AccountKind {
		t.Errorf("told %+v, %v", list, err)
	}
	must(t, "", "audit", "--data", dir)
}
