package server

import (
	"context"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
)

// messageView is one message as its record shows it, and a page of its own.
type messageView struct {
	messageLine
	Kind, Put, NextTry, Receipt, Why string
	Text                             string
	MayBounce                        bool
}

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

func (s *Server) deliveryOf(ctx context.Context, recordID string) (messages []messageView, links []linkView,
	err error) {
	all, _, err := s.store.Outbox.Find(ctx, store.OutboxQuery{RecordID: recordID, Limit: messagesShown})
	if err != nil {
		return nil, nil, err
	}
	for _, m := range all {
		messages = append(messages, s.messageView(m))
	}
	given, err := s.store.Links.OfRecord(ctx, recordID)
	for _, l := range given {
		links = append(links, s.linkView(l))
	}
	return messages, links, err
}

func (s *Server) messageView(m records.Message) messageView {
	v := messageView{messageLine: s.messageLineOf(m), Kind: m.Kind, Put: s.fullClock(m.CreatedAt), Receipt: m.Receipt,
		Why: m.Problem, Text: m.Text}
	v.MayBounce = m.State == records.MessageSent || m.State == records.MessageUnsure
	if m.State == records.MessageDue {
		v.NextTry = s.clock(m.NextAt)
	}
	return v
}

func (s *Server) linkView(l store.Link) linkView {
	v := linkView{ID: l.ID, For: l.ForName, Email: l.ForEmail, Made: s.fullClock(l.CreatedAt),
		Usable: l.Usable(s.app.Now())}
	day := func(t time.Time) string { return records.DateOf(t.In(s.app.Zone)).Long() }
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

// resend sends the letter about a record once more.
func (s *Server) resend(c echo.Context) error {
	to, err := s.app.Resend(c.Request().Context(), person(c), c.Param("id"), c.FormValue("email"))
	if err != nil && records.KindOf(err) == records.Invalid {
		return s.refuseIssued(c, err, issuedErrors{delivery: deliveryForms{Email: c.FormValue("email"),
			ResendError: err.Error(), resent: true}})
	}
	if err != nil {
		return err
	}
	s.say(c, "It is being sent to "+to.Email+".")
	return see(c, "/records/"+c.Param("id")+"#delivery")
}

type messagePage struct {
	base
	Message    messageView
	Back       string
	Why, Error string
}

// message shows one message: what was sent, when, and what became of it.
func (s *Server) message(c echo.Context) error {
	m, err := s.store.Outbox.Message(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return s.messagePage(c, http.StatusOK, m, "", nil)
}

func (s *Server) messagePage(c echo.Context, status int, m records.Message, why string, refused error) error {
	data := messagePage{base: s.base(c, m.Subject), Message: s.messageView(m), Back: "/messages", Why: why}
	if m.RecordID != "" {
		data.Back = "/records/" + m.RecordID + "#delivery"
	}
	if refused != nil {
		data.Error = refused.Error()
	}
	return s.page(c, status, "message", data)
}

// bounced notes that a message came back undelivered, and why.
func (s *Server) bounced(c echo.Context) error {
	ctx, why := c.Request().Context(), c.FormValue("why")
	m, err := s.store.Outbox.Message(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	err = s.store.Outbox.Bounce(ctx, actorOf(c), m.ID, why)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return s.messagePage(c, statusOf[kind], m, why, err)
	}
	if err != nil {
		return err
	}
	s.say(c, "Noted: the message to "+m.ToEmail+" came back.")
	return see(c, "/messages/"+m.ID)
}

// addBounce takes in a mail server's report that a person has as a file.
func (s *Server) addBounce(c echo.Context) error {
	file, err := c.FormFile("file")
	if err != nil {
		return app.NotAReport("no file was chosen")
	}
	report, err := file.Open()
	if err != nil {
		return err
	}
	defer report.Close()
	b, m, err := s.app.TakeBounce(c.Request().Context(), actorOf(c), report)
	if err != nil {
		return err
	}
	if b.Action != "failed" {
		s.say(c, "The report says “"+b.Action+"”: the message has not failed, and nothing was changed.")
	} else {
		s.say(c, "Noted: the message to "+m.ToEmail+" came back.")
	}
	return see(c, "/messages/"+m.ID)
}

// addLink makes a private link. Its address is on the page that answers and
// nowhere else.
func (s *Server) addLink(c echo.Context) error {
	ctx := c.Request().Context()
	row, err := s.store.Records.Issued(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	entry := deliveryForms{NewFor: c.FormValue("for"), NewEmail: c.FormValue("email")}
	link, err := s.app.AddLink(ctx, person(c), row.ID, entry.NewFor, entry.NewEmail, c.FormValue("days"))
	if err != nil && records.KindOf(err) == records.Invalid {
		entry.LinkError = err.Error()
		return s.refuseIssued(c, err, issuedErrors{delivery: entry})
	}
	if err != nil {
		return err
	}
	r, err := s.store.Records.Record(ctx, row.ID)
	if err != nil {
		return err
	}
	return s.issuedPage(c, http.StatusOK, r, issuedErrors{delivery: deliveryForms{NewLink: link}})
}

// endLink revokes a link of a record.
func (s *Server) endLink(c echo.Context) error {
	err := s.app.EndLink(c.Request().Context(), person(c), c.Param("id"), c.Param("link"), c.FormValue("why"))
	if err != nil && records.KindOf(err) == records.Invalid {
		return s.refuseIssued(c, err, issuedErrors{delivery: deliveryForms{LinkError: err.Error()}})
	}
	if err != nil {
		return err
	}
	s.say(c, "The link has been ended. Whoever opens it is shown your telephone number.")
	return see(c, "/records/"+c.Param("id")+"#delivery")
}
