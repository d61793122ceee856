package account

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/server/app"
	"gaugebook/server/web"
)

// SignIn is signing in and out.
type SignIn struct {
	*web.Kit
	Accounts *app.Accounts
	Attempts *web.Limiter
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
}

func (s SignIn) Form(c echo.Context) error {
	if web.Person(c).ID != "" {
		return c.Redirect(http.StatusSeeOther, "/")
	}
	return s.Page(c, http.StatusOK, "sign-in", signInPage{Base: s.Base(c, "Sign in"),
		Next: web.LocalPath(c.QueryParam("next"))})
}

// Submit begins a session for e-mail and password.
func (s SignIn) Submit(c echo.Context) error {
	ctx := c.Request().Context()
	email, password := strings.TrimSpace(c.FormValue("email")), c.FormValue("password")
	if len(email) > 254 { // none is so long
		email = ""
	}
	data := signInPage{Base: s.Base(c, "Sign in"), Next: web.LocalPath(c.FormValue("next")), Email: email}
	if !s.allowed(c, email) {
		data.Error = "Too many attempts. Wait a minute, then try again."
		c.Response().Header().Set("Retry-After", "60")
		return s.Page(c, http.StatusTooManyRequests, "sign-in", data)
	}
	p, ok, err := s.Accounts.SignIn(ctx, email, password)
	if err != nil {
		return err
	}
	if !ok {
		data.Error = "E-mail and password do not match, or the account is not active."
		return s.Page(c, http.StatusUnprocessableEntity, "sign-in", data)
	}
	if err := s.BeginSession(c, p); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, data.Next)
}

func (s SignIn) End(c echo.Context) error {
	if err := s.EndSession(c); err != nil {
		return err
	}
	c.Response().Header().Set("Clear-Site-Data", `"cache"`) // also what an earlier program let it keep
	return c.Redirect(http.StatusSeeOther, "/sign-in")
}
