package app

import (
	"context"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
)

// Resend puts the letter about a record in force into the outbox once more, with a
// link of its own: to the address on file, or to a corrected one, which is kept
// as the contact's. It returns the contact written to. Kinds: NotFound;
// Conflict for a record no longer in force; Invalid for an address that cannot
// be one, or none.
func (a *App) Resend(ctx context.Context, who records.Person, id, email string) (records.Contact, error) {
	row, err := a.Store.Records.Issued(ctx, id)
	if err != nil {
		return records.Contact{}, err
	}
	if row.Stage != records.StageIssued {
		return records.Contact{}, records.Fail(records.Conflict,
			"this record is no longer in force and can no longer be sent")
	}
	to, err := a.correctEmail(ctx, who, row.ApplianceID, email)
	if err != nil {
		return to, err
	}
	if to.Email == "" {
		return to, &records.Error{Kind: records.Invalid, Field: "email", Label: "E-mail",
			Msg: "the contact has none", Want: "the address to send to"}
	}
	return to, a.resend(ctx, who, row, to)
}

// correctEmail returns the contact to write to. An address that was typed and
// is another than the one on file becomes the contact's.
func (a *App) correctEmail(ctx context.Context, who records.Person, applianceID, email string) (records.Contact,
	error) {
	appliance, err := a.Store.Register.Appliance(ctx, applianceID)
	if err != nil {
		return records.Contact{}, err
	}
	if email == "" || email == appliance.Contact.Email {
		return appliance.Contact, nil
	}
	p, err := a.Store.Register.Property(ctx, appliance.PropertyID)
	if err != nil {
		return records.Contact{}, err
	}
	p.Contact.Email = email
	p, err = a.Store.Register.UpdateProperty(ctx, who.Actor(), p)
	return p.Contact, err
}

func (a *App) resend(ctx context.Context, who records.Person, row store.IssuedRow, to records.Contact) error {
	doc, err := a.Document(ctx, row.ID)
	if err != nil {
		return err
	}
	file, err := a.PDF(ctx, row.ID)
	if err != nil {
		return err
	}
	now := a.Now()
	link, err := a.Store.Links.AddTo(ctx, who.Actor(), row.ID, to, now.Add(linkLife))
	if err != nil {
		return err
	}
	doc.Record.Contact = to
	m := recordLetter(doc, a.CustomerURL(records.TokenMark), len(file) <= mostAttached)
	m.Token = store.LinkToken(link.ID)
	m.RecordID, m.Ref = row.ID, "again "+now.UTC().Format(time.RFC3339Nano)
	if _, err = a.Store.Outbox.Enqueue(ctx, who.Actor(), m); err == nil {
		a.mailWaiting()
	}
	return err
}

// Requeue sends a message again that has failed or may have arrived. Kinds as
// those of the store.
func (a *App) Requeue(ctx context.Context, who records.Person, id string) error {
	err := a.Store.Outbox.Requeue(ctx, who.Actor(), id)
	if err == nil {
		a.mailWaiting()
	}
	return err
}

// linkLives are how long a link made by hand may work, in days.
var linkLives = map[string]time.Duration{"30": 30 * 24 * time.Hour, "365": 365 * 24 * time.Hour, "730": linkLife}

// AddLink makes a private link to an issued record, to hand over by another way
// than e-mail, and returns its address, which is kept nowhere. Kinds: NotFound;
// Invalid for who it is for and for how many days.
func (a *App) AddLink(ctx context.Context, who records.Person, recordID, name, email, days string) (string, error) {
	to, err := records.Contact{Name: name, Email: email, Tenure: records.OwnerOccupier}.Checked()
	if err != nil {
		return "", err
	}
	life := linkLives[days]
	if life == 0 {
		return "", &records.Error{Kind: records.Invalid, Field: "days", Label: "Valid for", Value: days,
			Want: "30, 365 or 730 days"}
	}
	link, err := a.Store.Links.AddTo(ctx, who.Actor(), recordID, to, a.Now().Add(life))
	return a.CustomerURL(link.Token), err
}

// EndLink ends a link of a record. Kinds: NotFound; Invalid without a reason.
func (a *App) EndLink(ctx context.Context, who records.Person, recordID, linkID, why string) error {
	links, err := a.Store.Links.OfRecord(ctx, recordID)
	if err != nil {
		return err
	}
	for _, l := range links {
		if l.ID == linkID {
			return a.Store.Links.End(ctx, who.Actor(), l.ID, why)
		}
	}
	return records.Fail(records.NotFound, "the record has no such link")
}
