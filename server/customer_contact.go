package server

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// detailsForm is how a customer has their details put right. It starts from
// the record that they hold: who is on file today may be somebody else.
func detailsForm(token string, k records.Contact) web.Form {
	return web.Form{Action: "/r/" + token + "/contact#contact", Button: "Send the change", Inputs: []*web.Input{
		web.TextInput("name", "Name", 80).Must().Autocomplete("name").With(k.Name),
		web.TextInput("phone", "Telephone", 30).Typed("tel").Autocomplete("tel").With(k.Phone),
		web.TextInput("email", "E-mail", 120).Typed("email").Autocomplete("email").With(k.Email),
	}}
}

// AskContact keeps what a customer wants changed until the office decides.
func (s CustomerRecord) AskContact(c echo.Context) error {
	_, row, err := s.openLink(c)
	if err != nil {
		return s.showEnded(c, err)
	}
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	_, err = s.Store.Requests.AskContact(c.Request().Context(), row.ID, posted.Get("name"), posted.Get("phone"),
		posted.Get("email"))
	if err != nil {
		form := detailsForm(c.Param("token"), records.Contact{})
		form.Refill(posted)
		if other := form.Refuse(err); other != nil {
			return other
		}
		return s.show(c, http.StatusUnprocessableEntity, customerForms{contact: &form})
	}
	return web.Redirect(c, "/r/"+c.Param("token")+"?asked=contact#contact")
}

// wishLine is a customer's wish on the office's page of the day.
type wishLine struct {
	ID, Record, Number, Address, IssuedTo, When string
	Changes                                     []wishChange
	Outdated, Other                             bool // see the page
}

type wishChange struct{ What, Was, Wanted string }

func (s Home) changes(c echo.Context) ([]wishLine, error) {
	all, err := s.Store.Requests.Contacts(c.Request().Context())
	if err != nil {
		return nil, err
	}
	var out []wishLine
	for _, q := range all {
		l := wishLine{ID: q.ID, Record: q.Record.ID, Number: q.Record.Number, Address: q.Record.Address,
			IssuedTo: q.Issued.Name, When: s.Clock(q.At),
			Outdated: q.Outdated, Other: q.Issued.Name != q.Was.Name}
		for _, ch := range []wishChange{{"Name", q.Was.Name, q.Wanted.Name},
			{"Telephone", q.Was.Phone, q.Wanted.Phone}, {"E-mail", q.Was.Email, q.Wanted.Email}} {
			if ch.Was != ch.Wanted {
				l.Changes = append(l.Changes, ch)
			}
		}
		out = append(out, l)
	}
	return out, nil
}

func (s Requests) ConfirmContact(c echo.Context) error {
	if err := s.Store.Requests.ConfirmContact(c.Request().Context(), web.ActorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.Flash(c, "Changed. Messages will use the new details from now on.")
	return web.Redirect(c, "/")
}

func (s Requests) RefuseContact(c echo.Context) error {
	if err := s.Store.Requests.RefuseContact(c.Request().Context(), web.ActorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.Flash(c, "Refused. Nothing was changed.")
	return web.Redirect(c, "/")
}
