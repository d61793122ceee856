package account

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// Confirm asks a person for their password again, before what hands the register
// over.
type Confirm struct {
	*web.Kit
	Accounts *app.Accounts
	Attempts *web.Limiter // by person
}

func (co Confirm) show(c echo.Context, status int, wrong error) error {
	next := web.LocalPath(c.QueryParam("next"))
	form := web.Form{Action: "/confirm?next=" + url.QueryEscape(next), Button: "Go on",
		Inputs: []*web.Input{web.TextInput("password", "Password", 200).Must().Typed("password").
			Autocomplete("current-password")}}
	if wrong != nil {
		if hard := form.Refuse(wrong); hard != nil {
			return hard
		}
	}
	return co.Page(c, status, "form", web.FormPage{Base: co.Base(c, "Confirm that it is you"),
		Trail: web.NavItem{Href: "/", Text: "Today"}, Heading: "Confirm that it is you",
		Intro: "What comes next hands out keys, people’s accounts or the register itself. Give your password once " +
			"more; it counts for a quarter of an hour.", Form: form})
}

func (co Confirm) Form(c echo.Context) error { return co.show(c, http.StatusOK, nil) }

// Submit lets the person go on with the right password.
func (co Confirm) Submit(c echo.Context) error {
	p := web.Person(c)
	if !co.Attempts.Allow("person " + p.ID) {
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many attempts: wait a minute, then try again")
	}
	ok, err := co.Accounts.Confirms(c.Request().Context(), p, c.FormValue("password"))
	if err != nil {
		return err
	}
	if !ok {
		return co.show(c, http.StatusUnprocessableEntity, &records.Error{Kind: records.Invalid, Field: "password",
			Label: "Password", Msg: "this is not your password"})
	}
	co.Proved(c)
	return web.Redirect(c, web.LocalPath(c.QueryParam("next")))
}
