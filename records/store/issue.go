package store

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"reflect"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// Plan is everything that issuing a record writes, made before any of it is
// written.
type Plan struct {
	Issued    records.Issued
	Canonical []byte // of Issued
	Seal      records.Seal
	PDF       []byte // nil: it is drawn later
	Messages  []records.Message
	Links     []Link // with their tokens, of which only the hash is stored
}

// check refuses a plan whose parts do not belong together.
func (p Plan) check(b Basis) error {
	canonical, err := p.Issued.Canonical()
	switch {
	case err != nil:
		return fmt.Errorf("encoding the record: %w", err)
	case p.Issued.Number != b.Number || !p.Issued.IssuedAt.Equal(b.At):
		return fmt.Errorf("the record was prepared as %s at %s, not as %s at %s", p.Issued.Number, p.Issued.IssuedAt,
			b.Number, b.At)
	case !bytes.Equal(canonical, p.Canonical):
		return fmt.Errorf("the canonical JSON is not that of the record")
	case !p.Seal.Holds(p.Canonical, ed25519.PublicKey(p.Seal.PublicKey)):
		return fmt.Errorf("the seal does not hold")
	case !reflect.DeepEqual(p.Issued.Log, b.Log):
		return fmt.Errorf("the record names another entry of the audit log than it was prepared on")
	case p.Issued.Standing != records.StandingOf(p.Issued.Findings):
		return fmt.Errorf("the standing %q is not that of the findings", p.Issued.Standing)
	}
	return records.ReadyToIssue(p.Issued.Findings, p.Issued.Record.Condition)
}

// Issuer makes a record of what it is issued on, in steps: the slow one must
// not run within the transaction.
type Issuer struct {
	// Plan makes the record, its canonical JSON and its seal. It may run within
	// the transaction, so it neither reads nor writes anything else, and the
	// same basis gives the same bytes. It may set fields of the draft.
	Plan func(Basis) (Plan, error)
	// Draw prints the record. What cannot be drawn is not issued. Without it
	// the record is issued without a print; see KeepPDF.
	Draw func(Plan) ([]byte, error)
	// Post makes the messages and links that go out with the record, given the
	// size of its print. It is as pure as Plan, but for new tokens. May be nil.
	Post func(p Plan, printed int) ([]records.Message, []Link)
	// Key signs the audit log as it stands after the issue; nil: nobody does.
	Key ed25519.PrivateKey
}

// plan makes and checks all but the print and what goes out with it.
func (i Issuer) plan(b Basis) (Plan, error) {
	draft := *b.Draft
	b.Draft = &draft // the basis is compared later
	p, err := i.Plan(b)
	if err != nil {
		return p, err
	}
	return p, p.check(b)
}

// draw makes the print of a plan.
func (i Issuer) draw(p Plan) ([]byte, error) {
	if i.Draw == nil {
		return nil, nil
	}
	pdf, err := i.Draw(p)
	if err == nil && !isPDF(pdf) {
		err = errNoPDF
	}
	return pdf, err
}

func (i Issuer) post(p *Plan, printed int) {
	if i.Post != nil {
		p.Messages, p.Links = i.Post(*p, printed)
	}
}

// prepared is a record ready to be written, as long as it is still based on
// what is on file.
type prepared struct {
	basis Basis
	plan  Plan
}

// prepare makes a record ready without keeping any writer waiting.
func (s Records) prepare(ctx context.Context, draftID string, revision int, by Issuer) (out prepared, err error) {
	if out.basis, err = s.basisAhead(ctx, draftID, revision); err != nil {
		return out, err
	}
	if out.plan, err = by.plan(out.basis); err != nil {
		return out, err
	}
	if out.plan.PDF, err = by.draw(out.plan); err != nil {
		return out, err
	}
	by.post(&out.plan, len(out.plan.PDF))
	return out, ctx.Err()
}

// errOutdated ends a transaction whose record was prepared on facts that have
// changed since.
var errOutdated = errors.New("the record was prepared on what is no longer so")

const (
	issueTries = 12          // how often facts may change while a record is prepared
	timeHolds  = time.Minute // how long the time at which a record was prepared may be its time of issue
)

