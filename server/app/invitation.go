package app

import (
	"bytes"
	"context"
	htmltemplate "html/template"
	texttemplate "text/template"

	"gaugebook/records"
)

// People set their own passwords: an owner enters who they are, a letter
// brings them a link that works once, for a week.

type inviteLetter struct{ Name, By, Firm, Email, Link, Until string }

var inviteText = texttemplate.Must(texttemplate.New("text").Parse(`Dear {{.Name}},

{{.By}} of {{.Firm}} asks you to set your password for Gaugebook, where the firm keeps its records of gas work. You sign in with {{.Email}}.

Set your password here. The link is for you alone, works once, and ends on {{.Until}}:
{{.Link}}

If you did not expect this, do nothing and tell {{.By}}.
`))

var inviteHTML = htmltemplate.Must(htmltemplate.New("html").Parse(`<!doctype html><html lang="en-GB"><body style="font-family:Georgia,serif;color:#1d2433;max-width:36em;line-height:1.5">
<p>Dear {{.Name}},</p>
<p>{{.By}} of {{.Firm}} asks you to set your password for Gaugebook, where the firm keeps its records of gas work. You sign in with {{.Email}}.</p>
<p><a href="{{.Link}}">Set your password</a>. The link is for you alone, works once, and ends on {{.Until}}.</p>
<p>If you did not expect this, do nothing and tell {{.By}}.</p></body></html>
`))

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
	var failed error
	_, err = a.Store.People.Invite(ctx, actor, personID,
		func(p records.Person, i records.Invitation) records.Message {
			to = p
			m, err := a.inviteMessage(p, i, firm)
			failed = err
			return m
		})
	if failed != nil {
		return to, failed
	}
	if err == nil {
		a.mailWaiting()
	}
	return to, err
}

func (a *App) inviteMessage(p records.Person, i records.Invitation, firm records.Firm) (records.Message, error) {
	l := inviteLetter{Name: p.Name, By: i.MadeBy, Firm: firm.Name, Email: p.Email,
		Link: a.BaseURL + "/join/" + i.Token, Until: i.ExpiresAt.In(a.Zone).Format("2 January 2006, 15:04")}
	var text, html bytes.Buffer
	if err := inviteText.Execute(&text, l); err != nil {
		return records.Message{}, err
	}
	if err := inviteHTML.Execute(&html, l); err != nil {
		return records.Message{}, err
	}
	return records.Message{Kind: records.InvitationKind, ToName: p.Name, ToEmail: p.Email,
			Subject: "Set your password for " + records.Shorten(firm.Name, 80), Text: text.String(),
			HTML: html.String()},
		nil
}
