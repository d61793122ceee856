package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// applianceFormPage is the form of an appliance outside a record, made from
// the appliance section.
type applianceFormPage struct {
	base
	Trail           navItem
	Heading, Action string
	Button, Error   string
	Form            sectionForm
}

// readAppliance parses the posted appliance section. Entries that cannot be
// accepted stay beside the values; without a kind no rule could be chosen.
func readAppliance(posted url.Values) *records.Record {
	r := &records.Record{Values: records.Values{}, Rejected: map[string]records.Rejection{}}
	for key, entry := range entriesOf(&records.ApplianceSection, posted).Fields {
		f := records.FieldByKey(key)
		v, err := f.Parse(entry)
		switch {
		case err != nil:
			r.Rejected[key] = records.Rejection{Entry: entry, Message: err.Error()}
		case v.Present():
			r.Values[key] = v
		case f == records.ApplianceKind.Field:
			r.Rejected[key] = records.Rejection{Message: "Choose the kind of appliance: it decides which sections " +
				"and rules apply."}
		}
	}
	if !posted.Has(records.ApplianceKind.Key) {
		r.Rejected[records.ApplianceKind.Key] = records.Rejection{Message: "Choose the kind of appliance: it " +
			"decides which sections and rules apply."}
	}
	return r
}

func (s *Server) newAppliance(c echo.Context) error {
	return s.newAppliancePage(c, http.StatusOK, &records.Record{})
}

func (s *Server) newAppliancePage(c echo.Context, status int, r *records.Record) error {
	p, err := s.store.Register.Property(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	data := applianceFormPage{base: s.base(c, "New appliance"), Trail: navItem{Href: "/properties/" + p.ID,
		Text: p.OneLine()}, Heading: "New appliance",
		Action: "/properties/" + p.ID + "/appliances", Button: "Add the appliance",
		Form: formOf(&records.ApplianceSection, r, nil)}
	return s.applianceFormPage(c, status, data, r)
}

func (s *Server) applianceFormPage(c echo.Context, status int, data applianceFormPage, r *records.Record) error {
	if len(r.Rejected) > 0 {
		data.Error = "Nothing has been saved yet: put right what is marked below."
	}
	return s.page(c, status, "appliance-form", data)
}

func (s *Server) addAppliance(c echo.Context) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	r := readAppliance(posted)
	if len(r.Rejected) > 0 {
		return s.newAppliancePage(c, http.StatusUnprocessableEntity, r)
	}
	a, err := s.store.Register.CreateAppliance(c.Request().Context(), actorOf(c), c.Param("id"), r.Values)
	if err != nil {
		return err
	}
	s.say(c, "Added.")
	return see(c, "/appliances/"+a.ID)
}

func (s *Server) editAppliance(c echo.Context) error {
	a, err := s.store.Register.Appliance(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	r := &records.Record{Values: a.Values}
	r.SetAside()
	return s.editAppliancePage(c, http.StatusOK, r)
}

func (s *Server) editAppliancePage(c echo.Context, status int, r *records.Record) error {
	id := c.Param("id")
	data := applianceFormPage{base: s.base(c, "Correct an appliance"),
		Trail:   navItem{Href: "/appliances/" + id, Text: "Back to the appliance"},
		Heading: "Correct these details", Action: "/appliances/" + id, Button: "Save",
		Form: formOf(&records.ApplianceSection, r, nil)}
	return s.applianceFormPage(c, status, data, r)
}

func (s *Server) saveAppliance(c echo.Context) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	if _, err := s.store.Register.Appliance(c.Request().Context(), c.Param("id")); err != nil {
		return err
	}
	r := readAppliance(posted)
	if len(r.Rejected) > 0 {
		return s.editAppliancePage(c, http.StatusUnprocessableEntity, r)
	}
	if _, err := s.store.Register.UpdateAppliance(c.Request().Context(), actorOf(c), c.Param("id"),
		r.Values); err != nil {
		return err
	}
	s.say(c, "Saved. Issued records stay as they are.")
	return see(c, "/appliances/"+c.Param("id"))
}
