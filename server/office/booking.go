package office

import (
	"cmp"
	"context"
	"net/url"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Bookings is booking visits.
type Bookings struct{ *web.Kit }

// bookingPage books a visit, or shows one to be moved or cancelled.
type bookingPage struct {
	web.Base
	Appliance   store.Appliance
	ApplianceID string
	Request     string // what the customer asked for
	RequestID   string
	Duties      []dutyChoice
	Form        web.Form
	Booking     *records.Booking // nil for a new one
	State       records.DutyState
	Move        web.Form
	MayChange   bool
	Others      []bookingLine
}

type dutyChoice struct {
	ID, Label string
	Due       records.Date
	State     records.DutyState
	Chosen    bool
	Booked    string // the visit that is booked for it already
}

// bookingLine is a booking in lists.
type bookingLine struct {
	ID, When, Engineer, Appliance, ApplianceID, Address, Why string
	State                                                    records.BookingState
	Shape                                                    records.DutyState
}

func bookingLineOf(b records.Booking) bookingLine {
	return bookingLine{ID: b.ID, When: b.Appointment.String(), Engineer: b.Engineer, Appliance: b.Appliance,
		ApplianceID: b.ApplianceID, Address: b.Property.OneLine(), Why: b.Why,
		State: b.State, Shape: web.BookingShapes[b.State]}
}

// form asks who goes and when. Engineers are those who may visit.
func (bo Bookings) form(ctx context.Context, action, button string) (web.Form, error) {
	people, err := bo.Store.People.List(ctx)
	if err != nil {
		return web.Form{}, err
	}
	who := &web.Input{Name: "engineer", Label: "Engineer", Type: "select", Required: true,
		Options: []web.Option{{Label: "Choose"}}}
	for _, p := range people {
		if p.Active && p.Role != records.RoleOffice {
			who.Options = append(who.Options, web.Option{Code: p.ID, Label: p.Name})
		}
	}
	return web.Form{Action: action, Button: button, Inputs: []*web.Input{
		web.DateInput("on", "Day").Must(), who,
		web.TextInput("from", "Arrives from", 5).Typed("time").
			Hinted("Leave both times blank for any time of the day."),
		web.TextInput("until", "and until", 5).Typed("time"),
	}}, nil
}

func newBookingForm(f web.Form) web.Form {
	f.Inputs = append(f.Inputs, &web.Input{Name: "note", Label: "For the engineer", Type: "textarea", Max: 1000,
		Hint: "Access, parking, what else to bring."})
	return f
}

// New begins from an appliance, or from a customer's request.
func (bo Bookings) New(c echo.Context) error {
	v := c.QueryParams()
	form, err := bo.form(c.Request().Context(), "/bookings", "Book the visit")
	if err != nil {
		return err
	}
	form = newBookingForm(form)
	if on, err := records.ParseDate(v.Get("on")); err == nil {
		form.Named("on").Set(on.String())
	}
	form.Named("engineer").Set(v.Get("engineer"))
	return bo.showNew(c, web.OK, v.Get("appliance"), v.Get("request"), v["duty"], form)
}

func (bo Bookings) showNew(c echo.Context, status int, applianceID, requestID string, chosen []string,
	form web.Form) error {
	ctx := c.Request().Context()
	data := bookingPage{Base: bo.WideBase(c, "Book a visit"), RequestID: requestID, Form: form, MayChange: true}
	if requestID != "" {
		request, err := bo.App.VisitRequest(ctx, requestID)
		if err != nil {
			return err
		}
		data.Request, applianceID = request.Text, cmp.Or(applianceID, request.Record.ApplianceID)
	}
	var err error
	if data.Appliance, err = bo.Store.Register.Appliance(ctx, applianceID); err != nil {
		return err
	}
	data.ApplianceID = applianceID
	if data.Duties, err = bo.dutyChoices(ctx, applianceID, chosen); err != nil {
		return err
	}
	if on, err := records.ParseDate(form.Named("on").Value); err == nil {
		if data.Others, err = bo.othersAround(ctx, on, ""); err != nil {
			return err
		}
	}
	return bo.Page(c, status, "booking", data)
}

// dutyChoices are the open duties of the appliance that a visit may be for.
// With none chosen, all that are late or near and not booked are.
func (bo Bookings) dutyChoices(ctx context.Context, applianceID string, chosen []string) ([]dutyChoice, error) {
	all, err := bo.App.BookableDuties(ctx, applianceID)
	if err != nil {
		return nil, err
	}
	var out []dutyChoice
	for _, d := range all {
		state := d.StateOn(bo.App.Today())
		pre := slices.Contains(chosen, d.ID) || len(chosen) == 0 && state != records.Ahead && d.Booked == ""
		out = append(out, dutyChoice{ID: d.ID, Label: records.UpperFirst(string(d.Duty.Kind)), Due: d.Duty.Due,
			State: state, Chosen: pre, Booked: d.Booked})
	}
	return out, nil
}

// othersAround lists what else is booked on the day.
func (bo Bookings) othersAround(ctx context.Context, on records.Date, except string) ([]bookingLine, error) {
	list, err := bo.Store.Bookings.Between(ctx, "", on, on)
	var out []bookingLine
	for _, b := range list {
		if b.ID != except && b.State != records.BookingCancelled {
			out = append(out, bookingLineOf(b))
		}
	}
	return out, err
}

// visitTime reads day and window of a form.
func visitTime(v url.Values) (records.Appointment, error) {
	on, err := web.DateOf(v, "on", "Day")
	return records.Appointment{On: on, From: strings.TrimSpace(v.Get("from")),
		Until: strings.TrimSpace(v.Get("until"))}, err
}

func (bo Bookings) Add(c echo.Context) error {
	ctx := c.Request().Context()
	return bo.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) {
			f, err := bo.form(ctx, "/bookings", "Book the visit")
			return newBookingForm(f), err
		},
		Save: func(v url.Values) (string, error) {
			when, err := visitTime(v)
			if err != nil {
				return "", err
			}
			b, err := bo.Store.Bookings.Add(ctx, web.ActorOf(c), records.NewBooking{ApplianceID: v.Get("appliance"),
				DutyIDs: v["duty"], EngineerID: v.Get("engineer"),
				Appointment: when, Note: v.Get("note"), RequestID: v.Get("request"), Today: bo.App.Today()})
			return "/bookings/" + b.ID, err
		},
		Said: "Booked.",
		Show: func(status int, f web.Form) error {
			return bo.showNew(c, status, c.FormValue("appliance"), c.FormValue("request"),
				c.Request().PostForm["duty"], f)
		},
	})
}

