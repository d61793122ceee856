package engineer

import (
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// applianceFormPage is the form of an appliance outside a record, made from
// the appliance section.
type applianceFormPage struct {
	web.Base
	Trail           web.NavItem
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

func (ap Appliances) New(c echo.Context) error {
	return ap.showNew(c, web.OK, &records.Record{})
}

func (ap Appliances) showNew(c echo.Context, status int, r *records.Record) error {
	p, err := ap.Store.Register.Property(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	data := applianceFormPage{Base: ap.Base(c, "New appliance"), Trail: web.NavItem{Href: "/properties/" + p.ID,
		Text: p.OneLine()}, Heading: "New appliance",
		Action: "/properties/" + p.ID + "/appliances", Button: "Add the appliance",
		Form: formOf(&records.ApplianceSection, r, nil)}
	return ap.showForm(c, status, data, r)
}

func (ap Appliances) showForm(c echo.Context, status int, data applianceFormPage, r *records.Record) error {
	if len(r.Rejected) > 0 {
		data.Error = "Nothing has been saved yet: correct what is marked below."
	}
	return ap.Page(c, status, "appliance-form", data)
}

func (ap Appliances) Add(c echo.Context) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	r := readAppliance(posted)
	if len(r.Rejected) > 0 {
		return ap.showNew(c, web.Refused, r)
	}
	a, err := ap.Store.Register.CreateAppliance(c.Request().Context(), web.ActorOf(c), c.Param("id"), r.Values)
	if err != nil {
		return err
	}
	ap.Flash(c, "Added.")
	return web.Redirect(c, "/appliances/"+a.ID)
}

func (ap Appliances) Edit(c echo.Context) error {
	a, err := ap.Store.Register.Appliance(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	r := &records.Record{Values: a.Values}
	r.SetAside()
	return ap.showEdit(c, web.OK, r)
}

func (ap Appliances) showEdit(c echo.Context, status int, r *records.Record) error {
	id := c.Param("id")
	data := applianceFormPage{Base: ap.Base(c, "Correct an appliance"),
		Trail:   web.NavItem{Href: "/appliances/" + id, Text: "Back to the appliance"},
		Heading: "Correct these details", Action: "/appliances/" + id, Button: "Save",
		Form: formOf(&records.ApplianceSection, r, nil)}
	return ap.showForm(c, status, data, r)
}

func (ap Appliances) Save(c echo.Context) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	if _, err := ap.Store.Register.Appliance(c.Request().Context(), c.Param("id")); err != nil {
		return err
	}
	r := readAppliance(posted)
	if len(r.Rejected) > 0 {
		return ap.showEdit(c, web.Refused, r)
	}
	if _, err := ap.Store.Register.UpdateAppliance(c.Request().Context(), web.ActorOf(c), c.Param("id"),
		r.Values); err != nil {
		return err
	}
	ap.Flash(c, "Saved. Issued records stay as they are.")
	return web.Redirect(c, "/appliances/"+c.Param("id"))
}
