package owner

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/signin"
	"gaugebook/server/web"
)

// SignIn is what the firm asks of its owners when they sign in.
type SignIn struct {
	*web.Kit
	Steps *signin.Steps
}

// What owners sign in with, as the form says it.
const (
	passwordOnly = "password"
	withSecond   = "second step"
)

func signInForm(both bool) web.Form {
	in := &web.Input{Name: "owners", Label: "To sign in as an owner", Type: "select", Options: []web.Option{
		{Code: passwordOnly, Label: "A password is enough"},
		{Code: withSecond, Label: "A second step is needed"}}}
	in.Set(map[bool]string{false: passwordOnly, true: withSecond}[both])
	return web.Form{Action: "/firm/sign-in", Button: "Save", Inputs: []*web.Input{in}}
}

func (s SignIn) show(c echo.Context, status int, f web.Form) error {
	return s.Page(c, status, "form", web.FormPage{Base: s.Base(c, "Sign-in of owners"),
		Trail: web.NavItem{Href: "/firm", Text: "Firm"}, Heading: "Sign-in of owners",
		Intro: "Owners can do everything here. With a second step, one-time codes or a passkey, somebody who has " +
			"learnt a password still cannot sign in as one. Owners who have not set one up are asked to right after " +
			"they sign in, before anything else. You need one yourself first.", Form: f})
}

func (s SignIn) Show(c echo.Context) error {
	both, err := s.Store.SecondSteps.OwnersBoth(c.Request().Context())
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, signInForm(both))
}

// Save changes what is asked of owners.
func (s SignIn) Save(c echo.Context) error {
	return s.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return signInForm(false), nil },
		Save: func(v url.Values) (string, error) {
			want := v.Get("owners")
			if want != passwordOnly && want != withSecond {
				return "", &records.Error{Kind: records.Invalid, Field: "owners", Label: "To sign in as an owner",
					Value: records.Shorten(want, 40), Want: "one of the two"}
			}
			err := s.Steps.AskOwners(c.Request().Context(), web.ActorOf(c), want == withSecond)
			return "/firm", err
		},
		Said: "Saved.",
		Show: func(status int, f web.Form) error { return s.show(c, status, f) },
	})
}

// signIn puts on the page of a person how they sign in, and where they are.
func (pe People) signIn(c echo.Context, p records.Person, data *personPage) error {
	has, err := pe.Steps.Of(c.Request().Context(), p.ID)
	if err != nil {
		return err
	}
	var parts []string
	if has.Codes {
		parts = append(parts, "one-time codes")
	}
	switch n := len(has.Passkeys); {
	case n == 1:
		parts = append(parts, "a passkey")
	case n > 1:
		parts = append(parts, fmt.Sprintf("%d passkeys", n))
	}
	data.Second = strings.Join(parts, " and ")
	data.Lost = has.Set() && p.Role != records.RoleOwner
	all, err := pe.Store.SignIns.Of(c.Request().Context(), p.ID)
	var last time.Time
	for _, in := range all {
		if in.Open(pe.App.Now()) {
			data.Open++
			if in.UsedAt.After(last) {
				last = in.UsedAt
			}
		}
	}
	data.Used = pe.Clock(last)
	return err
}

// EndSessions signs a person out everywhere.
func (pe People) EndSessions(c echo.Context) error {
	p, err := pe.Store.People.ByID(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	n, err := pe.Steps.EndSessions(c.Request().Context(), web.ActorOf(c), p, "")
	return pe.Done(c, err, fmt.Sprintf("%s is signed out everywhere. Sessions ended: %d.", p.Name, n),
		"/people/"+p.ID+"#sign-in")
}

// TakeAway takes codes and passkeys away from a person who has lost them. Those of
// another owner are taken away on the machine itself.
func (pe People) TakeAway(c echo.Context) error {
	p, err := pe.Store.People.ByID(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	if p.Role == records.RoleOwner {
		return records.Fail(records.Conflict, "an owner’s codes and passkeys are taken away on the machine that the "+
			"server runs on, with “gaugebook second-step remove”")
	}
	err = pe.Steps.TakeAway(c.Request().Context(), web.ActorOf(c), p)
	return pe.Done(c, err, p.Name+" signs in with the password alone now. Every session has ended.",
		"/people/"+p.ID+"#sign-in")
}
