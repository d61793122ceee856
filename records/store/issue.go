package store

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"fmt"
	"time"

	"gaugebook/records"
)

// Plan is everything that issuing a record writes, made before any of it is
// written.
type Plan struct {
	Issued    records.Issued
	Canonical []byte // of Issued
	Seal      records.Seal
	PDF       []byte
	Messages  []records.Message
	Links     []Link // with their tokens, of which only the hash is stored
}

// check refuses a plan whose parts do not belong together.
func (p Plan) check(number string, at time.Time) error {
	canonical, err := p.Issued.Canonical()
	switch {
	case err != nil:
		return fmt.Errorf("encoding the record: %w", err)
	case p.Issued.Number != number || !p.Issued.IssuedAt.Equal(at):
		return fmt.Errorf("the record was prepared as %s at %s, not as %s at %s", p.Issued.Number, p.Issued.IssuedAt,
			number, at)
	case !bytes.Equal(canonical, p.Canonical):
		return fmt.Errorf("the canonical JSON is not that of the record")
	case !p.Seal.Holds(p.Canonical, ed25519.PublicKey(p.Seal.PublicKey)):
		return fmt.Errorf("the seal does not hold")
	case !bytes.HasPrefix(p.PDF, []byte("%PDF-")):
		return fmt.Errorf("the printed record is no PDF")
	case p.Issued.Standing != records.StandingOf(p.Issued.Findings):
		return fmt.Errorf("the standing %q is not that of the findings", p.Issued.Standing)
	}
	return records.ReadyToIssue(p.Issued.Findings, p.Issued.Record.Condition)
}

// Issue turns a draft into an issued record, or changes nothing at all and
// uses no number. Numbers have no gaps within a year (UTC). While prepare
// runs the database takes no other writes; prepare may read from the store
// but must not write to it. Errors: NotFound; Conflict when the draft was
// changed or issued since it had the revision, when the record it replaces no
// longer stands, or when it is a second commissioning record; NotReady;
// Invalid; whatever prepare returns.
func (s Records) Issue(ctx context.Context, actor records.Actor, draftID string, revision int,
	prepare func(number string, at time.Time, draft *records.Record) (Plan, error)) (out IssuedRow, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		row, draft, err := readRecord(t.DB, draftID)
		if err != nil {
			return err
		}
		replaced, err := t.issuable(row, draft, revision)
		if err != nil {
			return err
		}
		at := t.at.Truncate(time.Second)
		number, err := t.nextNumber(at.Year())
		if err != nil {
			return err
		}
		plan, err := prepare(number, at, draft)
		if err != nil {
			return err
		}
		if err := plan.check(number, at); err != nil {
			return err
		}
		if err := t.writeIssued(&row, plan); err != nil {
			return err
		}
		if err := t.afterIssue(&row, replaced, plan); err != nil {
			return err
		}
		if out, err = readIssued(t.DB, row.N); err != nil {
			return err
		}
		return t.log("record issued", row.ID, detail{"number": number, "sha256": plan.Seal.SHA256,
			"standing": row.Standing,
			"replaces": row.Replaces, "duties": len(plan.Issued.Duties), "messages": len(plan.Messages)})
	})
	return out, err
}

// issuable returns the record that the draft replaces, if any, once nothing
// stands in the way of issuing.
func (t *tx) issuable(row recordRow, draft *records.Record, revision int) (*recordRow, error) {
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
	replaced, err := t.replaced(row.Replaces, row.ApplianceN)
	if err != nil || draft.Purpose != records.Commissioning {
		return replaced, err
	}
	var others []string
	err = t.Model(&recordRow{}).Where("appliance_n = ? AND stage = 'issued' AND purpose = ? AND number <> ?",
		row.ApplianceN, records.Commissioning, row.Replaces).Limit(1).Pluck("number", &others).Error
	if err == nil && len(others) > 0 {
		err = records.Fail(records.Conflict, "the appliance has a commissioning record in force, "+others[0]+
			": amend that one")
	}
	return replaced, err
}

