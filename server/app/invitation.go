package app

import (
	"context"

	"gaugebook/records"
	"gaugebook/templates/mail"
)

// People set their own passwords: an owner enters who they are, a letter
// brings them a link that works once, for a week.

// Invite puts a link to set a password into the outbox and returns the person.
// Kinds: NotFound; Conflict for a closed account, or when the firm has no
// address to send from.
func (a *App) Invite(ctx context.Context, actor records.Actor, personID string) (records.Person, error) {
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return records.Person{}, err
	}
	if firm.Email == "" {
		return records.Person{}, records.Fail(records.Conflict,
			"the firm has no e-mail address to send from: give one under Firm first")
	}
	var to records.Person
	_, err = a.Store.People.Invite(ctx, actor, personID,
		func(p records.Person, i records.Invitation) records.Message {
			to = p
			return a.inviteMessage(p, i, firm)
		})
	if err == nil {
		a.mailWaiting()
	}
	return to, err
}

func (a *App) inviteMessage(p records.Person, i records.Invitation, firm records.Firm) records.Message {
	m := mail.Invitation{Name: p.Name, By: i.MadeBy, Firm: firm.Name, Email: p.Email,
		Link:  a.BaseURL + "/join/" + records.TokenMark,
		Until: i.ExpiresAt.In(a.Zone).Format("2 January 2006, 15:04")}.Message()
	return records.Message{Kind: records.InvitationKind, ToName: p.Name, ToEmail: p.Email,
		Subject: records.Shorten(m.Subject, 200), Text: m.Text, HTML: m.HTML}
}
