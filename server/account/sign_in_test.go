package account_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

func TestSignIn(t *testing.T) {
	site := servertest.Start(t)
	c := site.Guest()
	if p := c.Get("/appliances/x?y=1"); p.Status != 303 || p.Location != "/sign-in?next=%2Fappliances%2Fx%3Fy%3D1" {
		t.Errorf("guest is sent to %d %q", p.Status, p.Location)
	}
	email := site.People[records.RoleEngineer].Email
	for _, bad := range []url.Values{
		{"email": {email}, "password": {"wrong wrong wrong"}},
		{"email": {"nobody@tweddle.example"}, "password": {servertest.Password}},
		{"email": {""}, "password": {""}},
		{},
	} {
		p := c.Post("/sign-in", bad)
		if p.Status != http.StatusUnprocessableEntity || !strings.Contains(p.Body, "do not match") ||
			strings.Contains(p.Body, "wrong wrong") {
			t.Errorf("%v: status %d", bad, p.Status)
		}
	}
	for next, want := range map[string]string{
		"/records/abc": "/records/abc", "//evil.example/": "/", "https://evil.example/": "/", "/\\evil.example": "/",
		"": "/", "records": "/",
	} {
		p := site.Guest().Post("/sign-in", url.Values{"email": {strings.ToUpper(email)},
			"password": {servertest.Password}, "next": {next}})
		if p.Status != 303 || p.Location != want {
			t.Errorf("next %q: %d %q, want %q", next, p.Status, p.Location, want)
		}
	}
	in := site.As(records.RoleEngineer)
	if p := in.Post("/sign-out", url.Values{}); p.Location != "/sign-in" {
		t.Errorf("sign-out leads to %q", p.Location)
	}
	if p := in.Get("/"); p.Status != 303 {
		t.Errorf("after sign-out: status %d", p.Status)
	}
}

func TestCookie(t *testing.T) {
	site := servertest.Start(t)
	p := site.Guest().Post("/sign-in", url.Values{"email": {site.People[records.RoleOwner].Email},
		"password": {servertest.Password}})
	cookie := strings.Join(p.Header.Values("Set-Cookie"), "\n")
	for _, s := range []string{"gaugebook=", "HttpOnly", "SameSite=Lax", "Path=/"} {
		if !strings.Contains(cookie, s) {
			t.Errorf("cookie %q has no %s", cookie, s)
		}
	}
	secure := servertest.Start(t, func(c *server.Config) { c.App.BaseURL = "https://records.example" })
	p = secure.Guest().Post("/sign-in", url.Values{"email": {secure.People[records.RoleOwner].Email},
		"password": {servertest.Password}})
	cookie = strings.Join(p.Header.Values("Set-Cookie"), "\n")
	if !strings.Contains(cookie, "__Host-gaugebook=") || !strings.Contains(cookie, "Secure") {
		t.Errorf("https cookie %q", cookie)
	}
	if p.Header.Get("Strict-Transport-Security") != "" {
		t.Error("HSTS on a plain connection")
	}
}

func TestSignInIsLimited(t *testing.T) {
	site := servertest.Start(t, func(c *server.Config) { c.SignInPerMinute = 3 })
	c := site.Guest()
	status := 0
	for range 4 {
		status = c.Post("/sign-in", url.Values{"email": {"x@tweddle.example"},
			"password": {"guess guess guess"}}).Status
	}
	if status != http.StatusTooManyRequests {
		t.Errorf("fourth guess: status %d", status)
	}
}

func TestClosedAccount(t *testing.T) {
	site := servertest.Start(t)
	in := site.As(records.RoleEngineer)
	p := site.People[records.RoleEngineer]
	p.Active = false
	if _, err := site.Store.People.Update(t.Context(), records.Actor{Name: "test"}, p); err != nil {
		t.Fatal(err)
	}
	if got := in.Get("/").Status; got != 303 {
		t.Errorf("open session of a closed account: status %d", got)
	}
	if got := site.Guest().Post("/sign-in", url.Values{"email": {p.Email},
		"password": {servertest.Password}}).Status; got != 422 {
		t.Errorf("sign-in to a closed account: status %d", got)
	}
}

func TestIdleSessionEnds(t *testing.T) {
	site := servertest.Start(t)
	in := site.As(records.RoleEngineer)
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 6))
	if got := in.Get("/").Status; got != 200 {
		t.Errorf("after six days: status %d", got)
	}
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 6))
	if got := in.Get("/").Status; got != 200 {
		t.Errorf("used again, after six more days: status %d", got)
	}
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 8))
	if got := in.Get("/").Status; got != 303 {
		t.Errorf("after eight idle days: status %d", got)
	}
}
