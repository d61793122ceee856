package app

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/templates/mail"
)

// Reminders are service messages: they tell a customer of a date on file for
// their appliance, who says so and how to stop it. They advertise nothing;
// see DEVELOPERS.md.

// CustomerDue is one customer with what is due for them.
type CustomerDue struct {
	Key     string // ids of the duties
	Contact records.Contact
	// PropertyID leads to the customer's page.
	PropertyID string
	Reach      store.Reach
	Rows       []store.ChaseRow
}

// ByCustomer puts the rows of one customer together, in the order of each
// one's first.
func ByCustomer(rows []store.ChaseRow) []CustomerDue {
	var out []CustomerDue
	at := map[string]int{}
	for _, r := range rows {
		key := r.Customer()
		i, ok := at[key]
		if !ok {
			i = len(out)
			at[key] = i
			out = append(out, CustomerDue{Contact: r.Contact, PropertyID: r.PropertyID, Reach: r.Reach()})
		}
		out[i].Rows = append(out[i].Rows, r)
	}
	for i := range out {
		ids := make([]string, len(out[i].Rows))
		for j, r := range out[i].Rows {
			ids[j] = r.DutyID
		}
		out[i].Key = strings.Join(ids, " ")
	}
	return out
}

// ReminderDraft is a reminder as it would go out today.
type ReminderDraft struct {
	CustomerDue
	Steps   []store.DutyStep
	Subject string
	Text    string // without the lines that every reminder ends with
	Ending  string // those lines, without the customer's own link
	Seen    string // stands for what is shown: changed, if that changes
}

// StepWords names the steps in words.
func (d ReminderDraft) StepWords() string {
	var out []string
	for _, s := range d.Steps {
		out = append(out, s.Step.String())
	}
	return strings.Join(out, ", ")
}

// DraftReminders writes the reminders that are due today for the rows, one
// for each customer. Rows of which no step is due are left out.
func (a *App) DraftReminders(ctx context.Context, rows []store.ChaseRow) ([]ReminderDraft, error) {
	settings, err := a.Store.Settings.Reminders(ctx)
	if err != nil {
		return nil, err
	}
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return nil, err
	}
	words, err := wordingOf(settings)
	if err != nil {
		return nil, err
	}
	var now []store.ChaseRow
	steps := map[string]due.Step{}
	today := a.Today()
	for _, r := range rows {
		if s, ok := settings.Steps.StepNow(r.Chased(), today); ok {
			now, steps[r.DutyID] = append(now, r), s
		}
	}
	var out []ReminderDraft
	for _, c := range ByCustomer(now) {
		d := ReminderDraft{CustomerDue: c}
		for _, r := range c.Rows {
			d.Steps = append(d.Steps, store.DutyStep{DutyID: r.DutyID, Step: steps[r.DutyID]})
		}
		if d.Subject, d.Text, err = fillFor(words, firm, c, today); err != nil {
			return nil, err
		}
		d.Ending = mail.ReminderEnding{Link: sampleLink, Firm: firm}.Text()
		sum := sha256.Sum256([]byte(c.Contact.Email + "\n" + d.StepWords() + "\n" + d.Subject + "\n" + d.Text + "\n" +
			d.Ending))
		d.Seen = hex.EncodeToString(sum[:8])
		out = append(out, d)
	}
	return out, nil
}

func fillFor(w wording, firm records.Firm, c CustomerDue, today records.Date) (subject, text string, err error) {
	d, late := reminderDataOf(firm, c, today)
	return w.fill(d, late)
}

// sampleLink stands for the link that each customer gets for themselves.
const sampleLink = "(the customer's own link)"

// SendResult is what became of a batch: how many went out, and who was left out
// and why.
type SendResult struct {
	Sent    int
	LeftOut []string
}

// LeaveOut notes that a customer was left out.
func (o *SendResult) LeaveOut(d ReminderDraft, why string) {
	o.LeftOut = append(o.LeftOut, cmp.Or(d.Contact.Name, d.Rows[0].Property.OneLine())+": "+why)
}

// SendReminders puts the drafts into the outbox, in one transaction.
func (a *App) SendReminders(ctx context.Context, actor records.Actor, drafts []ReminderDraft) (SendResult, error) {
	var out SendResult
	var mine []ReminderDraft
	var reminders []store.Reminder
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return out, err
	}
	for _, d := range drafts {
		if d.Reach != store.ByEmail {
			out.LeaveOut(d, "has no e-mail address on file")
			continue
		}
		url := a.BaseURL + "/stop/" + records.TokenMark
		mine = append(mine, d)
		reminders = append(reminders, store.Reminder{Steps: d.Steps, Message: records.Message{Token: store.StopToken,
			ToName: d.Contact.Name, ToEmail: d.Contact.Email, Subject: d.Subject,
			Text: d.Text + "\n\n" + mail.ReminderEnding{Link: url, Firm: firm}.Text(), StopURL: url}})
	}
	why, err := a.Store.Chase.SendReminders(ctx, actor, reminders)
	for i, w := range why {
		if w == "" {
			out.Sent++
		} else {
			out.LeaveOut(mine[i], w)
		}
	}
	if out.Sent > 0 {
		a.mailWaiting()
	}
	return out, err
}

// Remind puts the reminders that are due today for the rows into the outbox.
// Customers without an e-mail address are left out.
func (a *App) Remind(ctx context.Context, actor records.Actor, rows []store.ChaseRow) error {
	drafts, err := a.DraftReminders(ctx, rows)
	if err == nil {
		_, err = a.SendReminders(ctx, actor, drafts)
	}
	return err
}

// SendTodaysReminders puts every reminder into the outbox that is due today
// and fresh, if the owner has switched that on; on says whether they have.
// Run again it finds nothing left to do.
func (a *App) SendTodaysReminders(ctx context.Context) (sent SendResult, on bool, err error) {
	settings, err := a.Store.Settings.Reminders(ctx)
	if err != nil || !settings.Automatic {
		return sent, false, err
	}
	today, ladder := a.Today(), settings.Steps
	q := store.ChaseQuery{Booked: "no", Reach: store.ByEmail, Ladder: ladder, Today: today, Limit: 500,
		DueFrom: today.AddDays(-7*int(ladder[len(ladder)-1]) - due.FreshDays)}
	var fresh []store.ChaseRow
	for {
		rows, next, err := a.Store.Chase.Find(ctx, q)
		if err != nil {
			return sent, true, err
		}
		for _, r := range rows {
			if s, ok := ladder.StepNow(r.Chased(), today); ok && s.Fresh(r.Due, today) {
				fresh = append(fresh, r)
			}
		}
		if q.After = next; next == "" {
			break
		}
	}
	drafts, err := a.DraftReminders(ctx, fresh)
	if err != nil {
		return sent, true, err
	}
	for len(drafts) > 0 {
		n := min(len(drafts), 100) // bounds how long other writers wait
		batch, err := a.SendReminders(ctx, records.SystemActor, drafts[:n])
		if err != nil {
			return sent, true, fmt.Errorf("reminders: %w", err)
		}
		sent.Sent, sent.LeftOut, drafts = sent.Sent+batch.Sent, append(sent.LeftOut, batch.LeftOut...), drafts[n:]
	}
	return sent, true, nil
}
