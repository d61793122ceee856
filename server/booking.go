package server

import (
	"cmp"
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// bookingPage books a visit, or shows one to be moved or cancelled.
type bookingPage struct {
	base
	Appliance   store.Appliance
	ApplianceID string
	Request     string // what the customer asked for
	RequestID   string
	Duties      []dutyChoice
	Form        inputForm
	Booking     *records.Booking // nil for a new one
	State       records.DutyState
	Move        inputForm
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

var bookingShapes = map[records.BookingState]records.DutyState{records.BookingOpen: records.Ahead,
	records.BookingDone:      records.Done,
	records.BookingCancelled: records.Lifted}

func bookingLineOf(b records.Booking) bookingLine {
	return bookingLine{ID: b.ID, When: b.Appointment.String(), Engineer: b.Engineer, Appliance: b.Appliance,
		ApplianceID: b.ApplianceID, Address: b.Property.OneLine(), Why: b.Why,
		State: b.State, Shape: bookingShapes[b.State]}
}

// bookingForm asks for whom and when. Engineers are those who may visit.
func (s *Server) bookingForm(ctx context.Context, action, button string) (inputForm, error) {
	people, err := s.store.People.List(ctx)
	if err != nil {
		return inputForm{}, err
	}
	who := &input{Name: "engineer", Label: "Engineer", Type: "select", Required: true,
		Options: []optionForm{{Label: "Choose"}}}
	for _, p := range people {
		if p.Active && p.Role != records.RoleOffice {
			who.Options = append(who.Options, optionForm{Code: p.ID, Label: p.Name})
		}
	}
	return inputForm{Action: action, Button: button, Inputs: []*input{
		dateInput("on", "Day").must(), who,
		line("from", "Arrives from", 5).typed("time").hint("Leave both times blank for any time of the day."),
		line("until", "and until", 5).typed("time"),
	}}, nil
}

func newBookingForm(f inputForm) inputForm {
	f.Inputs = append(f.Inputs, &input{Name: "note", Label: "For the engineer", Type: "textarea", Max: 1000,
		Hint: "Access, parking, what else to bring."})
	return f
}

// newBooking begins from an appliance, or from a customer's request.
func (s *Server) newBooking(c echo.Context) error {
	v := c.QueryParams()
	form, err := s.bookingForm(c.Request().Context(), "/bookings", "Book the visit")
	if err != nil {
		return err
	}
	form = newBookingForm(form)
	if on, err := records.ParseDate(v.Get("on")); err == nil {
		form.named("on").set(on.String())
	}
	form.named("engineer").set(v.Get("engineer"))
	return s.newBookingPage(c, http.StatusOK, v.Get("appliance"), v.Get("request"), v["duty"], form)
}

func (s *Server) newBookingPage(c echo.Context, status int, applianceID, requestID string, chosen []string,
	form inputForm) error {
	ctx := c.Request().Context()
	data := bookingPage{base: s.deskBase(c, "Book a visit"), RequestID: requestID, Form: form, MayChange: true}
	if requestID != "" {
		requests, err := s.store.Requests.Visits(ctx)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(requests, func(r store.VisitRequest) bool { return r.ID == requestID })
		if i < 0 {
			return records.Fail(records.NotFound, "this request is not waiting any more")
		}
		data.Request, applianceID = requests[i].Text, cmp.Or(applianceID, requests[i].Record.ApplianceID)
	}
	var err error
	if data.Appliance, err = s.store.Register.Appliance(ctx, applianceID); err != nil {
		return err
	}
	data.ApplianceID = applianceID
	if data.Duties, err = s.dutyChoices(ctx, applianceID, chosen); err != nil {
		return err
	}
	if on, err := records.ParseDate(form.named("on").Value); err == nil {
		if data.Others, err = s.othersAround(ctx, on, ""); err != nil {
			return err
		}
	}
	return s.page(c, status, "booking", data)
}

// dutyChoices are the open duties of the appliance that a visit may be for.
// With none chosen, all that are late or near and not booked are.
func (s *Server) dutyChoices(ctx context.Context, applianceID string, chosen []string) ([]dutyChoice, error) {
	all, err := s.store.Duties.OfAppliance(ctx, applianceID)
	if err != nil {
		return nil, err
	}
	bookings, err := s.store.Bookings.OfAppliance(ctx, applianceID)
	if err != nil {
		return nil, err
	}
	booked := map[string]string{}
	for _, b := range bookings {
		for _, d := range b.Duties {
			if b.State == records.BookingOpen {
				booked[d.ID] = b.Appointment.String()
			}
		}
	}
	var out []dutyChoice
	for _, d := range all {
		if d.Closed() || !slices.Contains(visitKinds, d.Duty.Kind) {
			continue
		}
		state := d.StateOn(s.book.Today())
		pre := slices.Contains(chosen, d.ID) || len(chosen) == 0 && state != records.Ahead && booked[d.ID] == ""
		out = append(out, dutyChoice{ID: d.ID, Label: upper(string(d.Duty.Kind)), Due: d.Duty.Due, State: state,
			Chosen: pre, Booked: booked[d.ID]})
	}
	return out, nil
}

// visitKinds are the duties that somebody has to go there for.
var visitKinds = append(slices.Clone(store.ChaseKinds), records.InhibitorRecheck)

// othersAround lists what else is booked on the day.
func (s *Server) othersAround(ctx context.Context, on records.Date, except string) ([]bookingLine, error) {
	list, err := s.store.Bookings.Between(ctx, "", on, on)
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
	on, err := dateOf(v, "on", "Day")
	return records.Appointment{On: on, From: strings.TrimSpace(v.Get("from")),
		Until: strings.TrimSpace(v.Get("until"))}, err
}

func (s *Server) addBooking(c echo.Context) error {
	ctx := c.Request().Context()
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) {
			f, err := s.bookingForm(ctx, "/bookings", "Book the visit")
			return newBookingForm(f), err
		},
		save: func(v url.Values) (string, error) {
			when, err := visitTime(v)
			if err != nil {
				return "", err
			}
			b, err := s.store.Bookings.Add(ctx, actorOf(c), records.NewBooking{ApplianceID: v.Get("appliance"),
				DutyIDs: v["duty"], EngineerID: v.Get("engineer"),
				Appointment: when, Note: v.Get("note"), RequestID: v.Get("request"), Today: s.book.Today()})
			return "/bookings/" + b.ID, err
		},
		said: "Booked.",
		show: func(status int, f inputForm) error {
			return s.newBookingPage(c, status, c.FormValue("appliance"), c.FormValue("request"),
				c.Request().PostForm["duty"], f)
		},
	})
}

