package account_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func TestInvitationFromFormToSignIn(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	const email, password = "wilf@tweddle.example", "four words of tea"
	if p := owner.Post("/people", servertest.Form("name", "Wilf Marchbank", "email", email, "role", "engineer",
		"licence",
		"7000009", "competence_until", "2028-01-31")); p.Status != 303 {
		t.Fatalf("status %d", p.Status)
	}
	if site.Woken.Load() == 0 {
		t.Error("the outbox was not woken")
	}
	owner.Expect("/people", 200, []string{"is on its way to " + email, "not set yet",
		"link sent, valid until", "Cancel the link"}, []string{"/join/"})
	link := site.JoinLink(email)
	if p := site.Guest().Post("/sign-in", servertest.Form("email", email, "password", "")); p.Status != 422 {
		t.Errorf("signed in without a password: %d", p.Status)
	}
	guest := site.Guest()
	guest.Expect(link, 200, []string{"Wilf Marchbank", email, "noindex", "no-referrer"}, nil)
	for _, bad := range []struct{ password, again, says string }{
		{"short", "short", "12 to 200 characters"}, {"", "", "12 to 200 characters"},
		{password, password + "s", "the same password as above"},
		{strings.ToUpper(email), strings.ToUpper(email), "other than your e-mail"},
	} {
		p := guest.Post(link, servertest.Form("password", bad.password, "again", bad.again))
		if p.Status != 422 || !strings.Contains(p.Body, bad.says) || bad.password != "" &&
			strings.Contains(p.Body, `value="`+bad.password) {
			t.Errorf("%q: status %d\n%s", bad.password, p.Status, servertest.ErrorsOf(p.Body))
		}
	}
	if p := guest.Post(link, servertest.Form("password", password, "again", password)); p.Status != 303 ||
		p.Location != "/" {
		t.Fatalf("status %d to %q", p.Status, p.Location)
	}
	guest.Expect("/", 200, []string{"Wilf Marchbank", "You are signed in"}, nil)
	for _, again := range []servertest.Page{site.Guest().Get(link), site.Guest().Post(link, servertest.Form("password",
		"another four words", "again", "another four words"))} {
		if again.Status != http.StatusNotFound || strings.Contains(again.Body, "Wilf") {
			t.Errorf("the link works twice: %d", again.Status)
		}
	}
	if p := site.Guest().Post("/sign-in", servertest.Form("email", email, "password", password)); p.Status != 303 {
		t.Errorf("sign-in: %d", p.Status)
	}
	owner.Expect("/people", 200, []string{"Send a link for a new one"},
		[]string{"not set yet", "Cancel the link"})
}

func TestResetRevokeAndClose(t *testing.T) {
	site := servertest.Start(t)
	owner, engineer := site.As(records.RoleOwner), site.As(records.RoleEngineer)
	maud := site.People[records.RoleEngineer]
	path := "/people/" + maud.ID
	if p := owner.Post(path+"/invite", url.Values{}); p.Status != 303 {
		t.Fatal(p.Status)
	}
	link := site.JoinLink(maud.Email)
	if got := engineer.Get("/").Status; got != 200 {
		t.Errorf("a link alone signs out: %d", got)
	}
	owner.Post(path+"/invite/revoke", url.Values{})
	if got := site.Guest().Get(link).Status; got != 404 {
		t.Errorf("revoked link: %d", got)
	}
	if p := owner.Post(path+"/invite/revoke", url.Values{}); p.Status != 404 {
		t.Errorf("revoked again: %d", p.Status)
	}
	owner.Post(path+"/invite", url.Values{})
	const fresh = "lamp oil and biscuits"
	if p := site.Guest().Post(site.JoinLink(maud.Email), servertest.Form("password", fresh, "again",
		fresh)); p.Status != 303 {
		t.Fatal(p.Status)
	}
	if got := engineer.Get("/").Status; got != 303 {
		t.Errorf("the session from before the reset holds: %d", got)
	}
	in := site.Guest()
	in.Post("/sign-in", servertest.Form("email", maud.Email, "password", fresh))
	edit := servertest.Form("name", maud.Name, "email", maud.Email, "role", "engineer", "active", "closed", "password",
		"is not looked at")
	if p := owner.Post(path, edit); p.Status != 303 {
		t.Fatal(p.Status)
	}
	edit.Set("active", "active")
	if p := owner.Post(path, edit); p.Status != 303 {
		t.Fatal(p.Status)
	}
	if got := in.Get("/").Status; got != 303 {
		t.Errorf("a session outlived the closing of its account: %d", got)
	}
	if p := site.Guest().Post("/sign-in", servertest.Form("email", maud.Email, "password", fresh)); p.Status != 303 {
		t.Errorf("sign-in after opening the account again: %d", p.Status)
	}
}

func TestOwnPassword(t *testing.T) {
	site := servertest.Start(t)
	here, there := site.As(records.RoleOffice), site.As(records.RoleOffice)
	const fresh = "lamp oil and biscuits"
	here.Expect("/password", 200, []string{"Current password"}, nil)
	for _, bad := range []url.Values{
		servertest.Form("present", "wrong wrong wrong", "password", fresh, "again", fresh),
		servertest.Form("password", fresh, "again", fresh),
		servertest.Form("present", servertest.Password, "password", "short", "again", "short"),
		servertest.Form("present", servertest.Password, "password", fresh),
	} {
		if p := here.Post("/password", bad); p.Status != 422 || strings.Contains(p.Body, fresh) {
			t.Errorf("%v: status %d", bad, p.Status)
		}
	}
	if p := here.Post("/password", servertest.Form("present", servertest.Password, "password", fresh, "again",
		fresh)); p.Status != 303 {
		t.Fatal(p.Status)
	}
	here.Expect("/", 200, []string{"Your password has been changed"}, nil)
	if got := there.Get("/").Status; got != 303 {
		t.Errorf("the other session holds: %d", got)
	}
	email := site.People[records.RoleOffice].Email
	if p := site.Guest().Post("/sign-in", servertest.Form("email", email, "password",
		servertest.Password)); p.Status != 422 {
		t.Errorf("the old password still works: %d", p.Status)
	}
}
