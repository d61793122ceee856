package server

import (
	"context"
	"crypto/ed25519"
	"errors"
	"time"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
)

// Book holds the use cases of a record, from start to issue, without HTTP:
// the pages, the API and the demo register all go through it.
type Book struct {
	Store   *store.Store
	Key     ed25519.PrivateKey // signs what is issued
	BaseURL string             // of this server as the customer reaches it, no slash at the end
	Now     func() time.Time
	Zone    *time.Location // where the firm works; decides what day it is
	// Draw prints a record; nil is pdf.RenderSealed.
	Draw func(records.Document, ed25519.PrivateKey) ([]byte, error)
}

// Entries is what a person filled in: single fields by key, rows by key. A
// field that is not named is left as it is; a blank one is cleared.
type Entries struct {
	Fields map[string]string
	Rows   map[string][]map[string]string
}

// Today returns the firm's calendar date.
func (b *Book) Today() records.Date { return records.DateOf(b.Now().In(b.Zone)) }

// onlyEngineers refuses, in the words given, whoever does not take readings.
func onlyEngineers(who records.Person, refusal string) error {
	if !engineers.allows(who.Role) {
		return records.Fail(records.Forbidden, refusal)
	}
	return nil
}

// Facts gathers what the rules may know beyond the record itself. An
// amendment is not compared with the record it replaces. Kinds: NotFound.
func (b *Book) Facts(ctx context.Context, r *records.Record) (records.Facts, error) {
	bands, err := b.Store.Settings.DropBands(ctx)
	if err != nil {
		return records.Facts{}, err
	}
	earlier, err := b.Store.Records.Earlier(ctx, r.ApplianceID, r.Replaces)
	return records.Facts{DropBands: bands, Earlier: earlier}, err
}

// Start opens a draft for a visit to an appliance. Kinds: NotFound, Invalid
// for a purpose or date that cannot be, Forbidden for a person who may not
// take readings.
func (b *Book) Start(ctx context.Context, who records.Person, applianceID string, purpose records.Purpose,
	workDate records.Date) (*records.Record, error) {
	if err := onlyEngineers(who, "readings are taken by an engineer: the office cannot start a record"); err != nil {
		return nil, err
	}
	if err := records.CheckWorkDate(workDate, b.Today()); err != nil {
		return nil, err
	}
	appliance, err := b.Store.Register.Appliance(ctx, applianceID)
	if err != nil {
		return nil, err
	}
	firm, err := b.Store.Settings.Firm(ctx)
	if err != nil {
		return nil, err
	}
	r := &records.Record{
		ApplianceID: applianceID, Purpose: purpose, WorkDate: workDate,
		Property: appliance.Property, Contact: appliance.Contact, Firm: firm,
		Engineer: records.Engineer{Name: who.Name, Licence: who.Licence, CompetenceUntil: who.CompetenceUntil},
		Values:   appliance.Values.Clone(), Stage: records.Draft,
	}
	r.SetAside()
	r.Values.Put(records.EngineerName.Field, who.Name)
	if err := r.Check(); err != nil {
		return nil, err
	}
	if err := b.judge(ctx, r); err != nil {
		return nil, err
	}
	return b.Store.Records.StartDraft(ctx, who.Actor(), r)
}

