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
	Attempts *web.Limiter // by address and account
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
	data := signInPage{Base: s.Base(c, "Sign in"), Next: web.LocalPath(c.FormValue("next")), Email: email}
	if !s.Attempts.Allow("address "+c.RealIP(), "account "+email) {
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
	return c.Redirect(http.StatusSeeOther, "/sign-in")
}