// replaced returns the issued record of that number, which must stand and be
// of the same appliance; nil for "".
func (t *tx) replaced(number string, applianceN int64) (*recordRow, error) {
	if number == "" {
		return nil, nil
	}
	var row recordRow
	if err := one(t.Where("number = ?", number), &row, "record", number); err != nil {
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

// nextNumber takes the year's next number; it is given back if the
// transaction comes to nothing.
func (t *tx) nextNumber(year int) (string, error) {
	var n int
	err := t.Raw("INSERT INTO numbers (year, last) VALUES (?, 1) ON CONFLICT (year) DO UPDATE SET last = last + 1 "+
		"RETURNING last", year).Scan(&n).Error
	if err == nil && n == 0 {
		err = fmt.Errorf("no number for %d", year)
	}
	return records.NumberOf(year, n), err
}

// writeIssued writes the record as issued and freezes it.
func (t *tx) writeIssued(row *recordRow, p Plan) error {
	frozen := *p.Issued.Record
	frozen.Findings, frozen.Rejected = p.Issued.Findings, nil
	if err := row.enterRecord(&frozen); err != nil {
		return err
	}
	row.Stage, row.Number, row.Code, row.SHA256 = string(records.StageIssued), p.Issued.Number, p.Seal.Code,
		p.Seal.SHA256
	row.IssuedAt, row.UpdatedAt = stamp(p.Issued.IssuedAt), stamp(t.at)
	if err := t.Save(row).Error; err != nil {
		return err
	}
	seal, err := records.MarshalSeal(p.Seal)
	if err != nil {
		return err
	}
	if err := t.Create(&documentRow{row.N, p.Canonical, string(seal)}).Error; err != nil {
		return err
	}
	return t.Create(&printRow{row.N, p.PDF}).Error
}

// afterIssue writes what follows from the issue.
func (t *tx) afterIssue(row, replaced *recordRow, p Plan) error {
	if replaced != nil {
		if err := t.Model(replaced).Updates(map[string]any{"stage": string(records.Amended),
			"replaced_by": row.Number}).Error; err != nil {
			return err
		}
		if err := t.cancelMessages(replaced.ID, "record "+replaced.Number+" was amended by "+row.Number); err != nil {
			return err
		}
		gone := *replaced
		gone.ReplacedBy = row.Number
		if err := t.announceRecord(records.EventRecordAmended, gone); err != nil {
			return err
		}
	}
	if err := t.announceRecord(records.EventRecordIssued, *row); err != nil {
		return err
	}
	if err := t.issueDuties(row, replaced, p.Issued.Duties); err != nil {
		return err
	}
	if err := t.attendBookings(row); err != nil {
		return err
	}
	if err := t.takeValues(row, p.Issued.Record.Values); err != nil {
		return err
	}
	if err := t.refresh(row.ApplianceN); err != nil {
		return err
	}
	for _, m := range p.Messages {
		if m.RecordID == "" {
			m.RecordID = row.ID
		}
		if _, err := t.enqueue(m); err != nil {
			return err
		}
	}
	for _, l := range p.Links {
		if _, err := t.addLink(row.N, l); err != nil {
			return err
		}
	}
	return nil
}

// takeValues makes the register say of the appliance what its latest visit
// found.
func (t *tx) takeValues(row *recordRow, vs records.Values) error {
	var later int64
	err := t.Model(&recordRow{}).Where("appliance_n = ? AND stage = 'issued' AND work_date > ?", row.ApplianceN,
		row.WorkDate).Limit(1).Count(&later).Error
	if err != nil || later > 0 {
		return err
	}
	var a applianceRow
	if err := t.Where("n = ?", row.ApplianceN).Take(&a).Error; err != nil {
		return err
	}
	return t.saveValues(&a, vs)
}
