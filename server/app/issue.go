package app

import (
	"context"
	"slices"
	"strings"
	"time"

	"gaugebook/pdf"
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
// a person who may not issue.
func (a *App) Issue(ctx context.Context, who records.Person, id string, revision int) (store.IssuedRow, error) {
	r, err := a.Store.Records.Record(ctx, id)
	if err != nil {
		return store.IssuedRow{}, err
	}
	if err := onlyEngineers(who, "a record is issued by the engineer who answers for it"); err != nil {
		return store.IssuedRow{}, err
	}
	appliance, err := a.Store.Register.Appliance(ctx, r.ApplianceID)
	if err != nil {
		return store.IssuedRow{}, err
	}
	facts, err := a.Facts(ctx, r)
	if err != nil {
		return store.IssuedRow{}, err
	}
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return store.IssuedRow{}, err
	}
	deadline, err := a.landlordDeadline(ctx, r)
	if err != nil {
		return store.IssuedRow{}, err
	}
	earlier, err := a.earlierVisits(ctx, r)
	if err != nil {
		return store.IssuedRow{}, err
	}
	row, err := a.Store.Records.Issue(ctx, who.Actor(), id, revision, func(number string, at time.Time,
		draft *records.Record) (store.Plan, error) {
		// Who and where are those of the day of issue, not of the first reading.
		draft.Property, draft.Contact, draft.Firm = appliance.Property, appliance.Contact, firm
		if err := a.mayIssue(draft); err != nil {
			return store.Plan{}, err
		}
		findings := rules.Evaluate(draft, facts)
		if err := records.ReadyToIssue(findings, draft.Condition); err != nil {
			return store.Plan{}, err
		}
		draft.Condition = answering(draft.Condition, findings)
		return a.plan(records.Issued{
			Number: number, IssuedAt: at.UTC().Truncate(time.Second), Record: draft, Findings: findings,
			Standing: records.StandingOf(findings), Duties: due.ForIssue(draft, deadline), Earlier: earlier,
		})
	})
	if err == nil {
		a.mailWaiting()
	}
	return row, err
}

// earlierShown is how many visits before this one a record shows the drift of.
const earlierShown = 6

// earlierVisits returns the followed readings of the appliance's last visits
// that are in force, oldest first.
func (a *App) earlierVisits(ctx context.Context, r *records.Record) ([]records.EarlierVisit, error) {
	history, err := a.Store.Records.History(ctx, r.ApplianceID)
	if err != nil {
		return nil, err
	}
	var out []records.EarlierVisit
	for _, line := range history { // newest first
		if line.Stage != records.StageIssued || line.Number == r.Replaces || line.WorkDate.After(r.WorkDate) {
			continue
		}
		before, err := a.Store.Records.Record(ctx, line.ID)
		if err != nil {
			return nil, err
		}
		out = append(out, records.EarlierVisitOf(line.Number, before))
		if len(out) == earlierShown {
			break
		}
	}
	slices.Reverse(out)
	return out, nil
}

// mayIssue refuses what no condition report can answer for.
func (a *App) mayIssue(r *records.Record) error {
	if err := records.CheckWorkDate(r.WorkDate, a.Today()); err != nil {
		return err
	}
	if until := r.Engineer.CompetenceUntil; !until.IsZero() && until.Before(r.WorkDate) {
		return &records.Error{Kind: records.Forbidden, Field: "engineer", Label: r.Engineer.Name,
			Msg: "competence ran out on " + until.Long() + ", before the work on " + r.WorkDate.Long()}
	}
	return nil
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
		if e, ok := c.Entry(f.Rule); ok {
			kept.Entries = append(kept.Entries, e)
		}
	}
	return &kept
}

// plan makes everything that the issuing transaction will write.
func (a *App) plan(issued records.Issued) (store.Plan, error) {
	canonical, err := issued.Canonical()
	if err != nil {
		return store.Plan{}, err
	}
	seal := records.SealOf(canonical, a.Key)
	pictures, lost, err := a.pictures(issued.Record)
	if err != nil {
		return store.Plan{}, err
	}
	if len(lost) > 0 {
		return store.Plan{}, records.Fail(records.NotReady, strings.Join(lost, " and ")+
			" cannot be read from the disk any more: remove it from the record, or put the folder of the photos back")
	}
	doc := records.Document{Issued: issued, Seal: seal, VerifyURL: a.VerifyURL(issued.Number, seal.Code),
		Pictures: pictures}
	file, err := pdf.RenderSealed(doc, a.Key)
	if err != nil {
		return store.Plan{}, err
	}
	plan := store.Plan{Issued: issued, Canonical: canonical, Seal: seal, PDF: file}
	if issued.Record.Contact.Email != "" {
		link := store.Link{Token: store.NewToken(), ForName: issued.Record.Contact.Name,
			ForEmail: issued.Record.Contact.Email, ExpiresAt: issued.IssuedAt.Add(linkLife)}
		plan.Links = append(plan.Links, link)
		plan.Messages = append(plan.Messages, recordLetter(doc, a.CustomerURL(link.Token), len(file) <= mostAttached))
	}
	return plan, nil
}

// landlordDeadline returns the day set for the appliance's landlord check
// before this record; for an amendment, the one before the record it replaces.
func (a *App) landlordDeadline(ctx context.Context, r *records.Record) (records.Date, error) {
	replaced := ""
	if r.Replaces != "" {
		row, err := a.Store.Records.Issued(ctx, r.Replaces)
		if err != nil {
			return records.Date{}, err
		}
		replaced = row.ID
	}
	duties, err := a.Store.Duties.OfAppliance(ctx, r.ApplianceID)
	if err != nil {
		return records.Date{}, err
	}
	for _, d := range duties {
		before := !d.Closed()
		if replaced != "" {
			before = d.ClosedRecordID == replaced
		}
		if d.Duty.Kind == records.LandlordCheckDue && before {
			return d.Duty.Due, nil
		}
	}
	return records.Date{}, nil
}
