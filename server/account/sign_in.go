package account

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/signin"
	"gaugebook/server/web"
)

// Enter lets people in once they have done all that their account asks for.
type Enter struct {
	kit   *web.Kit
	Steps *signin.Steps
}

// NewEnter returns what signing in and the link to set a password share.
func NewEnter(k *web.Kit, steps *signin.Steps) Enter { return Enter{k, steps} }

// enter begins a session of a person who has done one step, by the means given,
// or asks for the second. It returns the page to go on with.
func (e Enter) enter(c echo.Context, p records.Person, means, next string) (string, error) {
	has, err := e.Steps.Of(c.Request().Context(), p.ID)
	if err != nil {
		return "", err
	}
	if !has.Set() {
		return next, e.kit.BeginSession(c, p, means)
	}
	return "/sign-in/code?next=" + url.QueryEscape(next), e.kit.BeginHalf(c, p, means)
}

// SignIn is signing in and out.
type SignIn struct {
	*web.Kit
	Enter
	Accounts *app.Accounts
	Attempts *web.Limiter
	Codes    *web.Limiter // of one person or device: one-time codes are short
}

// accountTimes is how many more attempts an account has than one address: it
// takes as many addresses to use them up.
const accountTimes = 6

// allowed counts an attempt. A device on which the account was used before has
// attempts of its own. From elsewhere the address counts first, and the account
// counts only what the address lets through, so that nobody is kept out of their
// account by one who guesses from a few addresses.
func (s SignIn) allowed(c echo.Context, email string) bool {
	if device := s.KnownDevice(c, email); device != "" {
		return s.Attempts.Allow(device)
	}
	return s.Attempts.Allow(web.AddressOf(c)) && s.Attempts.AllowTimes("account "+email, accountTimes)
}

type signInPage struct {
	web.Base
	Next, Email, Error string
	Passkey            passkeyForm
}

func (s SignIn) show(c echo.Context, status int, data signInPage) error {
	data.Base = s.Base(c, "Sign in")
	data.Passkey = passkeyForm{Action: "/sign-in/passkey", Host: s.Steps.Host(), Next: data.Next,
		Button: "Sign in with a passkey"}
	return s.Page(c, status, "sign-in", data)
}

func (s SignIn) Form(c echo.Context) error {
	if web.Person(c).ID != "" {
		return c.Redirect(http.StatusSeeOther, "/")
	}
	return s.show(c, http.StatusOK, signInPage{Next: web.LocalPath(c.QueryParam("next"))})
}

const tooMany = "Too many attempts. Wait a minute, then try again."

// tooManyAgain answers an attempt that is one too many.
func (s SignIn) tooManyAgain(c echo.Context, data signInPage) error {
	data.Error = tooMany
	c.Response().Header().Set("Retry-After", "60")
	return s.show(c, http.StatusTooManyRequests, data)
}

// Submit lets in whoever gives e-mail and password, or asks for the second step.
func (s SignIn) Submit(c echo.Context) error {
	ctx := c.Request().Context()
	email, password := strings.TrimSpace(c.FormValue("email")), c.FormValue("password")
	if len(email) > 254 { // none is so long
		email = ""
	}
	data := signInPage{Next: web.LocalPath(c.FormValue("next")), Email: email}
	if !s.allowed(c, email) {
		return s.tooManyAgain(c, data)
	}
	p, ok, err := s.Accounts.SignIn(ctx, email, password)
	if err != nil {
		return err
	}
	if !ok {
		if err := s.NoteRefused(c, p, records.ByPassword, whyRefused(p, "wrong password")); err != nil {
			return err
		}
		data.Error = "E-mail and password do not match, or the account is not active."
		return s.show(c, http.StatusUnprocessableEntity, data)
	}
	next, err := s.enter(c, p, records.ByPassword, data.Next)
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, next)
}

// whyRefused says why somebody was not let in, as the list of sign-ins keeps it.
func whyRefused(p records.Person, wrong string) string {
	if p.ID != "" && !p.Active {
		return "account closed"
	}
	return wrong
}

// PasskeyOptions tells a browser what to sign with a passkey, anybody's.
func (s SignIn) PasskeyOptions(c echo.Context) error {
	if !s.Attempts.AllowTimes("options "+web.AddressOf(c), 3) {
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many attempts: wait a minute, then try again")
	}
	options, err := s.Steps.Ask(c.Request().Context(), records.Person{})
	if err != nil {
		return err
	}
	return sendOptions(c, options)
}

// Passkey lets in whoever has signed with a passkey. The device has asked for a
// finger, a face or a PIN: that is both steps in one.
func (s SignIn) Passkey(c echo.Context) error {
	data := signInPage{Next: web.LocalPath(c.FormValue("next"))}
	if !s.Attempts.Allow(web.AddressOf(c)) {
		return s.tooManyAgain(c, data)
	}
	p, err := s.Steps.Answered(c.Request().Context(), records.Person{}, c.FormValue("credential"))
	if err == nil && p.Active {
		if err := s.BeginSession(c, p, records.ByPasskey); err != nil {
			return err
		}
		return web.Redirect(c, data.Next)
	}
	if err != nil && records.KindOf(err) != records.Invalid {
		return err
	}
	if err := s.NoteRefused(c, p, records.ByPasskey, whyRefused(p, "passkey not accepted")); err != nil {
		return err
	}
	s.logRefused(c, err)
	data.Error = "The passkey was not accepted. Try again, or sign in with your password."
	return s.show(c, http.StatusUnprocessableEntity, data)
}

// logRefused has the log say why a passkey was not accepted.
func (s SignIn) logRefused(c echo.Context, err error) {
	var refused *signin.Refused
	if errors.As(err, &refused) {
		s.Log.WarnContext(c.Request().Context(), "passkey not accepted", "request", web.RequestID(c), "why",
			refused.Why)
	}
}

func (s SignIn) End(c echo.Context) error {
	if err := s.EndSession(c); err != nil {
		return err
	}
	c.Response().Header().Set("Clear-Site-Data", `"cache"`) // also what an earlier program let it keep
	return c.Redirect(http.StatusSeeOther, "/sign-in")
}