func (bo Bookings) Show(c echo.Context) error {
	return bo.show(c, web.OK, nil)
}

func (bo Bookings) show(c echo.Context, status int, refused *web.Form) error {
	ctx := c.Request().Context()
	b, err := bo.Store.Bookings.ByID(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	data := bookingPage{Base: bo.Base(c, "Visit of "+b.On.Long()), Booking: &b, State: web.BookingShapes[b.State],
		MayChange: web.Office.Allows(web.Person(c).Role) && b.State == records.BookingOpen}
	if data.MayChange {
		if data.Move, err = bo.moveForm(ctx, b.ID); err != nil {
			return err
		}
		for name, value := range map[string]string{"on": b.On.String(), "engineer": b.EngineerID, "from": b.From,
			"until": b.Until} {
			data.Move.Named(name).Set(value)
		}
		if data.Others, err = bo.othersAround(ctx, b.On, b.ID); err != nil {
			return err
		}
	}
	if refused != nil {
		data.Move = *refused
	}
	return bo.Page(c, status, "booking", data)
}

func (bo Bookings) moveForm(ctx context.Context, id string) (web.Form, error) {
	f, err := bo.form(ctx, "/bookings/"+id+"/move", "Move the visit")
	f.Inputs = append(f.Inputs, web.TextInput("why", "Why", 400).Must().Autocomplete("off"))
	return f, err
}

func (bo Bookings) Move(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	return bo.SaveForm(c, web.SavedForm{
		Form: func() (web.Form, error) { return bo.moveForm(ctx, id) },
		Save: func(v url.Values) (string, error) {
			when, err := visitTime(v)
			if err == nil {
				_, err = bo.Store.Bookings.Move(ctx, web.ActorOf(c), id, when, v.Get("engineer"), v.Get("why"),
					bo.App.Today())
			}
			return "/bookings/" + id, err
		},
		Said: "The visit has been moved. Let the customer know.",
		Show: func(status int, f web.Form) error { return bo.show(c, status, &f) },
	})
}

func (bo Bookings) Cancel(c echo.Context) error {
	err := bo.Store.Bookings.Cancel(c.Request().Context(), web.ActorOf(c), c.Param("id"), c.FormValue("why"))
	return bo.Done(c, err, "The visit has been cancelled. What it was for is back on the work list.",
		"/bookings/"+c.Param("id"))
}
