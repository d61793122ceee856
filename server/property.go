package server

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

type propertyPage struct {
	base
	Property   records.PropertyEntry
	Appliances []applianceLine
}

func (s *Server) property(c echo.Context) error {
	ctx := c.Request().Context()
	p, err := s.store.Register.Property(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	all, err := s.store.Register.AppliancesAt(ctx, p.ID)
	if err != nil {
		return err
	}
	data := propertyPage{base: s.base(c, p.Line1), Property: p}
	for _, a := range all {
		line := applianceLine{ID: a.ID, Name: a.Values.ApplianceName(),
			Kind:   records.ApplianceKind.ChoiceLabel(a.Values.Choice(records.ApplianceKind)),
			Serial: a.Values.Text(records.ApplianceSerial), Retired: a.Retired}
		if a.NextDuty != nil {
			line.State, line.Due = a.NextDuty.StateOn(data.Today), a.NextDuty.Duty.Due
		}
		data.Appliances = append(data.Appliances, line)
	}
	return s.page(c, http.StatusOK, "property", data)
}

// contactPrefix tells the fields of the contact from those of the address.
const contactPrefix = "customer."

func propertyForm(action, button string, p records.PropertyEntry) inputForm {
	k := p.Contact
	return inputForm{Action: action, Button: button, Inputs: []*input{
		line("line1", "First line of the address", 100).must().auto("off").with(p.Line1),
		line("line2", "Second line", 100).auto("off").with(p.Line2),
		line("town", "Town", 60).must().auto("off").with(p.Town),
		line("postcode", "Postcode", 10).must().auto("off").with(p.Postcode),
		pick("nation", "Nation", records.Nations,
			"Choose").must().hint("It decides which duties and which emergency number apply.").chosen(string(p.Nation)),
		line(contactPrefix+"name", "Contact: name",
			80).auto("off").hint("The person to write to. All of the contact may be left blank for now.").with(k.Name),
		pick(contactPrefix+"tenure", "Relationship to the property", records.Tenures,
			"Choose").chosen(string(k.Tenure)),
		line(contactPrefix+"phone", "Telephone", 30).typed("tel").auto("off").with(k.Phone),
		line(contactPrefix+"email", "E-mail",
			120).typed("email").auto("off").hint("The issued record goes here.").with(k.Email),
		line(contactPrefix+"address", "Address, where it is another one",
			200).auto("off").hint("A landlord's must be on the check record.").with(k.Address),
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

func (s *Server) newPropertyPage(c echo.Context, status int, form inputForm, near []records.PropertyEntry) error {
	return s.page(c, status, "form", formPage{base: s.base(c, "New address"),
		Trail: navItem{Href: "/find", Text: "Find"}, Heading: "New address", Form: form, Near: near})
}

func (s *Server) newProperty(c echo.Context) error {
	return s.newPropertyPage(c, http.StatusOK, propertyForm("/properties", "Add the address", records.PropertyEntry{
		Property: records.Property{Postcode: c.QueryParam("postcode")}}), nil)
}

// addProperty shows what is on file at the postcode before it takes a second
// entry of the same first line.
func (s *Server) addProperty(c echo.Context) error {
	ctx := c.Request().Context()
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) {
			return propertyForm("/properties", "Add the address", records.PropertyEntry{}), nil
		},
		save: func(v url.Values) (string, error) {
			p := propertyOf(v)
			if err := checkProperty(p); err != nil {
				return "", err
			}
			near, err := s.store.Register.PropertiesIn(ctx, p.Postcode)
			if err != nil {
				return "", err
			}
			for _, n := range near {
				if strings.EqualFold(n.Line1, p.Line1) && strings.EqualFold(n.Line2, p.Line2) {
					return "", &records.Error{Kind: records.Conflict, Field: "line1",
						Label: "First line of the address", Msg: "this address is on file already"}
				}
			}
			p, err = s.store.Register.CreateProperty(ctx, actorOf(c), p)
			return "/properties/" + p.ID, err
		},
		said: "Added. Now add the appliance.",
		show: func(status int, f inputForm) error {
			near, _ := s.store.Register.PropertiesIn(ctx, c.FormValue("postcode"))
			return s.newPropertyPage(c, status, f, near)
		},
	})
}

func (s *Server) editPropertyPage(c echo.Context, status int, id string, form inputForm) error {
	return s.page(c, status, "form", formPage{base: s.base(c, "Change an address"),
		Trail:   navItem{Href: "/properties/" + id, Text: "Back to the address"},
		Heading: "Change address or contact", Intro: "Issued records keep what they were issued with.", Form: form})
}

func (s *Server) editProperty(c echo.Context) error {
	p, err := s.store.Register.Property(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return s.editPropertyPage(c, http.StatusOK, p.ID, propertyForm("/properties/"+p.ID, "Save", p))
}

func (s *Server) saveProperty(c echo.Context) error {
	id := c.Param("id")
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) {
			return propertyForm("/properties/"+id, "Save", records.PropertyEntry{}), nil
		},
		save: func(v url.Values) (string, error) {
			p := propertyOf(v)
			p.ID = id
			err := checkProperty(p)
			if err == nil {
				_, err = s.store.Register.UpdateProperty(c.Request().Context(), actorOf(c), p)
			}
			return "/properties/" + id, err
		},
		said: "Saved.",
		show: func(status int, f inputForm) error { return s.editPropertyPage(c, status, id, f) },
	})
}
