package app

import (
	"context"
	"slices"
	"strings"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/rules"
	"gaugebook/records/store"
)

// linkLife is how long a customer's private link works: two service rounds,
// so that last year's record can still be opened from last year's message.
const linkLife = 2 * 365 * 24 * time.Hour

// Issue judges the draft once more from its saved readings and issues it: all
// of number, frozen findings, seal, PDF, duties and the customer's message, or
// nothing. Kinds: NotFound, Conflict for a stale revision or a record issued
// meanwhile, NotReady for findings neither settled nor answered, Forbidden for
// whoever the draft is not, and for a person who may not issue.
func (a *App) Issue(ctx context.Context, who records.Person, id string, revision int) (store.IssuedRow, error) {
	if err := onlyEngineers(who, "a record is issued by the engineer who answers for it"); err != nil {
		return store.IssuedRow{}, err
	}
	by := store.Issuer{Plan: a.planFor(who), Post: a.post, Key: a.Key}
	if !a.PrintLater {
		by.Draw = func(p store.Plan) ([]byte, error) { return a.drawPlan(ctx, p) }
	}
	row, printed, err := a.Store.Records.Issue(ctx, who.Actor(), id, revision, by)
	if err == nil && !printed && !a.PrintLater {
		// The record stands, whatever becomes of this: a print that fails now is
		// made when it is next asked for, and who asks is told why it fails.
		_, _ = a.PDF(context.WithoutCancel(ctx), row.ID)
	}
	if err == nil {
		a.mailWaiting()
	}
	return row, err
}

// mayIssue refuses what no condition report can answer for: only the person
// whose the draft is declares it, in their own name. Of readings that they took
// themselves, their competence must hold on the day of the work; of those that
// they took over or amend, on the day of issue too.
func mayIssue(who records.Person, on store.Basis, today records.Date) error {
	if err := records.CheckWorkDate(on.Draft.WorkDate, today); err != nil {
		return err
	}
	if who.ID == "" || who.ID != on.Holder.ID {
		return records.Fail(records.Forbidden, NotYours(on.Holder.Name))
	}
	day := on.Draft.WorkDate
	if len(on.Draft.TakenOverFrom) > 0 || on.Draft.Replaces != "" {
		day = today
	}
	return on.Holder.MayDeclare(day)
}

// NotYours says why somebody else cannot issue a draft.
func NotYours(holder string) string {
	return "these readings are " + holder + "’s, so only " + holder + " can declare and issue them: take the record " +
		"over first, check the readings, and declare them yourself"
}

// answering keeps only the entries that answer a finding of this record.
func answering(c *records.ConditionReport, fs []records.Finding) *records.ConditionReport {
	open := records.Unsettled(fs)
	if len(open) == 0 || c == nil {
		return nil
	}
	kept := *c
	kept.Entries = nil
	for _, f := range open {
		e, ok := c.Entry(f.Rule)
		if ok && !slices.ContainsFunc(kept.Entries, func(k records.ConditionEntry) bool { return k.Rule == e.Rule }) {
			kept.Entries = append(kept.Entries, e)
		}
	}
	return &kept
}

func (a *App) planFor(who records.Person) func(store.Basis) (store.Plan, error) {
	return func(on store.Basis) (store.Plan, error) { return a.plan(who, on) }
}

// plan judges the draft from its saved readings and makes the record. It is
// part of a transaction: everything comes from the basis.
func (a *App) plan(who records.Person, on store.Basis) (store.Plan, error) {
	draft := on.Draft
	// Who and where are those of the day of issue, not of the first reading.
	draft.Property, draft.Contact, draft.Firm = on.Property, on.Contact, on.Firm
	if err := mayIssue(who, on, records.DateOf(on.At.In(a.Zone))); err != nil {
		return store.Plan{}, err
	}
	issuer := on.Holder
	issuer.Key = who.Key
	by, amender := issuer.Signatory(), (*records.Signatory)(nil)
	if draft.Replaces == "" {
		draft.Engineer = issuer.Engineer()
	} else {
		amender = &by
	}
	findings := rules.Evaluate(draft, on.Facts())
	if err := records.ReadyToIssue(findings, draft.Condition); err != nil {
		return store.Plan{}, err
	}
	draft.Findings = findings
	draft.Condition = answering(draft.Condition, findings)
	issued := records.Issued{
		Number: on.Number, IssuedAt: on.At, Record: draft, Findings: findings,
		Standing: records.StandingOf(findings), Duties: due.ForIssue(draft, on.LandlordDeadline), Earlier: on.Visits,
		Log:      on.Log,
		IssuedBy: &by, AmendedBy: amender, TakenOverFrom: draft.TakenOverFrom,
	}
	canonical, err := issued.Canonical()
	if err != nil {
		return store.Plan{}, err
	}
	return store.Plan{Issued: issued, Canonical: canonical, Seal: records.SealOf(canonical, a.Key)}, nil
}

// drawPlan prints a record that is about to be issued, with all its pictures.
func (a *App) drawPlan(ctx context.Context, p store.Plan) ([]byte, error) {
	pictures, lost, err := a.pictures(p.Issued.Record)
	if err != nil {
		return nil, err
	}
	if len(lost) > 0 {
		return nil, records.Fail(records.NotReady, strings.Join(lost, " and ")+
			" cannot be read from the disk any more: remove it from the record, or put the folder of the photos back")
	}
	return a.draw(ctx, a.document(p, pictures))
}

func (a *App) document(p store.Plan, pictures map[string][]byte) records.Document {
	return records.Document{Issued: p.Issued, Seal: p.Seal, VerifyURL: a.VerifyURL(p.Issued.Number, p.Seal.Code),
		Pictures: pictures}
}

// post makes the customer's message and link.
func (a *App) post(p store.Plan, printed int) ([]records.Message, []store.Link) {
	to := p.Issued.Record.Contact
	if to.Email == "" {
		return nil, nil
	}
	link := store.Link{ID: store.NewToken(), ForName: to.Name, ForEmail: to.Email,
		ExpiresAt: p.Issued.IssuedAt.Add(linkLife)}
	m := recordLetter(a.document(p, nil), a.CustomerURL(records.TokenMark), printed <= mostAttached)
	m.Token = store.LinkToken(link.ID)
	return []records.Message{m}, []store.Link{link}
}
