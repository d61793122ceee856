package server_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
	"gaugebook/server/servertest/browser"
)

// named has a site reached as localhost: browsers take passkeys for names only.
func named(t *testing.T) *servertest.Site {
	t.Helper()
	local := strings.NewReplacer("127.0.0.1", "localhost")
	site := servertest.Start(t, func(c *server.Config) { c.App.BaseURL = local.Replace(c.App.BaseURL) })
	site.HTTP.URL = local.Replace(site.HTTP.URL)
	return site
}

// withDevice gives a tab a device that keeps passkeys, and whose owner unlocks it.
func withDevice(t *testing.T, ctx context.Context) webauthn.AuthenticatorID {
	t.Helper()
	if _, err := chromedp.Call(ctx, webauthn.Enable, webauthn.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	made, err := chromedp.Call(ctx, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{
		Options: &webauthn.VirtualAuthenticatorOptions{Protocol: webauthn.AuthenticatorProtocolCtap2,
			Transport: webauthn.AuthenticatorTransportInternal, HasResidentKey: true, HasUserVerification: true,
			IsUserVerified: true, AutomaticPresenceSimulation: true}})
	if err != nil {
		t.Fatal(err)
	}
	return made.AuthenticatorID
}

const passkeyForm = `document.querySelector("form[data-passkey]")`

// A passkey is added, signs in, confirms, and is not added twice, in a real
// browser with a device of its own.
func TestPasskeyInABrowser(t *testing.T) {
	site := named(t)
	b := browser.Open(t, site, records.RoleEngineer)
	device := withDevice(t, b.Ctx)
	use := func() {
		t.Helper()
		b.Until("the form for passkeys", passkeyForm+" && !"+passkeyForm+".hidden")
		b.Do(chromedp.Click(chromedp.CSS("form[data-passkey] button")))
	}
	b.Go("/account/second-step")
	b.Do(chromedp.SendKeys(chromedp.CSS("#passkey-name"), "work phone"))
	use()
	b.Until("recovery codes", `document.querySelectorAll(".recovery li").length === 10`)
	b.Go("/account")
	b.Until("the passkey", `document.body.textContent.includes("Passkey “work phone”")`)

	b.JS(`(document.querySelector('form[action="/sign-out"]').submit(), true)`)
	b.Until("signed out", `location.pathname === "/sign-in"`)
	use()
	b.Until("signed in", `location.pathname === "/" && document.body.dataset.person`)

	site.Clock.Set(site.App.Now().Add(time.Hour))
	b.Go("/account/second-step")
	b.Until("asked to confirm", `location.pathname === "/confirm"`)
	b.JS(`!document.querySelector('input[type="password"]')`)
	use()
	b.Until("confirmed", `location.pathname === "/account/second-step"`)
	b.Do(chromedp.SendKeys(chromedp.CSS("#passkey-name"), "again"))
	use()
	const said = `document.querySelector("[data-said]").textContent`
	b.Until("not twice", said+`.includes("has a passkey for your account already")`)

	// A proof that has grown old meanwhile is asked for, and nothing is lost by it.
	site.Clock.Set(site.App.Now().Add(time.Hour))
	use()
	b.Until("asked to confirm again", `location.pathname === "/confirm"`)

	// Who does not unlock the device is told something, and may use the password;
	// after it the passkey, or a recovery code, is asked for.
	if _, err := chromedp.Call(b.Ctx, webauthn.SetUserVerified, webauthn.SetUserVerifiedParams{
		AuthenticatorID: device}); err != nil {
		t.Fatal(err)
	}
	use()
	b.Until("not unlocked", said+`.includes("No passkey was used")`)
	maud := site.People[records.RoleEngineer]
	c := site.Guest()
	p := c.Post("/sign-in", servertest.Form("email", maud.Email, "password", servertest.Password))
	if !strings.HasPrefix(p.Location, "/sign-in/code") {
		t.Errorf("the password alone leads to %s", p.Location)
	}
	c.Expect("/sign-in/code", 200, []string{`data-passkey="localhost"`, "Recovery code"}, []string{"Six digits"})

	// Under another name of the same server the form stays hidden.
	b.Do(chromedp.Navigate(strings.Replace(site.HTTP.URL, "localhost", "127.0.0.1", 1) + "/sign-in"))
	b.Until("loaded", `document.readyState === "complete"`)
	b.JS(passkeyForm + ".hidden")
	site.Prove()
}

// Without a host name nothing is offered, and the page says why.
func TestNoPasskeysUnderAnIPAddress(t *testing.T) {
	site := servertest.Start(t)
	c := site.As(records.RoleEngineer)
	c.Expect("/account/second-step", 200, []string{"Passkeys need a host name", "http://127.0.0.1:"},
		[]string{"data-passkey"})
	site.Guest().Expect("/sign-in", 200, nil, []string{"data-passkey"})
	for _, path := range []string{"/account/passkeys/options", "/confirm/passkey/options", "/sign-in/passkey/options"} {
		if p := c.Post(path, nil); p.Status != 409 || !strings.Contains(p.Body, "host name") {
			t.Errorf("%s: %d", path, p.Status)
		}
	}
}
