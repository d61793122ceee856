package app

import (
	"cmp"
	"context"
	"strings"

	"gaugebook/pdf"
	"gaugebook/records"
	"gaugebook/records/store"
)

// lettersOf turns the drafts of those who have no e-mail address into
// letters. What a letter says around the dates is package pdf's.
func lettersOf(drafts []ReminderDraft, today records.Date) (letters []store.Letter, mine []ReminderDraft,
	out SendResult) {
	for _, d := range drafts {
		if d.Reach != store.ByLetter {
			out.LeaveOut(d, "gets reminders by e-mail, or none")
			continue
		}
		l := store.Letter{Date: today, Name: cmp.Or(d.Contact.Name, "The occupier"), Address: addressLines(d),
			Steps: d.Steps}
		for _, r := range d.Rows {
			l.Due = append(l.Due, store.LetterDuty{Kind: r.Kind, Due: r.Due, Appliance: r.Appliance,
				Property: r.Property})
		}
		letters, mine = append(letters, l), append(mine, d)
	}
	return letters, mine, out
}

// addressLines is where the letter goes: the contact's own address if they
// have another one, else the property.
func addressLines(d ReminderDraft) []string {
	p := d.Rows[0].Property
	lines := []string{p.Line1, p.Line2, p.Town, p.Postcode}
	if d.Contact.Address != "" {
		lines = strings.SplitN(d.Contact.Address, ",", 6)
	}
	var out []string
	for _, l := range lines {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

// renderLetters prints letters as one file.
func renderLetters(firm records.Firm, letters []store.Letter) ([]byte, error) {
	batch := make([]pdf.ReminderLetter, len(letters))
	for i, l := range letters {
		batch[i] = pdf.ReminderLetter{Firm: firm, Date: l.Date, Name: l.Name, Address: l.Address}
		for _, d := range l.Due {
			batch[i].Due = append(batch[i].Due, pdf.ReminderDuty{Kind: d.Kind, Due: d.Due, Appliance: d.Appliance,
				Property: d.Property})
		}
	}
	return pdf.Reminders(batch)
}

// LettersDraft prints the letters without noting anything.
func (a *App) LettersDraft(ctx context.Context, drafts []ReminderDraft) ([]byte, error) {
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return nil, err
	}
	letters, _, _ := lettersOf(drafts, a.Today())
	return renderLetters(firm, letters)
}

// RenderLetters prints a batch; however often, it is the same.
func RenderLetters(b store.LetterBatch) ([]byte, error) { return renderLetters(b.Firm, b.Letters) }

// PrintLetters keeps the letters and notes them as sent. It prints them once
// before, so that nothing is noted that cannot be printed.
func (a *App) PrintLetters(ctx context.Context, actor records.Actor, drafts []ReminderDraft) (store.LetterBatch,
	SendResult, error) {
	letters, mine, out := lettersOf(drafts, a.Today())
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return store.LetterBatch{}, out, err
	}
	if len(letters) > 0 {
		if _, err := renderLetters(firm, letters); err != nil {
			return store.LetterBatch{}, out, err
		}
	}
	batch, why, err := a.Store.Chase.AddLetters(ctx, actor, firm, letters)
	for i, w := range why {
		if w != "" {
			out.LeaveOut(mine[i], w)
		}
	}
	out.Sent = len(batch.Letters)
	return batch, out, err
}
