package engineer

import (
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Properties is the pages of an address.
type Properties struct{ *web.Kit }

type propertyPage struct {
	web.Base
	Property   records.PropertyEntry
	Appliances []web.ApplianceLine
}

func (pr Properties) Show(c echo.Context) error {
	ctx := c.Request().Context()
	p, err := pr.Store.Register.Property(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	all, err := pr.Store.Register.AppliancesAt(ctx, p.ID)
	if err != nil {
		return err
	}
	data := propertyPage{Base: pr.Base(c, p.Line1), Property: p}
	for _, a := range all {
		line := web.ApplianceLine{ID: a.ID, Name: a.Values.ApplianceName(),
			Kind:   records.ApplianceKind.ChoiceLabel(a.Values.Choice(records.ApplianceKind)),
			Serial: a.Values.Text(records.ApplianceSerial), Retired: a.Retired}
		if a.NextDuty != nil {
			line.State, line.Due = a.NextDuty.StateOn(data.Today), a.NextDuty.Duty.Due
		}
		data.Appliances = append(data.Appliances, line)
	}
	return pr.Page(c, web.OK, "property", data)
}

// contactPrefix tells the fields of the contact from those of the address.
const contactPrefix = "customer."

func propertyForm(action, button string, p records.PropertyEntry) web.Form {
	k := p.Contact
	return web.Form{Action: action, Button: button, Inputs: []*web.Input{
		web.TextInput("line1", "First line of the address", 100).Must().Autocomplete("off").With(p.Line1),
		web.TextInput("line2", "Second line", 100).Autocomplete("off").With(p.Line2),
		web.TextInput("town", "Town", 60).Must().Autocomplete("off").With(p.Town),
		web.TextInput("postcode", "Postcode", 10).Must().Autocomplete("off").With(p.Postcode),
		web.Select("nation", "Nation", records.Nations, "Choose").Must().
			Hinted("It decides which duties and which emergency number apply.").With(string(p.Nation)),
		web.TextInput(contactPrefix+"name", "Contact: name", 80).Autocomplete("off").
			Hinted("The person to write to. You can leave the contact blank for now.").With(k.Name),
		web.Select(contactPrefix+"tenure", "Relationship to the property", records.Tenures,
			"Choose").With(string(k.Tenure)),
		web.TextInput(contactPrefix+"phone", "Telephone", 30).Typed("tel").Autocomplete("off").With(k.Phone),
		web.TextInput(contactPrefix+"email", "E-mail", 120).Typed("email").Autocomplete("off").
			Hinted("The issued record goes here.").With(k.Email),
		web.TextInput(contactPrefix+"address", "Address, if different", 200).Autocomplete("off").
			Hinted("A landlord's must be on the check record.").With(k.Address),
	}}
}

func propertyOf(v url.Values) records.PropertyEntry {
	at := func(name string) string { return strings.TrimSpace(v.Get(name)) }
	return records.PropertyEntry{
		Property: records.Property{Line1: at("line1"), Line2: at("line2"), Town: at("town"), Postcode: at("postcode"),
			Nation: records.Nation(at("nation"))},
		Contact: records.Contact{Name: at(contactPrefix + "name"),
			Tenure: records.Tenure(at(contactPrefix + "tenure")), Phone: at(contactPrefix + "phone"),
			Email: at(contactPrefix + "email"), Address: at(contactPrefix + "address")},
	}
}

// checkProperty finds every error at once, each named as its field is in the
// form.
func checkProperty(p records.PropertyEntry) error {
	var all records.Errors
	add := func(prefix string, err error) {
		if es, ok := err.(records.Errors); ok {
			for _, e := range es {
				e.Field = prefix + e.Field
				all = append(all, e)
			}
		}
	}
	_, err := p.Property.Checked()
	add("", err)
	if p.Contact != (records.Contact{}) {
		_, err = p.Contact.Checked()
		add(contactPrefix, err)
	}
	if all == nil {
		return nil
	}
	return all
}

func (pr Properties) showNew(c echo.Context, status int, form web.Form, near []records.PropertyEntry) error {
	return pr.Page(c, status, "form", web.FormPage{Base: pr.Base(c, "New address"),
		Trail: web.NavItem{Href: "/find", Text: "Find"}, Heading: "New address", Form: form, Near: near})
}

func (pr Properties) New(c echo.Context) error {
	return pr.showNew(c, web.OK, propertyForm("/properties", "Add the address", records.PropertyEntry{
		Property: records.Property{Postcode: c.QueryParam("postcode")}}), nil)
}

// Add shows what is on file at the postcode before it takes a second
// entry of the same first line.
func (pr Properties) Add(c echo.Context) error {
	ctx := c.Request().Context()
	return pr.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) {
			return propertyForm("/properties", "Add the address", records.PropertyEntry{}), nil
		},
		Save: func(v url.Values) (string, error) {
			p := propertyOf(v)
			if err := checkProperty(p); err != nil {
				return "", err
			}
			p, err := pr.App.AddProperty(ctx, web.Person(c), p)
			return "/properties/" + p.ID, err
		},
		Said: "Added. Now add the appliance.",
		Show: func(status int, f web.Form) error {
			near, _ := pr.Store.Register.PropertiesIn(ctx, c.FormValue("postcode"))
			return pr.showNew(c, status, f, near)
		},
	})
}

func (pr Properties) showEdit(c echo.Context, status int, id string, form web.Form) error {
	return pr.Page(c, status, "form", web.FormPage{Base: pr.Base(c, "Change an address"),
		Trail:   web.NavItem{Href: "/properties/" + id, Text: "Back to the address"},
		Heading: "Change address or contact", Intro: "Issued records keep what they were issued with.", Form: form})
}

func (pr Properties) Edit(c echo.Context) error {
	p, err := pr.Store.Register.Property(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return pr.showEdit(c, web.OK, p.ID, propertyForm("/properties/"+p.ID, "Save", p))
}

func (pr Properties) Save(c echo.Context) error {
	id := c.Param("id")
	return pr.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) {
			return propertyForm("/properties/"+id, "Save", records.PropertyEntry{}), nil
		},
		Save: func(v url.Values) (string, error) {
			p := propertyOf(v)
			p.ID = id
			err := checkProperty(p)
			if err == nil {
				_, err = pr.Store.Register.UpdateProperty(c.Request().Context(), web.ActorOf(c), p)
			}
			return "/properties/" + id, err
		},
		Said: "Saved.",
		Show: func(status int, f web.Form) error { return pr.showEdit(c, status, id, f) },
	})
}
