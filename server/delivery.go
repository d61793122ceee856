package server

import (
	"context"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
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
		Usable: l.Usable(s.book.Now())}
	day := func(t time.Time) string { return records.DateOf(t.In(s.book.Zone)).Long() }
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

// resend puts the letter into the outbox once more, with a new link: to the
// address on file or to a corrected one, which is kept as the contact's.
func (s *Server) resend(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	row, err := s.store.Records.Issued(ctx, id)
	if err != nil {
		return err
	}
	if row.Stage != records.StageIssued {
		return records.Fail(records.Conflict, "this record is no longer in force and is not sent any more")
	}
	to, err := s.correctEmail(c, row.ApplianceID)
	if err == nil && to.Email == "" {
		err = &records.Error{Kind: records.Invalid, Field: "email", Label: "E-mail", Msg: "the contact has none",
			Want: "the address to send to"}
	}
	if kind := records.KindOf(err); err != nil && kind == records.Invalid {
		return s.refuseIssued(c, err, issuedErrors{delivery: deliveryForms{Email: c.FormValue("email"),
			ResendError: err.Error(), resent: true}})
	}
	if err != nil {
		return err
	}
	if err := s.book.Resend(ctx, person(c), row, to); err != nil {
		return err
	}
	s.wake()
	s.say(c, "It is being sent to "+to.Email+".")
	return see(c, "/records/"+row.ID+"#delivery")
}

// correctEmail returns the contact to write to. An address that was typed and
// is another than the one on file becomes the contact's.
func (s *Server) correctEmail(c echo.Context, applianceID string) (records.Contact, error) {
	ctx := c.Request().Context()
	appliance, err := s.store.Register.Appliance(ctx, applianceID)
	if err != nil {
		return records.Contact{}, err
	}
	email := c.FormValue("email")
	if email == "" || email == appliance.Contact.Email {
		return appliance.Contact, nil
	}
	p, err := s.store.Register.Property(ctx, appliance.PropertyID)
	if err != nil {
		return records.Contact{}, err
	}
	p.Contact.Email = email
	p, err = s.store.Register.UpdateProperty(ctx, actorOf(c), p)
	return p.Contact, err
}

// Resend puts the letter about an issued record into the outbox once more,
// with a link of its own, to a contact who has an e-mail address.
func (b *Book) Resend(ctx context.Context, who records.Person, row store.IssuedRow, to records.Contact) error {
	doc, err := b.Document(ctx, row.ID)
	if err != nil {
		return err
	}
	file, err := b.PDF(ctx, row.ID)
	if err != nil {
		return err
	}
	now := b.Now()
	link, err := b.Store.Links.AddTo(ctx, who.Actor(), row.ID, to, now.Add(linkLife))
	if err != nil {
		return err
	}
	doc.Record.Contact = to
	m := recordLetter(doc, b.customerURL(link.Token), len(file) <= mostAttached)
	m.RecordID, m.Ref = row.ID, "again "+now.UTC().Format(time.RFC3339Nano)
	_, err = b.Store.Outbox.Enqueue(ctx, who.Actor(), m)
	return err
}

func (b *Book) customerURL(token string) string { return b.BaseURL + "/r/" + token }

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
		return noBounce("no file was chosen")
	}
	report, err := file.Open()
	if err != nil {
		return err
	}
	defer report.Close()
	b, m, err := TakeBounce(c.Request().Context(), s.store, actorOf(c), report)
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

// linkLives are how long a link made by hand may work, in days.
var linkLives = map[string]time.Duration{"30": 30 * 24 * time.Hour, "365": 365 * 24 * time.Hour, "730": linkLife}

// addLink makes a private link to hand over by another way than e-mail. Its
// address is on the page that answers and nowhere else.
func (s *Server) addLink(c echo.Context) error {
	ctx := c.Request().Context()
	row, err := s.store.Records.Issued(ctx, c.Param("id"))
	if err != nil {
		return err
	}
	to, life := records.Contact{Name: c.FormValue("for"), Email: c.FormValue("email"), Tenure: records.OwnerOccupier},
		linkLives[c.FormValue("days")]
	entry := deliveryForms{NewFor: to.Name, NewEmail: to.Email}
	if to, err = to.Checked(); err == nil && life == 0 {
		err = &records.Error{Kind: records.Invalid, Field: "days", Label: "Works for", Value: c.FormValue("days"),
			Want: "30, 365 or 730 days"}
	}
	var link store.Link
	if err == nil {
		link, err = s.store.Links.AddTo(ctx, actorOf(c), row.ID, to, s.book.Now().Add(life))
	}
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
	return s.issuedPage(c, http.StatusOK, r,
		issuedErrors{delivery: deliveryForms{NewLink: s.book.customerURL(link.Token)}})
}

// endLink revokes a link of a record.
func (s *Server) endLink(c echo.Context) error {
	ctx, id := c.Request().Context(), c.Param("id")
	links, err := s.store.Links.OfRecord(ctx, id)
	if err != nil {
		return err
	}
	for _, l := range links {
		if l.ID != c.Param("link") {
			continue
		}
		err := s.store.Links.End(ctx, actorOf(c), l.ID, c.FormValue("why"))
		if err != nil && records.KindOf(err) == records.Invalid {
			return s.refuseIssued(c, err, issuedErrors{delivery: deliveryForms{LinkError: err.Error()}})
		}
		if err != nil {
			return err
		}
		s.say(c, "The link has been ended. Anybody who opens it is shown your telephone number.")
		return see(c, "/records/"+id+"#delivery")
	}
	return records.Fail(records.NotFound, "the record has no such link")
}
