package server

import (
	"context"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// linkView is a private link as the record shows it.
type linkView struct {
	ID, For, Email, Made, State string
	Shape                       records.DutyState
	Usable                      bool
}

// deliveryForms is what the forms about delivery show: what was typed, what is
// wrong with it, and the address of a link just made, which is shown once.
type deliveryForms struct {
	Email, ResendError string
	resent             bool // Email is what was typed
	LinkError, NewLink string
	NewFor, NewEmail   string
}

// messagesShown is how many messages of a record are listed.
const messagesShown = 100

func (s Records) sent(ctx context.Context, recordID string) (messages []web.MessageView, links []linkView,
	err error) {
	all, _, err := s.Store.Outbox.Find(ctx, store.OutboxQuery{RecordID: recordID, Limit: messagesShown})
	if err != nil {
		return nil, nil, err
	}
	for _, m := range all {
		messages = append(messages, s.MessageViewOf(m))
	}
	given, err := s.Store.Links.OfRecord(ctx, recordID)
	for _, l := range given {
		links = append(links, s.linkView(l))
	}
	return messages, links, err
}

func (s Records) linkView(l store.Link) linkView {
	v := linkView{ID: l.ID, For: l.ForName, Email: l.ForEmail, Made: s.FullClock(l.CreatedAt),
		Usable: l.Usable(s.App.Now())}
	day := func(t time.Time) string { return records.DateOf(t.In(s.App.Zone)).Long() }
	switch {
	case v.Usable:
		v.State, v.Shape = "works until "+day(l.ExpiresAt), records.Ahead
	case !l.RevokedAt.IsZero():
		v.State, v.Shape = "ended "+day(l.RevokedAt)+": "+l.RevokedWhy, records.Lifted
	default:
		v.State, v.Shape = "ran out "+day(l.ExpiresAt), records.Done
	}
	return v
}

// Resend sends the letter about a record once more.
func (s Records) Resend(c echo.Context) error {
	to, err := s.App.Resend(c.Request().Context(), web.Person(c), c.Param("id"), c.FormValue("email"))
	if err != nil && records.KindOf(err) == records.Invalid {
		return s.refuse(c, err, issuedErrors{delivery: deliveryForms{Email: c.FormValue("email"),
			ResendError: err.Error(), resent: true}})
	}
	if err != nil {
		return err
	}
	s.Flash(c, "It is being sent to "+to.Email+".")
	return web.Redirect(c, "/records/"+c.Param("id")+"#delivery")
}

type messagePage struct {
	web.Base
	Message    web.MessageView
	Back       string
	Why, Error string
}

// Show shows one message: what was sent, when, and what became of it.
func (s Messages) Show(c echo.Context) error {
	m, err := s.Store.Outbox.Message(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, m, "", nil)
}

func (s Messages) show(c echo.Context, status int, m records.Message, why string, refused error) error {
	data := messagePage{Base: s.Base(c, m.Subject), Message: s.MessageViewOf(m), Back: "/messages", Why: why}
	if m.RecordID != "" {
		data.Back = "/records/" + m.RecordID + "#delivery"
	}
	if refused != nil {
		data.Error = refused.Error()
	}
	return s.Page(c, status, "message", data)
}

// Bounced notes that a message came back undelivered, and why.
func (s Messages) Bounced(c echo.Context) error {
	ctx, why := c.Request().Context(), c.FormValue("why")
	m, err := s.Store.Outbox.Message(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	err = s.Store.Outbox.Bounce(ctx, web.ActorOf(c), m.ID, why)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return s.show(c, web.StatusOf(kind), m, why, err)
	}
	if err != nil {
		return err
	}
	s.Flash(c, "Noted: the message to "+m.ToEmail+" came back.")
	return web.Redirect(c, "/messages/"+m.ID)
}

// AddBounce takes in a mail server's report that a person has as a file.
func (s Messages) AddBounce(c echo.Context) error {
	file, err := c.FormFile("file")
	if err != nil {
		return app.NotAReport("no file was chosen")
	}
	report, err := file.Open()
	if err != nil {
		return err
	}
	defer report.Close()
	b, m, err := s.App.TakeBounce(c.Request().Context(), web.ActorOf(c), report)
	if err != nil {
		return err
	}
	if b.Action != "failed" {
		s.Flash(c, "The report says “"+b.Action+"”: the message has not failed, and nothing was changed.")
	} else {
		s.Flash(c, "Noted: the message to "+m.ToEmail+" came back.")
	}
	return web.Redirect(c, "/messages/"+m.ID)
}

// AddLink makes a private link. Its address is on the page that answers and
// nowhere else.
func (s Records) AddLink(c echo.Context) error {
	ctx := c.Request().Context()
	row, err := s.Store.Records.Issued(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	entry := deliveryForms{NewFor: c.FormValue("for"), NewEmail: c.FormValue("email")}
	link, err := s.App.AddLink(ctx, web.Person(c), row.ID, entry.NewFor, entry.NewEmail, c.FormValue("days"))
	if err != nil && records.KindOf(err) == records.Invalid {
		entry.LinkError = err.Error()
		return s.refuse(c, err, issuedErrors{delivery: entry})
	}
	if err != nil {
		return err
	}
	r, err := s.Store.Records.Record(ctx, row.ID)
	if err != nil {
		return err
	}
	return s.showIssued(c, http.StatusOK, r, issuedErrors{delivery: deliveryForms{NewLink: link}})
}

// EndLink revokes a link of a record.
func (s Records) EndLink(c echo.Context) error {
	err := s.App.EndLink(c.Request().Context(), web.Person(c), c.Param("id"), c.Param("link"), c.FormValue("why"))
	if err != nil && records.KindOf(err) == records.Invalid {
		return s.refuse(c, err, issuedErrors{delivery: deliveryForms{LinkError: err.Error()}})
	}
	if err != nil {
		return err
	}
	s.Flash(c, "The link has been ended. Anybody who opens it is shown your telephone number.")
	return web.Redirect(c, "/records/"+c.Param("id")+"#delivery")
}
