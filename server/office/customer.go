package office

import (
	"context"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Customers is the pages of a customer.
type Customers struct{ *web.Kit }

// customerViewPage is everything of one customer: all their properties, what is
// due, what was said, what is booked.
type customerViewPage struct {
	web.Base
	ID, Heading string
	Customer    store.Customer
	Stopped     string
	Lines       []chaseLine
	Appliances  []web.ApplianceLine
	Log         []customerLog
	Bookings    []bookingLine
	Form        web.Form
	FormOpen    bool
}

type customerLog struct {
	web.ContactLine
	ApplianceID, Appliance string
}

func (cu Customers) Show(c echo.Context) error {
	return cu.show(c, web.OK, nil)
}

func (cu Customers) show(c echo.Context, status int, form *web.Form) error {
	k, err := cu.Store.Chase.Customer(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	data := customerViewPage{Base: cu.WideBase(c, k.Contact.Name), ID: c.Param("id"), Heading: k.Contact.Name,
		Customer: k, FormOpen: form != nil}
	if data.Heading == "" {
		data.Heading = k.Properties[0].OneLine()
		data.Title = data.Heading
	}
	if k.Stopped != nil {
		data.Stopped = cu.Day(k.Stopped.At) + ", " + k.Stopped.How + " (" + k.Stopped.By + ")"
	}
	for _, r := range k.Duties {
		data.Lines = append(data.Lines, chaseLineOf(cu.Kit, r, data.Today))
	}
	data.Appliances = appliancesOf(k)
	for _, l := range k.Log {
		data.Log = append(data.Log, customerLog{web.ContactLine{How: l.How, Note: l.Note, When: cu.Clock(l.At),
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
	return cu.Page(c, status, "chase-customer", data)
}

func appliancesOf(k store.Customer) []web.ApplianceLine {
	var out []web.ApplianceLine
	for _, a := range k.Appliances {
		out = append(out, web.ApplianceLine{ID: a.ID, Name: a.Values.ApplianceName(), Address: a.Property.OneLine(),
			Serial: a.Values.Text(records.ApplianceSerial)})
	}
	return out
}

// customerLogForm logs a contact with the customer about one appliance, or
// about all of them.
func customerLogForm(id string, appliances []web.ApplianceLine) web.Form {
	f := web.ContactForm("")
	f.Action = "/customers/" + id + "/contacts"
	about := &web.Input{Name: "appliance", Label: "About", Type: "select",
		Options: []web.Option{{Label: "All their appliances"}}}
	for _, a := range appliances {
		about.Options = append(about.Options, web.Option{Code: a.ID, Label: a.Name + ", " + a.Address})
	}
	f.Inputs = append([]*web.Input{about}, f.Inputs...)
	return f
}

func (cu Customers) AddContact(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	k, err := cu.Store.Chase.Customer(ctx, id)
	if err != nil {
		return err
	}
	return cu.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return customerLogForm(id, appliancesOf(k)), nil },
		Save: func(v url.Values) (string, error) {
			next, err := web.DateOf(v, "next", "Try again on")
			if err != nil {
				return "", err
			}
			return "/customers/" + id, cu.App.LogContact(ctx, web.Person(c), id, v.Get("appliance"), v.Get("how"),
				v.Get("note"), next)
		},
		Said: "Added to the log.",
		Show: func(status int, f web.Form) error { return cu.show(c, status, &f) },
	})
}

func (cu Customers) Stop(c echo.Context) error {
	return cu.reminders(c, cu.Store.Chase.StopReminders, "stopped")
}

func (cu Customers) Resume(c echo.Context) error {
	return cu.reminders(c, cu.Store.Chase.ResumeReminders, "resumed")
}

// reminders stops or resumes the reminders to a customer's address.
func (cu Customers) reminders(c echo.Context,
	change func(ctx context.Context, actor records.Actor, email, how string) error, done string) error {
	ctx := c.Request().Context()
	k, err := cu.Store.Register.Property(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	err = change(ctx, web.ActorOf(c), k.Contact.Email, c.FormValue("how"))
	return cu.Done(c, err, "Reminders to "+k.Contact.Email+" have been "+done+".", "/customers/"+c.Param("id"))
}
