package owner

import (
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Webhooks is the webhooks and what each was told.
type Webhooks struct {
	*web.Kit
	Loopback bool // addresses of this machine are allowed
}

// webhooksPage is who is told what happens, and the form to add one.
type webhooksPage struct {
	web.Base
	Hooks              []hookLine
	URL                string
	Events             []web.Option
	URLError, EventErr string
	Error              string
	Secret, SecretOf   string // shown once, after it was made
}

type hookLine struct {
	records.Webhook
	Made, Ended string
}

// When lists what the webhook is told of.
func (h hookLine) When() string {
	var out []string
	for _, e := range h.Events {
		out = append(out, string(e))
	}
	return strings.Join(out, ", ")
}

var eventWords = map[records.WebhookEvent]string{
	records.EventRecordIssued: "a record is issued", records.EventRecordAmended: "a record is amended",
	records.EventRecordWithdrawn: "a record is withdrawn", records.EventDutyLate: "a duty becomes late",
}

func (we Webhooks) List(c echo.Context) error {
	return we.showAll(c, web.OK, webhooksPage{})
}

func (we Webhooks) showAll(c echo.Context, status int, data webhooksPage) error {
	hooks, err := we.Store.Webhooks.List(c.Request().Context())
	if err != nil {
		return err
	}
	data.Base = we.WideBase(c, "Webhooks")
	for _, h := range hooks {
		data.Hooks = append(data.Hooks, hookLine{h, we.Clock(h.CreatedAt), we.Clock(h.EndedAt)})
	}
	if data.Events == nil {
		data.Events = eventOptions(records.WebhookEvents)
	}
	return we.Page(c, status, "webhooks", data)
}

func eventOptions(chosen []records.WebhookEvent) []web.Option {
	var out []web.Option
	for _, e := range records.WebhookEvents {
		o := web.Option{Code: string(e), Label: records.UpperFirst(eventWords[e])}
		for _, x := range chosen {
			o.Chosen = o.Chosen || x == e
		}
		out = append(out, o)
	}
	return out
}

// Add shows the secret in the answer itself, and never again.
func (we Webhooks) Add(c echo.Context) error {
	form, err := c.FormParams()
	if err != nil {
		return err
	}
	var events []records.WebhookEvent
	for _, e := range form["event"] {
		events = append(events, records.WebhookEvent(e))
	}
	w, err := we.Store.Webhooks.Add(c.Request().Context(), web.ActorOf(c), form.Get("url"), events, we.App.Today(),
		we.Loopback)
	if err == nil {
		return we.showAll(c, web.OK, webhooksPage{Secret: w.Secret, SecretOf: w.URL})
	}
	kept := web.Form{Inputs: []*web.Input{web.TextInput("url", "Address", 500), web.TextInput("events", "Events", 0)}}
	if hard := kept.Refuse(err); hard != nil {
		return hard
	}
	return we.showAll(c, web.StatusOf(records.KindOf(err)), webhooksPage{URL: form.Get("url"),
		Events:   eventOptions(append(events, "")),
		URLError: kept.Named("url").Error, EventErr: kept.Named("events").Error, Error: kept.Error})
}

func (we Webhooks) End(c echo.Context) error {
	err := we.Store.Webhooks.End(c.Request().Context(), web.ActorOf(c), c.Param("id"))
	return we.Done(c, err, "The webhook has ended. Nothing more is sent to that address.", "/webhooks")
}

// deliveriesPage is what one webhook was told.
type deliveriesPage struct {
	web.Base
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

func (we Webhooks) Show(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	hook, err := we.Store.Webhooks.ByID(ctx, id)
	if err != nil {
		return err
	}
	list, next, err := we.Store.Webhooks.Deliveries(ctx, id, c.QueryParam("after"), 50)
	if err != nil {
		return err
	}
	data := deliveriesPage{Base: we.WideBase(c, "Webhook"), Hook: hookLine{hook, we.Clock(hook.CreatedAt),
		we.Clock(hook.EndedAt)}}
	for _, d := range list {
		l := deliveryLine{ID: d.ID, Event: records.UpperFirst(eventWords[d.Event]), EventID: d.EventID,
			When:    we.Clock(d.UpdatedAt),
			Problem: d.Problem, Words: string(d.State),
			Shape: deliveryShapes[d.State], Status: d.Status, Tries: d.Attempts,
			MayResend: hook.EndedAt.IsZero() && d.State != records.WebhookSending}
		if d.State == records.WebhookDue && d.Attempts > 0 {
			l.Next = we.Clock(d.NextAt)
		}
		data.Rows = append(data.Rows, l)
	}
	if c.QueryParam("after") != "" {
		data.First = "/webhooks/" + id
	}
	if next != "" {
		data.Next = "/webhooks/" + id + "?" + url.Values{"after": {next}}.Encode()
	}
	return we.Page(c, web.OK, "webhooks-told", data)
}

func (we Webhooks) Resend(c echo.Context) error {
	err := we.Store.Webhooks.Resend(c.Request().Context(), web.ActorOf(c), c.Param("id"), c.Param("delivery"))
	return we.Done(c, err, "It is being sent again, with the same id.", "/webhooks/"+c.Param("id"))
}
