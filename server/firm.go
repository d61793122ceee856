package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

type firmPage struct {
	base
	Form inputForm
	Logo string // its SHA-256
}

func firmForm(f records.Firm) inputForm {
	return inputForm{Action: "/firm", Button: "Save", Inputs: []*input{
		line("name", "Name of the firm", 80).must().with(f.Name),
		{Name: "address", Label: "Address", Type: "text", Max: 200, Value: f.Address},
		line("phone", "Telephone", 30).typed("tel").with(f.Phone),
		line("email", "E-mail", 120).typed("email").hint("Customers' answers go here.").with(f.Email),
		line("registration", "Registration number",
			40).hint("Of the firm, with its registration body.").with(f.Registration),
	}}
}

func (s *Server) firm(c echo.Context) error {
	f, err := s.store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, "firm", firmPage{s.base(c, "Firm"), firmForm(f), f.Logo})
}

func (s *Server) saveFirm(c echo.Context) error {
	before, err := s.store.Settings.Firm(c.Request().Context())
	if err != nil {
		return err
	}
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return firmForm(records.Firm{}), nil },
		save: func(v url.Values) (string, error) {
			return "/firm", s.store.Settings.SaveFirm(c.Request().Context(), actorOf(c),
				records.Firm{Name: v.Get("name"), Address: v.Get("address"),
					Phone: v.Get("phone"), Email: v.Get("email"), Registration: v.Get("registration"),
					Logo: before.Logo})
		},
		said: "Saved. Records issued from now on will carry these details.",
		show: func(status int, f inputForm) error {
			return s.page(c, status, "firm", firmPage{s.base(c, "Firm"), f, before.Logo})
		},
	})
}

// savedForm is one round of a form: save what was posted and go on, or show
// it again with what was not accepted.
type savedForm struct {
	form func() (inputForm, error)
	save func(url.Values) (next string, err error)
	said string
	show func(status int, f inputForm) error
}

func (s *Server) saveForm(c echo.Context, f savedForm) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	next, err := f.save(posted)
	if err == nil {
		if f.said != "" {
			s.say(c, f.said)
		}
		return see(c, next)
	}
	form, formErr := f.form()
	if formErr != nil {
		return formErr
	}
	form.refill(posted)
	if hard := form.refuse(err); hard != nil {
		return hard
	}
	return f.show(statusOf[records.KindOf(err)], form)
}
