package server

import (
	"net/http"
	"net/url"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Invite sends a person a link, in place of one that they have: the first
// time, again, or because the password was forgotten.
func (s People) Invite(c echo.Context) error {
	p, err := s.App.Invite(c.Request().Context(), web.ActorOf(c), c.Param("id"))
	if err != nil {
		return err
	}
	s.Flash(c, "A link to set the password is on its way to "+p.Email+". It works once, for seven days.")
	return web.Redirect(c, "/people")
}

func (s People) RevokeInvite(c echo.Context) error {
	if err := s.Store.People.RevokeInvitation(c.Request().Context(), web.ActorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.Flash(c, "The link no longer works.")
	return web.Redirect(c, "/people")
}

// inviteState says in words how a person's link stands; blank when nothing is
// to be said.
func (s People) inviteState(i records.Invitation, now time.Time) (words string, open bool) {
	switch {
	case i.ID == "" || i.EndedWhy == "used":
		return "", false
	case i.Open(now):
		return "link sent, works until " + s.Clock(i.ExpiresAt), true
	case i.EndedWhy != "":
		return "link " + i.EndedWhy, false
	}
	return "link expired unused", false
}

// joinPage is what an invited person meets.
type joinPage struct {
	web.Base
	Person records.Person
	Form   web.Form
}

func passwordInputs() []*web.Input {
	return []*web.Input{
		web.TextInput("password", "New password",
			200).Must().Typed("password").Autocomplete("new-password").Hinted("12 characters or more; a few words " +
			"are easier to remember than signs."),
		web.TextInput("again", "The same once more", 200).Must().Typed("password").Autocomplete("new-password"),
	}
}

func (s Join) show(c echo.Context, status int, p records.Person, f web.Form) error {
	data := joinPage{Base: s.Base(c, "Set your password"), Person: p, Form: f}
	data.Private = true
	return s.Page(c, status, "join", data)
}

func joinForm(token string) web.Form {
	return web.Form{Action: "/join/" + token, Button: "Set it and sign in", Inputs: passwordInputs()}
}

// invited finds whom a link is for; tries are limited like those of sign-in.
func (s Join) invited(c echo.Context) (records.Person, error) {
	if !s.Attempts.Allow("address " + c.RealIP()) {
		return records.Person{}, echo.NewHTTPError(http.StatusTooManyRequests,
			"too many attempts: wait a minute, then try again")
	}
	return s.Store.People.Invited(c.Request().Context(), c.Param("token"))
}

func (s Join) Form(c echo.Context) error {
	p, err := s.invited(c)
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, p, joinForm(c.Param("token")))
}

func (s Join) Accept(c echo.Context) error {
	p, err := s.invited(c)
	if err != nil {
		return err
	}
	return s.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return joinForm(c.Param("token")), nil },
		Save: func(v url.Values) (string, error) {
			joined, err := s.Accounts.Join(c.Request().Context(), c.Param("token"), p, v.Get("password"),
				v.Get("again"))
			if err != nil {
				return "", err
			}
			return "/", s.BeginSession(c, joined)
		},
		Said: "Your password is set. You are signed in.",
		Show: func(status int, f web.Form) error { return s.show(c, status, p, f) },
	})
}

func passwordForm() web.Form {
	return web.Form{Action: "/password", Button: "Change it",
		Inputs: append([]*web.Input{web.TextInput("present", "Present password",
			200).Must().Typed("password").Autocomplete("current-password")}, passwordInputs()...)}
}

func (s Password) show(c echo.Context, status int, f web.Form) error {
	return s.Page(c, status, "form", web.FormPage{Base: s.Base(c, "Password"),
		Trail:   web.NavItem{Href: "/", Text: "Today"},
		Heading: "Change your password",
		Intro:   "You stay signed in here and are signed out everywhere else.", Form: f})
}

func (s Password) Form(c echo.Context) error {
	return s.show(c, http.StatusOK, passwordForm())
}

// Save changes one's own password. Guesses at the present one are
// limited as at sign-in: an open session must not be enough.
func (s Password) Save(c echo.Context) error {
	ctx, p := c.Request().Context(), web.Person(c)
	if !s.Attempts.Allow("address "+c.RealIP(), "account "+p.Email) {
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many attempts: wait a minute, then try again")
	}
	return s.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return passwordForm(), nil },
		Save: func(v url.Values) (string, error) {
			changed, err := s.Accounts.ChangePassword(ctx, p, v.Get("present"), v.Get("password"), v.Get("again"))
			if err != nil {
				return "", err
			}
			return "/", s.BeginSession(c, changed)
		},
		Said: "Your password has been changed.",
		Show: func(status int, f web.Form) error { return s.show(c, status, f) },
	})
}
