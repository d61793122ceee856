package account

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/signin"
	"gaugebook/server/web"
)

// Confirm asks a person once more for proof that it is them, before what hands the
// register over: for their password, or where the account asks for more than that,
// for a code or a passkey instead.
type Confirm struct {
	*web.Kit
	Steps    *signin.Steps
	Accounts *app.Accounts
	Attempts *web.Limiter // by person
	Codes    *web.Limiter // by person
}

type confirmPage struct {
	web.Base
	Both    bool // the account has a second step
	Form    web.Form
	Passkey passkeyForm
}

func (co Confirm) show(c echo.Context, status int, wrong error) error {
	has, err := co.Steps.Of(c.Request().Context(), web.Person(c).ID)
	if err != nil {
		return err
	}
	next := web.LocalPath(c.QueryParam("next"))
	action := "/confirm?next=" + url.QueryEscape(next)
	data := confirmPage{Base: co.Base(c, "Confirm that it is you"), Both: has.Set(), Form: codeForm(action)}
	if !has.Set() {
		data.Form.Inputs = []*web.Input{web.TextInput("password", "Password", 200).Must().Typed("password").
			Autocomplete("current-password")}
	}
	if len(has.WithHost(co.Steps.Host())) > 0 {
		data.Passkey = passkeyForm{Action: "/confirm/passkey", Host: co.Steps.Host(), Next: next,
			Button: "Use a passkey"}
	}
	if wrong != nil {
		if hard := data.Form.Refuse(wrong); hard != nil {
			return hard
		}
	}
	return co.Page(c, status, "confirm", data)
}

func (co Confirm) Form(c echo.Context) error { return co.show(c, http.StatusOK, nil) }

// Submit lets the person go on with the right password or code.
func (co Confirm) Submit(c echo.Context) error {
	p := web.Person(c)
	has, err := co.Steps.Of(c.Request().Context(), p.ID)
	if err != nil {
		return err
	}
	if has.Set() {
		err = co.code(c, p)
	} else {
		err = co.password(c, p)
	}
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return co.show(c, web.StatusOf(kind), err)
	}
	if err != nil {
		return err
	}
	co.Proved(c)
	return web.Redirect(c, web.LocalPath(c.QueryParam("next")))
}

func (co Confirm) code(c echo.Context, p records.Person) error {
	if !co.Codes.Allow("person " + p.ID) {
		if err := co.Steps.WarnOfGuesses(c.Request().Context(), p); err != nil {
			return err
		}
		return echo.NewHTTPError(http.StatusTooManyRequests, tooManyCodes)
	}
	_, err := co.Steps.Check(c.Request().Context(), p, c.FormValue("code"))
	if err == nil {
		co.Codes.Forget("person " + p.ID)
	}
	return err
}

func (co Confirm) password(c echo.Context, p records.Person) error {
	if !co.Attempts.Allow("person " + p.ID) {
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many attempts: wait a minute, then try again")
	}
	ok, err := co.Accounts.Confirms(c.Request().Context(), p, c.FormValue("password"))
	if err == nil && !ok {
		err = &records.Error{Kind: records.Invalid, Field: "password", Label: "Password",
			Msg: "this is not your password"}
	}
	return err
}

// PasskeyOptions tells a browser what to sign with a passkey of the person's.
func (co Confirm) PasskeyOptions(c echo.Context) error {
	options, err := co.Steps.Ask(c.Request().Context(), web.Person(c))
	if err != nil {
		return err
	}
	return sendOptions(c, options)
}

// Passkey lets the person go on who has signed with a passkey of theirs.
func (co Confirm) Passkey(c echo.Context) error {
	if _, err := co.Steps.Answered(c.Request().Context(), web.Person(c), c.FormValue("credential")); err != nil {
		if records.KindOf(err) == records.Invalid {
			return co.show(c, http.StatusUnprocessableEntity, err)
		}
		return err
	}
	co.Proved(c)
	return web.Redirect(c, web.LocalPath(c.FormValue("next")))
}
