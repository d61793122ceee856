package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// webhooksPage is who is told what happens, and the form to add one.
type webhooksPage struct {
	base
	Hooks              []hookLine
	URL                string
	Events             []optionForm
	URLError, EventErr string
	Error              string
	Secret, SecretOf   string // shown once, after it was made
}

type hookLine struct {
	records.Webhook
	Made, Ended string
}

var eventWords = map[records.WebhookEvent]string{
	records.EventRecordIssued: "a record is issued", records.EventRecordAmended: "a record is amended",
	records.EventRecordWithdrawn: "a record is withdrawn", records.EventDutyLate: "a duty becomes late",
}

func (s *Server) webhooks(c echo.Context) error {
	return s.webhooksPage(c, http.StatusOK, webhooksPage{})
}

func (s *Server) webhooksPage(c echo.Context, status int, data webhooksPage) error {
	hooks, err := s.store.Webhooks.List(c.Request().Context())
	if err != nil {
		return err
	}
	data.base = s.deskBase(c, "Webhooks")
	for _, h := range hooks {
		data.Hooks = append(data.Hooks, hookLine{h, s.clock(h.CreatedAt), s.clock(h.EndedAt)})
	}
	if data.Events == nil {
		data.Events = eventOptions(records.WebhookEvents)
	}
	return s.page(c, status, "webhooks", data)
}

func eventOptions(chosen []records.WebhookEvent) []optionForm {
	var out []optionForm
	for _, e := range records.WebhookEvents {
		o := optionForm{Code: string(e), Label: upper(eventWords[e])}
		for _, x := range chosen {
			o.Chosen = o.Chosen || x == e
		}
		out = append(out, o)
	}
	return out
}

// addWebhook shows the secret in the answer itself, and never again.
func (s *Server) addWebhook(c echo.Context) error {
	form, err := c.FormParams()
	if err != nil {
		return err
	}
	var events []records.WebhookEvent
	for _, e := range form["event"] {
		events = append(events, records.WebhookEvent(e))
	}
	w, err := s.store.Webhooks.Add(c.Request().Context(), actorOf(c), form.Get("url"), events, s.book.Today(),
		s.loopbackHooks)
	if err == nil {
		return s.webhooksPage(c, http.StatusOK, webhooksPage{Secret: w.Secret, SecretOf: w.URL})
	}
	kept := inputForm{Inputs: []*input{line("url", "Address", 500), line("events", "Events", 0)}}
	if hard := kept.refuse(err); hard != nil {
		return hard
	}
	return s.webhooksPage(c, statusOf[records.KindOf(err)], webhooksPage{URL: form.Get("url"),
		Events:   eventOptions(append(events, "")),
		URLError: kept.named("url").Error, EventErr: kept.named("events").Error, Error: kept.Error})
}

func (s *Server) endWebhook(c echo.Context) error {
	if err := s.store.Webhooks.End(c.Request().Context(), actorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.say(c, "The webhook has ended. Nothing more is sent to that address.")
	return see(c, "/webhooks")
}

// deliveriesPage is what one webhook was told.
type deliveriesPage struct {
	base
	Hook        hookLine
	Rows        []deliveryLine
	First, Next string
}

type deliveryLine struct {
	ID, Event, EventID, When, Next, Problem, Words string
	Shape                                          records.DutyState
	Status, Tries                                  int
	MayResend                                      bool
}

var deliveryShapes = map[records.WebhookDeliveryState]records.DutyState{
	records.WebhookDue: records.Ahead, records.WebhookSending: records.Near, records.WebhookDelivered: records.Done,
	records.WebhookFailed: records.Late,
}

func (s *Server) webhook(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	hook, err := s.store.Webhooks.ByID(ctx, id)
	if err != nil {
		return err
	}
	list, next, err := s.store.Webhooks.Deliveries(ctx, id, c.QueryParam("after"), 50)
	if err != nil {
		return err
	}
	data := deliveriesPage{base: s.deskBase(c, "Webhook"), Hook: hookLine{hook, s.clock(hook.CreatedAt),
		s.clock(hook.EndedAt)}}
	for _, d := range list {
		l := deliveryLine{ID: d.ID, Event: upper(eventWords[d.Event]), EventID: d.EventID, When: s.clock(d.UpdatedAt),
			Problem: d.Problem, Words: string(d.State),
			Shape: deliveryShapes[d.State], Status: d.Status, Tries: d.Attempts,
			MayResend: hook.EndedAt.IsZero() && d.State != records.WebhookSending}
		if d.State == records.WebhookDue && d.Attempts > 0 {
			l.Next = s.clock(d.NextAt)
		}
		data.Rows = append(data.Rows, l)
	}
	if c.QueryParam("after") != "" {
		data.First = "/webhooks/" + id
	}
	if next != "" {
		data.Next = "/webhooks/" + id + "?" + url.Values{"after": {next}}.Encode()
	}
	return s.page(c, http.StatusOK, "webhooks-told", data)
}

func (s *Server) resendEvent(c echo.Context) error {
	if err := s.store.Webhooks.Resend(c.Request().Context(), actorOf(c), c.Param("id"),
		c.Param("delivery")); err != nil {
		return err
	}
	s.say(c, "It is being sent again, with the same id.")
	return see(c, "/webhooks/"+c.Param("id"))
}
