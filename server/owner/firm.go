package owner

import (
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Firm is the firm's details and logo.
type Firm struct{ *web.Kit }

type firmPage struct {
	web.Base
	Form web.Form
	Logo string // its SHA-256
}

func firmForm(f records.Firm) web.Form {
	return web.Form{Action: "/firm", Button: "Save", Inputs: []*web.Input{
		web.TextInput("name", "Name of the firm", 80).Must().With(f.Name),
		{Name: "address", Label: "Address", Type: "text", Max: 200, Value: f.Address},
		web.TextInput("phone", "Telephone", 30).Typed("tel").With(f.Phone),
		web.TextInput("email", "E-mail", 120).Typed("email").Hinted("Replies from customers go here.").With(f.Email),
		web.TextInput("registration", "Registration number", 40).Hinted("Of the firm, with its registration body.").
			With(f.Registration),
	}}
}

func (fi Firm) Show(c echo.Context) error {
	f, err := fi.Store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	return fi.Page(c, web.OK, "firm", firmPage{fi.Base(c, "Firm"), firmForm(f), f.Logo})
}

func (fi Firm) Save(c echo.Context) error {
	before, err := fi.Store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	return fi.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return firmForm(records.Firm{}), nil },
		Save: func(v url.Values) (string, error) {
			return "/firm", fi.Store.Settings.SaveFirm(c.Request().Context(), web.ActorOf(c),
				records.Firm{Name: v.Get("name"), Address: v.Get("address"),
					Phone: v.Get("phone"), Email: v.Get("email"), Registration: v.Get("registration"),
					Logo: before.Logo})
		},
		Said: "Saved. Records issued from now on will carry these details.",
		Show: func(status int, f web.Form) error {
			return fi.Page(c, status, "firm", firmPage{fi.Base(c, "Firm"), f, before.Logo})
		},
	})
}
