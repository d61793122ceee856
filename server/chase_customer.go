package server

import (
	"net/http"
	"net/url"
	"slices"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// customerViewPage is everything of one customer: all their properties, what is
// due, what was said, what is booked.
type customerViewPage struct {
	base
	ID, Heading string
	Customer    store.Customer
	Stopped     string
	Lines       []chaseLine
	Appliances  []applianceLine
	Log         []customerLog
	Bookings    []bookingLine
	Form        inputForm
	FormOpen    bool
}

type customerLog struct {
	contactLine
	ApplianceID, Appliance string
}

func (s *Server) customerView(c echo.Context) error {
	return s.customerViewPage(c, http.StatusOK, nil)
}

func (s *Server) customerViewPage(c echo.Context, status int, form *inputForm) error {
	k, err := s.store.Chase.Customer(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	data := customerViewPage{base: s.deskBase(c, k.Contact.Name), ID: c.Param("id"), Heading: k.Contact.Name,
		Customer: k, FormOpen: form != nil}
	if data.Heading == "" {
		data.Heading = k.Properties[0].OneLine()
		data.Title = data.Heading
	}
	if k.Stopped != nil {
		data.Stopped = s.day(k.Stopped.At) + ", " + k.Stopped.How + " (" + k.Stopped.By + ")"
	}
	for _, r := range k.Duties {
		data.Lines = append(data.Lines, s.chaseLineOf(r, data.Today))
	}
	for _, a := range k.Appliances {
		data.Appliances = append(data.Appliances, applianceLine{ID: a.ID, Name: a.Values.ApplianceName(),
			Address: a.Property.OneLine(), Serial: a.Values.Text(records.ApplianceSerial)})
	}
	for _, l := range k.Log {
		data.Log = append(data.Log, customerLog{contactLine{How: l.How, Note: l.Note, When: s.clock(l.At),
			Who: l.By.Name, Next: l.NextAction},
			l.ApplianceID, l.Appliance})
	}
	for _, b := range k.Bookings {
		data.Bookings = append(data.Bookings, bookingLineOf(b))
	}
	data.Form = customerLogForm(data.ID, data.Appliances)
	if form != nil {
		data.Form = *form
	}
	return s.page(c, status, "chase-customer", data)
}

// customerLogForm logs a contact with the customer about one appliance, or
// about all of them.
func customerLogForm(id string, appliances []applianceLine) inputForm {
	f := contactForm("")
	f.Action = "/customers/" + id + "/contacts"
	about := &input{Name: "appliance", Label: "About", Type: "select",
		Options: []optionForm{{Label: "All their appliances"}}}
	for _, a := range appliances {
		about.Options = append(about.Options, optionForm{Code: a.ID, Label: a.Name + ", " + a.Address})
	}
	f.Inputs = append([]*input{about}, f.Inputs...)
	return f
}

func (s *Server) addCustomerContact(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	k, err := s.store.Chase.Customer(ctx, id)
	if err != nil {
		return err
	}
	var lines []applianceLine
	var ids []string
	for _, a := range k.Appliances {
		ids = append(ids, a.ID)
		lines = append(lines, applianceLine{ID: a.ID, Name: a.Values.ApplianceName(), Address: a.Property.OneLine()})
	}
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return customerLogForm(id, lines), nil },
		save: func(v url.Values) (string, error) {
			next, err := dateOf(v, "next", "Try again on")
			if err != nil {
				return "", err
			}
			about := ids
			if one := v.Get("appliance"); one != "" {
				if !slices.Contains(ids, one) {
					return "", &records.Error{Kind: records.Invalid, Field: "appliance", Label: "About",
						Want: "an appliance of this customer"}
				}
				about = []string{one}
			}
			if len(about) == 0 {
				return "", records.Fail(records.Conflict, "this customer has no appliance in use")
			}
			for _, one := range about {
				if _, err := s.store.Chase.AddContactAttempt(ctx, actorOf(c), one, v.Get("how"), v.Get("note"),
					next); err != nil {
					return "", err
				}
			}
			return "/customers/" + id, nil
		},
		said: "Added to the log.",
		show: func(status int, f inputForm) error { return s.customerViewPage(c, status, &f) },
	})
}

func (s *Server) stopCustomer(c echo.Context) error {
	k, err := s.store.Register.Property(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	if err := s.store.Chase.StopReminders(c.Request().Context(), actorOf(c), k.Contact.Email,
		c.FormValue("how")); err != nil {
		return err
	}
	s.say(c, "Reminders to "+k.Contact.Email+" have been stopped.")
	return see(c, "/customers/"+c.Param("id"))
}

func (s *Server) resumeCustomer(c echo.Context) error {
	k, err := s.store.Register.Property(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	if err := s.store.Chase.ResumeReminders(c.Request().Context(), actorOf(c), k.Contact.Email,
		c.FormValue("how")); err != nil {
		return err
	}
	s.say(c, "Reminders to "+k.Contact.Email+" have been resumed.")
	return see(c, "/customers/"+c.Param("id"))
}
