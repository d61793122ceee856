package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

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
		web.TextInput("email", "E-mail", 120).Typed("email").Hinted("Customers' answers go here.").With(f.Email),
		web.TextInput("registration", "Registration number",
			40).Hinted("Of the firm, with its registration body.").With(f.Registration),
	}}
}

func (s Firm) Show(c echo.Context) error {
	f, err := s.Store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	return s.Page(c, http.StatusOK, "firm", firmPage{s.Base(c, "Firm"), firmForm(f), f.Logo})
}

func (s Firm) Save(c echo.Context) error {
	before, err := s.Store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	return s.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return firmForm(records.Firm{}), nil },
		Save: func(v url.Values) (string, error) {
			return "/firm", s.Store.Settings.SaveFirm(c.Request().Context(), web.ActorOf(c),
				records.Firm{Name: v.Get("name"), Address: v.Get("address"),
					Phone: v.Get("phone"), Email: v.Get("email"), Registration: v.Get("registration"),
					Logo: before.Logo})
		},
		Said: "Saved. Records issued from now on will carry these details.",
		Show: func(status int, f web.Form) error {
			return s.Page(c, status, "firm", firmPage{s.Base(c, "Firm"), f, before.Logo})
		},
	})
}
