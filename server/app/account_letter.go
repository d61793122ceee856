package app

import (
	"context"
	"strings"
	"time"

	"gaugebook/records"
	"gaugebook/templates/mail"
)

// The holder of an account is told of every change to how they sign in, at the
// address that they had and at a new one: whoever made the change without them
// must not be able to keep it quiet.

// TellHolder makes the messages that say what has changed, to each address. There are
// none while the firm has no address to send from.
func TellHolder(ctx context.Context, a *App, holder records.Person, by records.Actor, what string,
	to ...string) ([]records.Message, error) {
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil || firm.Email == "" {
		return nil, err
	}
	now := a.Now()
	l := mail.Account{Name: holder.Name, Firm: firm.Name, What: what,
		When: now.In(a.Zone).Format("2 January 2006 at 15:04")}
	if by.ID != holder.ID {
		l.By = by.Name
	}
	m := l.Message()
	var out []records.Message
	for _, address := range to {
		out = append(out, records.Message{Kind: records.AccountKind, ToName: holder.Name, ToEmail: address,
			Ref:     holder.ID + " " + now.UTC().Format(time.RFC3339Nano),
			Subject: records.Shorten(m.Subject, 200), Text: m.Text, HTML: m.HTML})
	}
	return out, nil
}

// ChangePerson changes what is on file of a person. They are told of a new
// address to sign in with, at the old one and the new. Kinds as those of the
// store.
func (a *App) ChangePerson(ctx context.Context, actor records.Actor, p records.Person) (records.Person, error) {
	was, err := a.Store.People.ByID(ctx, p.ID)
	if err != nil {
		return p, err
	}
	var letters []records.Message
	if old, now := was.Email, strings.TrimSpace(p.Email); !strings.EqualFold(old, now) {
		letters, err = TellHolder(ctx, a, was, actor, "The address that you sign in with was changed from "+old+" to "+
			now,
			old, now)
		if err != nil {
			return p, err
		}
	}
	p, err = a.Store.People.Update(ctx, actor, p, letters...)
	if err == nil && len(letters) > 0 {
		a.mailWaiting()
	}
	return p, err
}
