package servertest

import (
	"context"
	"log/slog"
	"net/http"
	"net/url"
	"strings"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server/mail"
	"gaugebook/server/worker"
)

// Two customers, one without an e-mail address.
var (
	ByMail = records.Contact{Name: "Odile Parrack", Email: "odile@parrack.example", Phone: "01632 960 300",
		Tenure: records.Landlord, Address: "9 Tolland Yard, Marrowby, AA1 4TY"}
	ByLetter = records.Contact{Name: "Ivo Tansley", Phone: "01632 960 301", Tenure: records.OwnerOccupier}
)

// Landlord adds a property of a contact with an appliance and a service due.
func (s *Site) Landlord(n int, k records.Contact, due string) (store.Appliance, records.OpenDuty) {
	s.tb.Helper()
	p := storetest.Property(n)
	p.Contact = k
	p, err := s.Store.Register.CreateProperty(context.Background(), storetest.Actor, p)
	if err != nil {
		s.tb.Fatal(err)
	}
	a, err := s.Store.Register.CreateAppliance(context.Background(), storetest.Actor, p.ID,
		storetest.ApplianceValues(n))
	if err != nil {
		s.tb.Fatal(err)
	}
	return a, s.DutyAt(a.ID, records.AnnualService, due)
}

// DutyAt adds a duty to an appliance.
func (s *Site) DutyAt(applianceID string, kind records.DutyKind, due string) records.OpenDuty {
	s.tb.Helper()
	d := storetest.ServiceDue(due)
	d.Kind = kind
	out, err := s.Store.Duties.Add(context.Background(), storetest.Actor, applianceID, d)
	if err != nil {
		s.tb.Fatal(err)
	}
	return out
}

// Book books a visit and returns its id.
func (c *Client) Book(form url.Values) string {
	c.tb.Helper()
	p := c.Post("/bookings", form)
	if p.Status != http.StatusSeeOther || !strings.HasPrefix(p.Location, "/bookings/") {
		c.tb.Fatalf("booking: %d %s\n%s", p.Status, p.Location, Clip(p.Body))
	}
	return strings.TrimPrefix(p.Location, "/bookings/")
}

// Preview chooses every customer on the page of reminders who is reached that
// way. It returns the preview, and the form that would send it.
func (c *Client) Preview(reach string) (Page, url.Values) {
	c.tb.Helper()
	keys := Values(c.Get("/chase?reach="+url.QueryEscape(reach)).Body, "c")
	p := c.Post("/chase/preview", url.Values{"reach": {reach}, "c": keys})
	if p.Status != http.StatusOK {
		c.tb.Fatalf("preview: %d\n%s", p.Status, Clip(p.Body))
	}
	return p, url.Values{"reach": {reach}, "c": Values(p.Body, "c"), "seen": Values(p.Body, "seen")}
}

// Outbox returns the messages.
func (s *Site) Outbox() []records.Message {
	s.tb.Helper()
	list, _, err := s.Store.Outbox.Find(context.Background(), store.OutboxQuery{})
	if err != nil {
		s.tb.Fatal(err)
	}
	return list
}

// HandOver sends the messages that are due into a folder.
func (s *Site) HandOver() {
	s.tb.Helper()
	m := worker.NewMailSender(s.App, mail.Folder{Dir: s.tb.TempDir()}, s.Clock.Now, slog.New(slog.DiscardHandler))
	if err := m.SendDue(context.Background()); err != nil {
		s.tb.Fatal(err)
	}
}

// Sent issues a record and hands its message over.
func (s *Site) Sent() (store.IssuedRow, records.Message) {
	s.tb.Helper()
	row := s.Issued()
	s.HandOver()
	all, _, err := s.Store.Outbox.Find(context.Background(), store.OutboxQuery{RecordID: row.ID})
	if err != nil || len(all) != 1 || all[0].State != records.MessageSent {
		s.tb.Fatalf("%+v, %v", all, err)
	}
	return row, all[0]
}

// Adverse spoils the readings of a record.
func Adverse(vs records.Values) { vs.Put(records.COMaxPPM.Field, "900") }

// JoinLink returns the path of the link to set a password in the newest message
// to an address, as it would be handed over now.
func (s *Site) JoinLink(email string) string {
	s.tb.Helper()
	for _, m := range s.Outbox() {
		if m.ToEmail == email && m.State == records.MessageDue && m.Kind == records.InvitationKind {
			if link := s.LinkIn(m, "/join/"); strings.Contains(m.HTML, "/join/"+records.TokenMark) {
				return link
			}
		}
	}
	s.tb.Fatalf("no letter to %s among %d", email, len(s.Outbox()))
	return ""
}

// LinkIn returns the path of the link in a message that begins so, as it would
// be handed over now.
func (s *Site) LinkIn(m records.Message, path string) string {
	s.tb.Helper()
	token, err := s.Store.Outbox.PutIn(context.Background(), m.ID)
	if err != nil || !strings.Contains(m.With(token).Text, path+token) {
		s.tb.Fatalf("no %s in the message to %s: %v", path, m.ToEmail, err)
	}
	return path + token
}