// SaveSection takes what was filled in for one section. Entries that cannot
// be accepted are kept beside the draft with what is wrong with them; a value
// saved before stands until an accepted entry replaces it. The record comes
// back judged. Kinds: NotFound, Conflict for an issued record or a stale
// revision (*store.StaleError), Invalid for a field of another section.
func (b *Book) SaveSection(ctx context.Context, who records.Person, id string, revision int, section records.SectionID,
	in Entries) (*records.Record, error) {
	return b.change(ctx, who, id, revision, func(r *records.Record) error {
		s := records.SectionByID(section)
		if s == nil {
			return &records.Error{Kind: records.NotFound, Field: "section", Value: string(section),
				Msg: "there is no such section"}
		}
		return b.enter(ctx, r, section, in)
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
func (b *Book) SaveChange(ctx context.Context, who records.Person, id string, revision int, in Change) (*records.Record,
	error) {
	return b.change(ctx, who, id, revision, func(r *records.Record) error {
		if !in.WorkDate.IsZero() {
			if err := b.setWorkDate(r, in.WorkDate); err != nil {
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
		return b.nameInstruments(ctx, r)
	})
}

// LeaveOut drops an entry of a draft that was not accepted. Kinds as
// SaveSection, and NotFound when there is no such entry.
func (b *Book) LeaveOut(ctx context.Context, who records.Person, id string, revision int, key string) (*records.Record,
	error) {
	return b.change(ctx, who, id, revision, func(r *records.Record) error {
		if _, ok := r.Rejected[key]; !ok {
			return &records.Error{Kind: records.NotFound, Field: "key", Value: key,
				Msg: "the draft has no such entry"}
		}
		delete(r.Rejected, key)
		return nil
	})
}

// nameInstruments copies the instruments that the values name into the
// record, as they are now.
func (b *Book) nameInstruments(ctx context.Context, r *records.Record) error {
	known, err := b.instruments(ctx)
	if err != nil {
		return err
	}
	for key, v := range r.Values {
		f := records.FieldByKey(key)
		if f != nil && f.Kind == records.InstrumentKind {
			if _, ok := known[v.Text()]; !ok {
				return &records.Error{Kind: records.Invalid, Field: key, Label: f.Label, Value: v.Text(),
					Want: f.Accepts()}
			}
		}
	}
	r.Instruments = instrumentsOf(r.Values, known)
	return nil
}

func (b *Book) instruments(ctx context.Context) (map[string]records.Instrument, error) {
	firm, err := b.Store.Settings.Instruments(ctx)
	if err != nil {
		return nil, err
	}
	known := make(map[string]records.Instrument, len(firm))
	for _, i := range firm {
		known[i.ID] = i
	}
	return known, nil
}

// SaveWorkDate moves the date of the work, which decides the editions.
func (b *Book) SaveWorkDate(ctx context.Context, who records.Person, id string, revision int,
	date records.Date) (*records.Record, error) {
	return b.change(ctx, who, id, revision, func(r *records.Record) error {
		return b.setWorkDate(r, date)
	})
}

func (b *Book) setWorkDate(r *records.Record, date records.Date) error {
	r.WorkDate = date
	return records.CheckWorkDate(date, b.Today())
}

// SaveCondition keeps the condition report with the draft.
func (b *Book) SaveCondition(ctx context.Context, who records.Person, id string, revision int,
	report records.ConditionReport) (*records.Record, error) {
	return b.change(ctx, who, id, revision, func(r *records.Record) error {
		return setCondition(r, report)
	})
}

func setCondition(r *records.Record, report records.ConditionReport) (err error) {
	r.Condition, err = report.Checked()
	return err
}

// change loads a draft, lets edit change it, judges it again and saves it.
func (b *Book) change(ctx context.Context, who records.Person, id string, revision int,
	edit func(*records.Record) error) (*records.Record, error) {
	if err := onlyEngineers(who, "readings are entered by an engineer"); err != nil {
		return nil, err
	}
	r, err := b.Store.Records.Record(ctx, id)
	if err != nil {
		return nil, err
	}
	if r.Stage != records.Draft {
		return nil, records.Fail(records.Conflict, "this record has been issued and cannot change; amend it instead")
	}
	if err := edit(r); err != nil {
		return nil, err
	}
	if err := b.judge(ctx, r); err != nil {
		return nil, err
	}
	return b.Store.Records.SaveDraft(ctx, who.Actor(), r, revision)
}

// judge evaluates the rules anew.
func (b *Book) judge(ctx context.Context, r *records.Record) error {
	facts, err := b.Facts(ctx, r)
	if err != nil {
		return err
	}
	r.Findings = rules.Evaluate(r, facts)
	return nil
}

// enter parses the entries into the record. section "" allows every section.
func (b *Book) enter(ctx context.Context, r *records.Record, section records.SectionID, in Entries) error {
	known, err := b.instruments(ctx)
	if err != nil {
		return err
	}
	if r.Rejected == nil {
		r.Rejected = map[string]records.Rejection{}
	}
	for key, entry := range in.Fields {
		f := records.FieldByKey(key)
		if f == nil || section != "" && f.Section() != section {
			return &records.Error{Kind: records.Invalid, Field: key, Msg: "there is no such field in this section"}
		}
		v, err := f.Parse(entry)
		if err == nil && f.Kind == records.InstrumentKind && v.Present() {
			if _, ok := known[v.Text()]; !ok {
				err = &records.Error{Kind: records.Invalid, Field: key, Label: f.Label, Value: v.Text(),
					Want: f.Accepts()}
			}
		}
		put(r, key, v, err, entry)
	}
	for key, rows := range in.Rows {
		f := records.FieldByKey(key)
		if f == nil || f.Kind != records.RowsKind || section != "" && f.Section() != section {
			return &records.Error{Kind: records.Invalid, Field: key, Msg: "there is no such list in this section"}
		}
		v, errs := records.RowsField{Field: f}.ParseRows(rows)
		var err error
		if len(errs) > 0 {
			err = errs
		}
		put(r, key, v, err, records.EntryOfRows(rows))
	}
	r.Instruments = instrumentsOf(r.Values, known)
	return nil
}

// put stores an accepted value, or keeps a refused entry beside it.
func put(r *records.Record, key string, v records.Value, err error, entry string) {
	delete(r.Rejected, key)
	switch {
	case err != nil:
		r.Rejected[key] = records.NewRejection(entry, err)
	case v.Present():
		r.Values[key] = v
	default:
		delete(r.Values, key)
	}
}

// instrumentsOf returns the instruments that the values name, as they are
// now, in the order of the fields.
func instrumentsOf(vs records.Values, known map[string]records.Instrument) []records.Instrument {
	var out []records.Instrument
	seen := map[string]bool{}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			id := vs[f.Key].Text()
			if f.Kind != records.InstrumentKind || seen[id] {
				continue
			}
			if i, ok := known[id]; ok {
				seen[id] = true
				out = append(out, i)
			}
		}
	}
	return out
}

// Amend opens a draft with the readings of an issued record, to be issued in
// its place. Kinds: NotFound, Conflict when it is not in force, Invalid
// without a reason.
func (b *Book) Amend(ctx context.Context, who records.Person, id, why string) (*records.Record, error) {
	row, err := b.Store.Records.Issued(ctx, id)
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
	r, err := b.Store.Records.Record(ctx, id)
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
	if err := b.judge(ctx, next); err != nil {
		return nil, err
	}
	return b.Store.Records.StartDraft(ctx, who.Actor(), next)
}

// Withdraw takes an issued record out of force. Kinds: NotFound, Conflict,
// Invalid without a reason.
func (b *Book) Withdraw(ctx context.Context, who records.Person, id, why string) error {
	if why == "" {
		return &records.Error{Kind: records.Invalid, Field: "why", Label: "Why it is withdrawn",
			Want: "a reason; it is shown to whoever checks the record"}
	}
	return b.Store.Records.Withdraw(ctx, who.Actor(), id, why)
}

// Document returns all that is printed of an issued record. Kinds: NotFound.
func (b *Book) Document(ctx context.Context, id string) (records.Document, error) {
	row, err := b.Store.Records.Issued(ctx, id)
	if err != nil {
		return records.Document{}, err
	}
	issued, err := records.DecodeIssued(row.Canonical)
	if err != nil {
		return records.Document{}, err
	}
	pictures, _, err := b.pictures(issued.Record)
	return records.Document{Issued: issued, Seal: row.Seal, VerifyURL: b.verifyURL(row.Number, row.Seal.Code),
		Pictures: pictures}, err
}

func (b *Book) verifyURL(number, code string) string { return b.BaseURL + "/v/" + number + "/" + code }

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
func (b *Book) Verify(ctx context.Context, number, code string) (Verdict, error) {
	v := Verdict{Number: number}
	row, err := b.Store.Records.Issued(ctx, number)
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
	if !row.Seal.Holds(row.Canonical, b.Key.Public().(ed25519.PublicKey)) {
		return v, errors.New("record " + number + " does not match its own seal")
	}
	kind := records.ApplianceKind.ChoiceLabel(issued.Record.Values.Choice(records.ApplianceKind))
	return Verdict{Belongs: true, Number: number, Stage: row.Stage, ReplacedBy: row.ReplacedBy, Why: row.WithdrawnWhy,
		Kind: kind, WorkDate: issued.Record.WorkDate,
		IssuedAt: issued.IssuedAt, SHA256: row.Seal.SHA256}, nil
}
