package account

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// Password is changing one's own password.
type Password struct {
	*web.Kit
	Accounts *app.Accounts
	Attempts *web.Limiter // by person: only their own sessions count
}

// Join is the page on which an invited person sets their password.
type Join struct {
	*web.Kit
	Enter
	Accounts *app.Accounts
	Attempts *web.Limiter // by address
}

// joinPage is what an invited person sees.
type joinPage struct {
	web.Base
	Person records.Person
	Form   web.Form
}

func passwordInputs() []*web.Input {
	return []*web.Input{
		web.TextInput("password", "New password",
			200).Must().Typed("password").Autocomplete("new-password").Hinted("12 characters or more; a few words " +
			"are easier to remember than symbols."),
		web.TextInput("again", "Repeat the new password", 200).Must().Typed("password").Autocomplete("new-password"),
	}
}

func (j Join) show(c echo.Context, status int, p records.Person, f web.Form) error {
	data := joinPage{Base: j.Base(c, "Set your password"), Person: p, Form: f}
	data.Private = true
	return j.Page(c, status, "join", data)
}

func joinForm(token string) web.Form {
	return web.Form{Action: "/join/" + token, Button: "Set it and sign in", Inputs: passwordInputs()}
}

// invited finds who a link is for; attempts are limited like those of sign-in.
func (j Join) invited(c echo.Context) (records.Person, error) {
	if !j.Attempts.Allow(web.AddressOf(c)) {
		return records.Person{}, echo.NewHTTPError(http.StatusTooManyRequests,
			"too many attempts: wait a minute, then try again")
	}
	return j.Store.People.Invited(c.Request().Context(), c.Param("token"))
}

func (j Join) Form(c echo.Context) error {
	p, err := j.invited(c)
	if err != nil {
		return err
	}
	return j.show(c, http.StatusOK, p, joinForm(c.Param("token")))
}

func (j Join) Accept(c echo.Context) error {
	p, err := j.invited(c)
	if err != nil {
		return err
	}
	return j.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return joinForm(c.Param("token")), nil },
		Save: func(v url.Values) (string, error) {
			joined, err := j.Accounts.Join(c.Request().Context(), c.Param("token"), p, v.Get("password"),
				v.Get("again"))
			if err != nil {
				return "", err
			}
			return j.enter(c, joined, records.ByMailedLink, "/")
		},
		Said: "Your password is set. You are signed in.",
		Show: func(status int, f web.Form) error { return j.show(c, status, p, f) },
	})
}

func passwordForm() web.Form {
	return web.Form{Action: "/password", Button: "Change it",
		Inputs: append([]*web.Input{web.TextInput("present", "Current password",
			200).Must().Typed("password").Autocomplete("current-password")}, passwordInputs()...)}
}

func (pa Password) show(c echo.Context, status int, f web.Form) error {
	return pa.Page(c, status, "form", web.FormPage{Base: pa.Base(c, "Password"),
		Trail:   web.NavItem{Href: "/", Text: "Today"},
		Heading: "Change your password",
		Intro:   "You stay signed in here and are signed out everywhere else.", Form: f})
}

func (pa Password) Form(c echo.Context) error {
	return pa.show(c, http.StatusOK, passwordForm())
}

// Save changes one's own password. Guesses at the present one are
// limited as at sign-in: an open session must not be enough.
func (pa Password) Save(c echo.Context) error {
	ctx, p := c.Request().Context(), web.Person(c)
	if !pa.Attempts.Allow("person " + p.ID) {
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many attempts: wait a minute, then try again")
	}
	return pa.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return passwordForm(), nil },
		Save: func(v url.Values) (string, error) {
			changed, err := pa.Accounts.ChangePassword(ctx, p, v.Get("present"), v.Get("password"), v.Get("again"))
			if err != nil {
				return "", err
			}
			return "/", pa.BeginSession(c, changed, "password, changed here")
		},
		Said: "Your password has been changed.",
		Show: func(status int, f web.Form) error { return pa.show(c, status, f) },
	})
}