func (s *Server) booking(c echo.Context) error {
	return s.bookingPage(c, http.StatusOK, nil)
}

func (s *Server) bookingPage(c echo.Context, status int, refused *inputForm) error {
	ctx := c.Request().Context()
	b, err := s.store.Bookings.ByID(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	data := bookingPage{base: s.base(c, "Visit of "+b.On.Long()), Booking: &b, State: bookingShapes[b.State],
		MayChange: desk.allows(person(c).Role) && b.State == records.BookingOpen}
	if data.MayChange {
		if data.Move, err = s.moveForm(ctx, b.ID); err != nil {
			return err
		}
		for name, value := range map[string]string{"on": b.On.String(), "engineer": b.EngineerID, "from": b.From,
			"until": b.Until} {
			data.Move.named(name).set(value)
		}
		if data.Others, err = s.othersAround(ctx, b.On, b.ID); err != nil {
			return err
		}
	}
	if refused != nil {
		data.Move = *refused
	}
	return s.page(c, status, "booking", data)
}

func (s *Server) moveForm(ctx context.Context, id string) (inputForm, error) {
	f, err := s.bookingForm(ctx, "/bookings/"+id+"/move", "Move the visit")
	f.Inputs = append(f.Inputs, line("why", "Why", 400).must().auto("off"))
	return f, err
}

func (s *Server) moveBooking(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	return s.saveForm(c, savedForm{
		form: func() (inputForm, error) { return s.moveForm(ctx, id) },
		save: func(v url.Values) (string, error) {
			when, err := visitTime(v)
			if err == nil {
				_, err = s.store.Bookings.Move(ctx, actorOf(c), id, when, v.Get("engineer"), v.Get("why"),
					s.book.Today())
			}
			return "/bookings/" + id, err
		},
		said: "The visit has been moved. Let the customer know.",
		show: func(status int, f inputForm) error { return s.bookingPage(c, status, &f) },
	})
}

func (s *Server) cancelBooking(c echo.Context) error {
	if err := s.store.Bookings.Cancel(c.Request().Context(), actorOf(c), c.Param("id"),
		c.FormValue("why")); err != nil {
		return err
	}
	s.say(c, "The visit has been cancelled. What it was for is back on the work list.")
	return see(c, "/bookings/"+c.Param("id"))
}