// Issue turns a draft into an issued record, or changes nothing at all and
// uses no number. Numbers have no gaps within a year (UTC) and rise with the
// time of issue.
//
// The record is planned and drawn first, on what is on file and the number
// that comes next, while others go on writing. In the transaction all of it is
// read once more. Where nothing but the number was taken by somebody else, the
// record is planned again with its own and written without its print: printed
// is then false, and the caller draws it from the sealed record (KeepPDF).
// Where facts have changed, all begins again.
//
// Errors: NotFound; Conflict when the draft was changed or issued since it had
// the revision, when the record it replaces is no longer in force, when it is a
// second commissioning record, or when the facts do not hold still; NotReady;
// Invalid; whatever the issuer returns.
func (s Records) Issue(ctx context.Context, actor records.Actor, draftID string, revision int,
	by Issuer) (out IssuedRow, printed bool, err error) {
	for range issueTries {
		ready, err := s.prepare(ctx, draftID, revision, by)
		if err != nil {
			return IssuedRow{}, false, explain(err)
		}
		err = s.write(ctx, actor, func(t *tx) error {
			out, printed, err = t.issue(ready, by)
			return err
		})
		if err == nil {
			return out, printed, nil
		}
		if !errors.Is(err, errOutdated) {
			return IssuedRow{}, false, err
		}
	}
	return IssuedRow{}, false, records.Fail(records.Conflict,
		"what this record is issued on keeps being changed by others: issue it again in a moment")
}

// issue writes a prepared record.
func (t *tx) issue(ready prepared, by Issuer) (out IssuedRow, printed bool, err error) {
	now, row, replaced, err := readBasis(t.DB, ready.basis.Draft.ID, ready.basis.Draft.Revision)
	if err != nil {
		return out, false, err
	}
	if !now.sameFacts(ready.basis) {
		return out, false, errOutdated
	}
	if now.Number, err = t.nextNumber(t.at.Year()); err != nil {
		return out, false, err
	}
	plan, grown := ready.plan, now.Log
	now.At, now.Log = ready.basis.At, ready.basis.Log
	if since := t.at.Sub(now.At); now.Number != ready.basis.Number || since < 0 || since > timeHolds {
		now.At, now.Log = t.at.Truncate(time.Second), grown
		if plan, err = by.plan(now); err != nil {
			return out, false, err
		}
		by.post(&plan, len(ready.plan.PDF))
	}
	if err := t.writeIssued(&row, plan); err != nil {
		return out, false, err
	}
	if err := t.afterIssue(&row, replaced, plan); err != nil {
		return out, false, err
	}
	if out, err = readIssued(t.DB, row.N); err != nil {
		return out, false, err
	}
	printed = plan.PDF != nil
	err = t.log("record issued", row.ID, detail{"number": row.Number, "sha256": plan.Seal.SHA256,
		"standing": row.Standing, "replaces": row.Replaces, "duties": len(plan.Issued.Duties),
		"messages": len(plan.Messages), "printed": printed})
	if err == nil && by.Key != nil {
		_, err = t.signHead(by.Key)
	}
	return out, printed, err
}

// issuable returns the record that the draft replaces, if any, once nothing
// stands in the way of issuing.
func issuable(db *gorm.DB, row recordRow, draft *records.Record, revision int) (*recordRow, error) {
	switch {
	case row.Stage != string(records.Draft):
		return nil, records.Fail(records.Conflict, "the record was issued already, as "+row.Number)
	case row.Revision != revision:
		return nil, records.Fail(records.Conflict,
			fmt.Sprintf("the draft was changed meanwhile: it is at revision %d, not %d; look at it again before it "+
				"is issued", row.Revision, revision))
	}
	if err := draft.NotAccepted(); err != nil {
		return nil, err
	}
	if err := draft.Check(); err != nil {
		return nil, err
	}
	replaced, err := readReplaced(db, row.Replaces, row.ApplianceN)
	if err != nil || draft.Purpose != records.Commissioning {
		return replaced, err
	}
	var others []string
	err = db.Model(&recordRow{}).
		Where("appliance_n = ? AND stage = 'issued' AND purpose = ? AND number <> ?",
			row.ApplianceN, records.Commissioning, row.Replaces).
		Limit(1).Pluck("number", &others).Error
	if err == nil && len(others) > 0 {
		err = records.Fail(records.Conflict, "the appliance has a commissioning record in force, "+others[0]+
			": amend that one")
	}
	return replaced, err
}

// readReplaced returns the issued record of that number, which must stand and
// be of the same appliance; nil for "".
func readReplaced(db *gorm.DB, number string, applianceN int64) (*recordRow, error) {
	if number == "" {
		return nil, nil
	}
	var row recordRow
	if err := one(db.Where("number = ?", number), &row, "record", number); err != nil {
		return nil, err
	}
	switch {
	case row.ApplianceN != applianceN:
		return nil, records.Fail(records.Conflict, "record "+number+" is of another appliance")
	case row.Stage == string(records.Amended):
		return nil, records.Fail(records.Conflict, "record "+number+" was amended already, by "+row.ReplacedBy+
			": amend that one")
	case row.Stage != string(records.StageIssued):
		return nil, records.Fail(records.Conflict, "record "+number+" was withdrawn: "+row.WithdrawnWhy)
	}
	return &row, nil
}
