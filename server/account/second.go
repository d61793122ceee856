package account

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/signin"
	"gaugebook/server/web"
)

// Second is setting up what one's account asks for besides the password.
type Second struct {
	*web.Kit
	Steps *signin.Steps
	Codes *web.Limiter // by person
}

// setUpPage offers what can be set up.
type setUpPage struct {
	web.Base
	Must    bool // before anything else
	Has     records.SecondStep
	At      string // address of this server, where passkeys cannot be used
	Passkey passkeyForm
}

func (s Second) show(c echo.Context, status int, name string, wrong error) error {
	p := web.Person(c)
	data := setUpPage{Base: s.Base(c, "Second step")}
	var err error
	if data.Has, err = s.Steps.Of(c.Request().Context(), p.ID); err != nil {
		return err
	}
	if data.Must, err = s.Store.SecondSteps.MustSetUp(c.Request().Context(), p); err != nil {
		return err
	}
	if data.Passkey = (passkeyForm{Action: "/account/passkeys", Host: s.Steps.Host(), Button: "Add a passkey",
		Make: true, Name: name}); data.Passkey.Host == "" {
		data.At = s.App.BaseURL
	}
	if wrong != nil {
		data.Passkey.Error = wrong.Error()
	}
	return s.Page(c, status, "second-set-up", data)
}

// Show is the page on which a second step is set up.
func (s Second) Show(c echo.Context) error { return s.show(c, http.StatusOK, "", nil) }

// codesPage shows a secret, once, and asks for a first code of it.
type codesPage struct {
	web.Base
	Setup signin.Setup
	Form  web.Form
}

func firstCodeForm() web.Form {
	return web.Form{Action: "/account/codes/confirm", Button: "Switch codes on", Inputs: []*web.Input{
		web.TextInput("code", "First code", 12).Must().Autocomplete("one-time-code").
			Hinted("The six digits that the app shows now.")}}
}

func (s Second) showCodes(c echo.Context, status int, setup signin.Setup, f web.Form) error {
	return s.Page(c, status, "second-codes", codesPage{s.Base(c, "One-time codes"), setup, f})
}

// StartCodes makes a secret and shows it.
func (s Second) StartCodes(c echo.Context) error {
	setup, err := s.Steps.StartCodes(c.Request().Context(), web.Person(c))
	if err != nil {
		return err
	}
	return s.showCodes(c, http.StatusOK, setup, firstCodeForm())
}

// ConfirmCodes has codes count once a first one was right.
func (s Second) ConfirmCodes(c echo.Context) error {
	ctx, p := c.Request().Context(), web.Person(c)
	if !s.Codes.Allow("first " + p.ID) {
		return echo.NewHTTPError(http.StatusTooManyRequests, tooManyCodes)
	}
	recovery, err := s.Steps.ConfirmCodes(ctx, p, c.FormValue("code"))
	if records.KindOf(err) == records.Invalid {
		setup, again := s.Steps.WaitingCodes(ctx, p)
		if again != nil {
			return again
		}
		form := firstCodeForm()
		if hard := form.Refuse(err); hard != nil {
			return hard
		}
		return s.showCodes(c, http.StatusUnprocessableEntity, setup, form)
	}
	if err != nil {
		return err
	}
	s.Codes.Forget("first " + p.ID)
	return s.added(c, "One-time codes are switched on.", recovery)
}

// added goes on after something was set up: with the recovery codes that came of
// it, which are shown once, or with the account.
func (s Second) added(c echo.Context, said string, recovery []string) error {
	if len(recovery) > 0 {
		return s.Page(c, http.StatusOK, "recovery", recoveryPage{s.Base(c, "Recovery codes"), said, recovery})
	}
	return s.Done(c, nil, said, "/account#second")
}

// recoveryPage shows recovery codes, once.
type recoveryPage struct {
	web.Base
	Said  string
	Codes []string
}

// NewRecovery makes new recovery codes.
func (s Second) NewRecovery(c echo.Context) error {
	codes, err := s.Steps.NewRecovery(c.Request().Context(), web.Person(c))
	if err != nil {
		return err
	}
	return s.added(c, "The old recovery codes no longer work.", codes)
}

// RemoveCodes switches one-time codes off.
func (s Second) RemoveCodes(c echo.Context) error {
	err := s.Steps.RemoveCodes(c.Request().Context(), web.Person(c))
	return s.Done(c, err, "One-time codes are switched off.", "/account#second")
}

// PasskeyOptions tells a browser how to make a passkey.
func (s Second) PasskeyOptions(c echo.Context) error {
	options, err := s.Steps.AskToAdd(c.Request().Context(), web.Person(c))
	if err != nil {
		return err
	}
	return sendOptions(c, options)
}

// AddPasskey adds the passkey that a browser has made.
func (s Second) AddPasskey(c echo.Context) error {
	name := c.FormValue("name")
	recovery, err := s.Steps.Add(c.Request().Context(), web.Person(c), name, c.FormValue("credential"))
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return s.show(c, web.StatusOf(kind), name, err)
	}
	if err != nil {
		return err
	}
	return s.added(c, "The passkey is added.", recovery)
}

// RenamePasskey gives a passkey another name.
func (s Second) RenamePasskey(c echo.Context) error {
	return s.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) {
			return web.Form{Action: "/account/passkeys/" + c.Param("passkey"), Button: "Save",
				Inputs: []*web.Input{web.TextInput("name", "Name of the passkey", 60).Must()}}, nil
		},
		Save: func(v url.Values) (string, error) {
			return "/account#second", s.Steps.Rename(c.Request().Context(), web.Person(c), c.Param("passkey"),
				v.Get("name"))
		},
		Said: "Saved.",
		Show: func(status int, f web.Form) error {
			return s.Page(c, status, "form", web.FormPage{Base: s.Base(c, "Passkey"),
				Trail: web.NavItem{Href: "/account", Text: "Your sign-in"}, Heading: "Rename the passkey", Form: f})
		},
	})
}

// RemovePasskey takes a passkey away.
func (s Second) RemovePasskey(c echo.Context) error {
	err := s.Steps.Remove(c.Request().Context(), web.Person(c), c.Param("passkey"))
	return s.Done(c, err, "The passkey no longer works here. You may want to delete it on your device too.",
		"/account#second")
}
