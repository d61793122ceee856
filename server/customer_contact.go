package server

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// detailsForm is how a customer has their details put right. It starts from
// the record that they hold: who is on file today may be somebody else.
func detailsForm(token string, k records.Contact) inputForm {
	return inputForm{Action: "/r/" + token + "/contact#contact", Button: "Send the change", Inputs: []*input{
		line("name", "Name", 80).must().auto("name").with(k.Name),
		line("phone", "Telephone", 30).typed("tel").auto("tel").with(k.Phone),
		line("email", "E-mail", 120).typed("email").auto("email").with(k.Email),
	}}
}

// askContact keeps what a customer wants changed until the office decides.
func (s *Server) askContact(c echo.Context) error {
	_, row, err := s.openLink(c)
	if err != nil {
		return s.endedPage(c, err)
	}
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	_, err = s.store.Requests.AskContact(c.Request().Context(), row.ID, posted.Get("name"), posted.Get("phone"),
		posted.Get("email"))
	if err != nil {
		form := detailsForm(c.Param("token"), records.Contact{})
		form.refill(posted)
		if other := form.refuse(err); other != nil {
			return other
		}
		return s.customerPage(c, http.StatusUnprocessableEntity, customerForms{contact: &form})
	}
	return see(c, "/r/"+c.Param("token")+"?asked=contact#contact")
}

// wishLine is a customer's wish on the office's page of the day.
type wishLine struct {
	ID, Record, Number, Address, IssuedTo, When string
	Changes                                     []wishChange
	Outdated, Other                             bool // see the page
}

type wishChange struct{ What, Was, Wanted string }

func (s *Server) wishLines(c echo.Context) ([]wishLine, error) {
	all, err := s.store.Requests.Contacts(c.Request().Context())
	if err != nil {
		return nil, err
	}
	var out []wishLine
	for _, q := range all {
		l := wishLine{ID: q.ID, Record: q.Record.ID, Number: q.Record.Number, Address: q.Record.Address,
			IssuedTo: q.Issued.Name, When: s.clock(q.At),
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

func (s *Server) confirmContact(c echo.Context) error {
	if err := s.store.Requests.ConfirmContact(c.Request().Context(), actorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.say(c, "Changed. Messages will use the new details from now on.")
	return see(c, "/")
}

func (s *Server) refuseContact(c echo.Context) error {
	if err := s.store.Requests.RefuseContact(c.Request().Context(), actorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.say(c, "Refused. Nothing was changed.")
	return see(c, "/")
}
