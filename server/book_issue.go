package server

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
func (b *Book) Issue(ctx context.Context, who store.Person, id string, revision int) (store.IssuedRow, error) {
	r, err := b.Store.Record(ctx, id)
	if err != nil {
		return store.IssuedRow{}, err
	}
	if err := onlyEngineers(who, "a record is issued by the engineer who answers for it"); err != nil {
		return store.IssuedRow{}, err
	}
	appliance, err := b.Store.Appliance(ctx, r.ApplianceID)
	if err != nil {
		return store.IssuedRow{}, err
	}
	facts, err := b.Facts(ctx, r)
	if err != nil {
		return store.IssuedRow{}, err
	}
	firm, err := b.Store.Firm(ctx)
	if err != nil {
		return store.IssuedRow{}, err
	}
	deadline, err := b.landlordDeadline(ctx, r)
	if err != nil {
		return store.IssuedRow{}, err
	}
	earlier, err := b.earlierVisits(ctx, r)
	if err != nil {
		return store.IssuedRow{}, err
	}
	return b.Store.Issue(ctx, actor(who), id, revision, func(number string, at time.Time,
		draft *records.Record) (store.Plan, error) {
		// Who and where are those of the day of issue, not of the first reading.
		draft.Property, draft.Contact, draft.Firm = appliance.Property, appliance.Contact, firm
		if err := b.mayIssue(draft); err != nil {
			return store.Plan{}, err
		}
		findings := rules.Evaluate(draft, facts)
		if err := records.ReadyToIssue(findings, draft.Condition); err != nil {
			return store.Plan{}, err
		}
		draft.Condition = answering(draft.Condition, findings)
		return b.plan(records.Issued{
			Number: number, IssuedAt: at.UTC().Truncate(time.Second), Record: draft, Findings: findings,
			Standing: records.StandingOf(findings), Duties: due.ForIssue(draft, deadline), Earlier: earlier,
		})
	})
}

// earlierShown is how many visits before this one a record shows the drift of.
const earlierShown = 6

// earlierVisits returns the followed readings of the appliance's last visits
// that are in force, oldest first.
func (b *Book) earlierVisits(ctx context.Context, r *records.Record) ([]records.EarlierVisit, error) {
	history, err := b.Store.History(ctx, r.ApplianceID)
	if err != nil {
		return nil, err
	}
	var out []records.EarlierVisit
	for _, line := range history { // newest first
		if line.Stage != records.StageIssued || line.Number == r.Replaces || line.WorkDate.After(r.WorkDate) {
			continue
		}
		before, err := b.Store.Record(ctx, line.ID)
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
func (b *Book) mayIssue(r *records.Record) error {
	if err := records.CheckWorkDate(r.WorkDate, b.Today()); err != nil {
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
func (b *Book) plan(issued records.Issued) (store.Plan, error) {
	canonical, err := issued.Canonical()
	if err != nil {
		return store.Plan{}, err
	}
	seal := records.SealOf(canonical, b.Key)
	pictures, lost, err := b.pictures(issued.Record)
	if err != nil {
		return store.Plan{}, err
	}
	if len(lost) > 0 {
		return store.Plan{}, records.Fail(records.NotReady, strings.Join(lost, " and ")+
			" cannot be read from the disk any more: remove it from the record, or put the folder of the photos back")
	}
	doc := records.Document{Issued: issued, Seal: seal, VerifyURL: b.verifyURL(issued.Number, seal.Code),
		Pictures: pictures}
	file, err := pdf.RenderSealed(doc, b.Key)
	if err != nil {
		return store.Plan{}, err
	}
	plan := store.Plan{Issued: issued, Canonical: canonical, Seal: seal, PDF: file}
	if issued.Record.Contact.Email != "" {
		link := store.Link{Token: store.NewToken(), ForName: issued.Record.Contact.Name,
			ForEmail: issued.Record.Contact.Email, ExpiresAt: issued.IssuedAt.Add(linkLife)}
		plan.Links = append(plan.Links, link)
		plan.Messages = append(plan.Messages, recordLetter(doc, b.customerURL(link.Token), len(file) <= mostAttached))
	}
	return plan, nil
}

// landlordDeadline returns the day set for the appliance's landlord check
// before this record; for an amendment, the one before the record it replaces.
func (b *Book) landlordDeadline(ctx context.Context, r *records.Record) (records.Date, error) {
	replaced := ""
	if r.Replaces != "" {
		row, err := b.Store.Issued(ctx, r.Replaces)
		if err != nil {
			return records.Date{}, err
		}
		replaced = row.ID
	}
	duties, err := b.Store.ApplianceDuties(ctx, r.ApplianceID)
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
