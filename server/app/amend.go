package app

import (
	"context"

	"gaugebook/records"
)

// Amend opens a draft with the readings of an issued record, to be issued in
// its place by whoever amends it. Its engineer stays the one who took the
// readings. Kinds: NotFound, Conflict when it is not in force, Invalid
// without a reason.
func (a *App) Amend(ctx context.Context, who records.Person, id, why string) (*records.Record, error) {
	row, err := a.Store.Records.Issued(ctx, id)
	if err != nil {
		return nil, err
	}
	if row.Stage != records.StageIssued {
		return nil, records.Fail(records.Conflict,
			"record "+row.Number+" is no longer in force, so it cannot be amended")
	}
	if why == "" {
		return nil, &records.Error{Kind: records.Invalid, Field: "why", Label: "Why it is amended",
			Want: "a reason; it is printed on the new record"}
	}
	r, err := a.Store.Records.Record(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := onlyEngineers(who, "readings are amended by an engineer"); err != nil {
		return nil, err
	}
	next := &records.Record{
		ApplianceID: r.ApplianceID, Purpose: r.Purpose, WorkDate: r.WorkDate, Property: r.Property, Contact: r.Contact,
		Engineer: r.Engineer, Firm: r.Firm, Instruments: r.Instruments, Values: r.Values.Clone(), Photos: r.Photos,
		Condition: r.Condition,
		Stage:     records.Draft, Replaces: row.Number, AmendReason: why,
	}
	next.SetAside()
	next.Undeclare() // whoever amends makes a declaration of their own
	if err := a.judge(ctx, next); err != nil {
		return nil, err
	}
	return a.Store.Records.StartDraft(ctx, who.Actor(), next)
}

// Withdraw takes an issued record out of force. Kinds: NotFound, Conflict,
// Invalid without a reason.
func (a *App) Withdraw(ctx context.Context, who records.Person, id, why string) error {
	if why == "" {
		return &records.Error{Kind: records.Invalid, Field: "why", Label: "Why it is withdrawn",
			Want: "a reason; it is shown to anybody who checks the record"}
	}
	return a.Store.Records.Withdraw(ctx, who.Actor(), id, why)
}
