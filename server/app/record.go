package app

import (
	"context"
	"crypto/ed25519"
	"errors"
	"time"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// Facts gathers what the rules may know beyond the record itself. An
// amendment is not compared with the record it replaces. Kinds: NotFound.
func (a *App) Facts(ctx context.Context, r *records.Record) (records.Facts, error) {
	bands, err := a.Store.Settings.DropBands(ctx)
	if err != nil {
		return records.Facts{}, err
	}
	limits, err := a.Store.Settings.OwnerLimits(ctx)
	if err != nil {
		return records.Facts{}, err
	}
	earlier, err := a.Store.Records.Earlier(ctx, r.ApplianceID, r.Replaces)
	return records.Facts{DropBands: bands, OwnerLimits: limits, Earlier: earlier}, err
}

// Start opens a draft for a visit to an appliance. Kinds: NotFound, Invalid
// for a purpose or date that cannot be, Forbidden for a person who may not
// take readings.
func (a *App) Start(ctx context.Context, who records.Person, applianceID string, purpose records.Purpose,
	workDate records.Date) (*records.Record, error) {
	if err := onlyEngineers(who, "readings are taken by an engineer: the office cannot start a record"); err != nil {
		return nil, err
	}
	if err := records.CheckWorkDate(workDate, a.Today()); err != nil {
		return nil, err
	}
	appliance, err := a.Store.Register.Appliance(ctx, applianceID)
	if err != nil {
		return nil, err
	}
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return nil, err
	}
	r := &records.Record{
		ApplianceID: applianceID, Purpose: purpose, WorkDate: workDate,
		Property: appliance.Property, Contact: appliance.Contact, Firm: firm,
		Engineer: who.Engineer(),
		Values:   appliance.Values.Clone(), Stage: records.Draft,
	}
	r.SetAside()
	r.Values.Put(records.EngineerName.Field, who.Name)
	if err := r.Check(); err != nil {
		return nil, err
	}
	if err := a.judge(ctx, r); err != nil {
		return nil, err
	}
	return a.Store.Records.StartDraft(ctx, who.Actor(), r)
}

// SaveSection takes what was filled in for one section. Entries that cannot
// be accepted are kept beside the draft with what is wrong with them; a value
// saved before stands until an accepted entry replaces it. The record comes
// back judged. Kinds: NotFound, Conflict for an issued record or a stale
// revision (*store.StaleError), Invalid for a field of another section.
func (a *App) SaveSection(ctx context.Context, who records.Person, id string, revision int, section records.SectionID,
	in Entries) (*records.Record, error) {
	return a.change(ctx, who, id, revision, func(r *records.Record) error {
		s := records.SectionByID(section)
		if s == nil {
			return &records.Error{Kind: records.NotFound, Field: "section", Value: string(section),
				Msg: "there is no such section"}
		}
		return a.enter(ctx, r, section, in)
	})
}

// Change is a change of a draft as a program makes it: values that were
// decoded already, keys to clear. Zero parts change nothing.
type Change struct {
	WorkDate  records.Date
	Values    records.Values
	Clear     []string
	Condition *records.ConditionReport
}

// SaveChange makes all of a change or none of it. Kinds as SaveSection, and
// Invalid for an instrument that the firm does not have.
func (a *App) SaveChange(ctx context.Context, who records.Person, id string, revision int, in Change) (*records.Record,
	error) {
	return a.change(ctx, who, id, revision, func(r *records.Record) error {
		if !in.WorkDate.IsZero() {
			if err := setWorkDate(r, in.WorkDate, a.Today()); err != nil {
				return err
			}
		}
		for _, key := range in.Clear {
			if _, rejected := r.Rejected[key]; records.FieldByKey(key) == nil && !rejected {
				return &records.Error{Kind: records.Invalid, Field: "clear", Value: key,
					Want: "keys of fields, as in tightness.drop_mbar"}
			}
			delete(r.Values, key)
			delete(r.Rejected, key)
		}
		for key, v := range in.Values {
			r.Values[key] = v
			delete(r.Rejected, key)
		}
		if in.Condition != nil {
			if err := setCondition(r, *in.Condition); err != nil {
				return err
			}
		}
		return nameInstruments(ctx, a.Store, r)
	})
}

// LeaveOut drops an entry of a draft that was not accepted. Kinds as
// SaveSection, and NotFound when there is no such entry.
func (a *App) LeaveOut(ctx context.Context, who records.Person, id string, revision int, key string) (*records.Record,
	error) {
	return a.change(ctx, who, id, revision, func(r *records.Record) error {
		if _, ok := r.Rejected[key]; !ok {
			return &records.Error{Kind: records.NotFound, Field: "key", Value: key,
				Msg: "the draft has no such entry"}
		}
		delete(r.Rejected, key)
		return nil
	})
}

// SaveWorkDate moves the date of the work, which decides the editions.
func (a *App) SaveWorkDate(ctx context.Context, who records.Person, id string, revision int,
	date records.Date) (*records.Record, error) {
	return a.change(ctx, who, id, revision, func(r *records.Record) error {
		return setWorkDate(r, date, a.Today())
	})
}

func setWorkDate(r *records.Record, date, today records.Date) error {
	r.WorkDate = date
	return records.CheckWorkDate(date, today)
}

