package account

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// passkeyForm is a form that script fills in with what a device signs. It is
// hidden where there is no script, or passkeys cannot work.
type passkeyForm struct {
	Action, Host, Next, Button string
	Make                       bool   // a new passkey
	Name, Error                string // of the new one
}

// sendOptions answers script with what the browser is to sign.
func sendOptions(c echo.Context, options any) error {
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.JSON(http.StatusOK, options)
}

// secondPage asks for a code, after the password.
type secondPage struct {
	web.Base
	Name    string
	Codes   bool // the account has one-time codes, not passkeys alone
	Form    web.Form
	Passkey passkeyForm
}

func codeInput() *web.Input {
	in := web.TextInput("code", "Code", 40).Must().Autocomplete("one-time-code")
	return in.Hinted("Six digits from your app, or one of your recovery codes.")
}

func codeForm(action string) web.Form {
	return web.Form{Action: action, Button: "Go on", Inputs: []*web.Input{codeInput()}}
}

func (s SignIn) showCode(c echo.Context, status int, p records.Person, wrong error) error {
	has, err := s.Steps.Of(c.Request().Context(), p.ID)
	if err != nil {
		return err
	}
	next := web.LocalPath(c.QueryParam("next"))
	data := secondPage{Base: s.Base(c, "Second step"), Name: p.Name, Codes: has.Codes,
		Form: codeForm("/sign-in/code?next=" + url.QueryEscape(next))}
	data.Passkey = passkeyForm{Action: "/sign-in/passkey", Next: next, Button: "Use a passkey"}
	if len(has.WithHost(s.Steps.Host())) > 0 {
		data.Passkey.Host = s.Steps.Host()
	}
	if !has.Codes {
		data.Form.Inputs[0].Label = "Recovery code"
		data.Form.Inputs[0].Hint = "One that you have not used yet."
	}
	if wrong != nil {
		if hard := data.Form.Refuse(wrong); hard != nil {
			return hard
		}
	}
	return s.Page(c, status, "sign-in-code", data)
}

// CodeForm asks for the second step whoever has just given their password.
func (s SignIn) CodeForm(c echo.Context) error {
	p, _, err := s.Half(c)
	if err != nil {
		return err
	}
	if p.ID == "" {
		return web.Redirect(c, "/sign-in?next="+url.QueryEscape(web.LocalPath(c.QueryParam("next"))))
	}
	return s.showCode(c, http.StatusOK, p, nil)
}

// SubmitCode lets in whoever gives the right code after the right password.
func (s SignIn) SubmitCode(c echo.Context) error {
	p, means, err := s.Half(c)
	if err != nil {
		return err
	}
	next := web.LocalPath(c.QueryParam("next"))
	if p.ID == "" {
		return web.Redirect(c, "/sign-in?next="+url.QueryEscape(next))
	}
	name := "person " + p.ID
	if device := s.KnownDevice(c, p.Email); device != "" {
		name = device
	}
	if !s.Codes.Allow(name) {
		if err := s.Steps.WarnOfGuesses(c.Request().Context(), p); err != nil {
			return err
		}
		return s.showCode(c, http.StatusTooManyRequests, p,
			&records.Error{Kind: records.Invalid, Field: "code", Label: "Code", Msg: tooManyCodes})
	}
	by, err := s.Steps.Check(c.Request().Context(), p, c.FormValue("code"))
	if err == nil {
		s.Codes.Forget(name)
		if err := s.BeginSession(c, p, means+", "+by); err != nil {
			return err
		}
		return web.Redirect(c, next)
	}
	if kind := records.KindOf(err); kind != records.Invalid && kind != records.Conflict {
		return err
	}
	if err := s.NoteRefused(c, p, means+", "+by, "wrong code"); err != nil {
		return err
	}
	return s.showCode(c, http.StatusUnprocessableEntity, p, err)
}

const tooManyCodes = "too many wrong codes; wait three minutes, then try again"