// SaveCondition keeps the condition report with the draft.
func (a *App) SaveCondition(ctx context.Context, who records.Person, id string, revision int,
	report records.ConditionReport) (*records.Record, error) {
	return a.change(ctx, who, id, revision, func(r *records.Record) error {
		return setCondition(r, report)
	})
}

func setCondition(r *records.Record, report records.ConditionReport) (err error) {
	r.Condition, err = report.Checked()
	return err
}

// change loads a draft, lets edit change it, judges it again and saves it.
func (a *App) change(ctx context.Context, who records.Person, id string, revision int,
	edit func(*records.Record) error) (*records.Record, error) {
	if err := onlyEngineers(who, "readings are entered by an engineer"); err != nil {
		return nil, err
	}
	r, err := a.Store.Records.Record(ctx, id)
	if err != nil {
		return nil, err
	}
	if r.Stage != records.Draft {
		return nil, records.Fail(records.Conflict, "this record has been issued and cannot change; amend it instead")
	}
	if err := edit(r); err != nil {
		return nil, err
	}
	if who.ID != r.HolderID { // nobody declares what somebody else has changed
		r.Undeclare()
	}
	if err := a.judge(ctx, r); err != nil {
		return nil, err
	}
	return a.Store.Records.SaveDraft(ctx, who.Actor(), r, revision)
}

// TakeOver makes a draft the person's own, to be declared and issued by them.
// The declaration and the engineer's signature, which were somebody else's, are
// cleared. Kinds: NotFound; Forbidden for a person without a licence number or
// competence today; Conflict for a stale revision, an issued record or a draft
// that is theirs already.
func (a *App) TakeOver(ctx context.Context, who records.Person, id string, revision int) (*records.Record, error) {
	if err := who.MayDeclare(a.Today()); err != nil {
		return nil, err
	}
	r, err := a.Store.Records.Record(ctx, id)
	if err != nil {
		return nil, err
	}
	from := records.Signatory{ID: r.HolderID, Name: r.Engineer.Name, Licence: r.Engineer.Licence}
	if p, err := a.Store.People.ByID(ctx, r.HolderID); err == nil {
		from = p.Signatory()
	} else if records.KindOf(err) != records.NotFound {
		return nil, err
	}
	r.Undeclare()
	if r.Replaces == "" {
		r.Engineer = who.Engineer()
		r.Values.Put(records.EngineerName.Field, who.Name)
	}
	if err := a.judge(ctx, r); err != nil {
		return nil, err
	}
	return a.Store.Records.TakeOver(ctx, who.Actor(), r, revision, from)
}

// judge evaluates the rules again.
func (a *App) judge(ctx context.Context, r *records.Record) error {
	facts, err := a.Facts(ctx, r)
	if err != nil {
		return err
	}
	r.Findings = rules.Evaluate(r, facts)
	return nil
}

// Document returns all that is printed of an issued record. Kinds: NotFound.
func (a *App) Document(ctx context.Context, id string) (records.Document, error) {
	row, err := a.Store.Records.Issued(ctx, id)
	if err != nil {
		return records.Document{}, err
	}
	issued, err := records.DecodeIssued(row.Canonical)
	if err != nil {
		return records.Document{}, err
	}
	pictures, _, err := a.pictures(issued.Record)
	return records.Document{Issued: issued, Seal: row.Seal, VerifyURL: a.VerifyURL(row.Number, row.Seal.Code),
		Pictures: pictures}, err
}

// Verdict is the answer to “is this the record that was issued?”.
type Verdict struct {
	Belongs    bool          `json:"belongs"` // number and code are of one issued record
	Number     string        `json:"number"`
	Stage      records.Stage `json:"stage,omitempty"`
	ReplacedBy string        `json:"replaced_by,omitempty"`
	Why        string        `json:"why,omitempty"` // of a withdrawal
	Kind       string        `json:"kind,omitempty"`
	WorkDate   records.Date  `json:"work_date,omitzero"`
	IssuedAt   time.Time     `json:"issued_at,omitzero"`
	SHA256     string        `json:"sha256,omitempty"`
}

// Verify tells whether a number and code belong to an issued record and
// whether it is in force. It gives away nothing unless both fit.
func (a *App) Verify(ctx context.Context, number, code string) (Verdict, error) {
	v := Verdict{Number: number}
	row, err := a.Store.Records.Issued(ctx, number)
	if records.KindOf(err) == records.NotFound && err != nil {
		return v, nil
	}
	if err != nil {
		return v, err
	}
	if row.Number != number || row.Seal.Code != records.NormalCode(code) {
		return v, nil
	}
	issued, err := records.DecodeIssued(row.Canonical)
	if err != nil {
		return v, err
	}
	keys, err := a.Store.Settings.Keys(ctx, a.Key.Public().(ed25519.PublicKey))
	if err != nil {
		return v, err
	}
	if !row.Seal.HoldsFor(row.Canonical, keys) {
		return v, errors.New("record " + number + " does not match its own seal")
	}
	kind := records.ApplianceKind.ChoiceLabel(issued.Record.Values.Choice(records.ApplianceKind))
	return Verdict{Belongs: true, Number: number, Stage: row.Stage, ReplacedBy: row.ReplacedBy, Why: row.WithdrawnWhy,
		Kind: kind, WorkDate: issued.Record.WorkDate,
		IssuedAt: issued.IssuedAt, SHA256: row.Seal.SHA256}, nil
}
