package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"gaugebook/records"
)

type recordRow struct {
	N                                   int64 `gorm:"primaryKey" line:"-"`
	ID                                  string
	ApplianceN                          int64  `line:"appliances"`
	Purpose                             string `line:"-"`
	Stage                               string
	Standing                            string `line:"-"`
	WorkDate                            string `line:"-"`
	EngineerID                          string // who the draft is, or was when it was issued
	Engineer                            string `line:"-"`
	Revision                            int
	Schema                              int    `line:"-"`
	Doc                                 string `line:"-"`
	Rejected                            string `line:"-"`
	Findings                            string `line:"-"`
	Replaces                            string `line:"-"`
	Number                              string `line:"-"`
	Code                                string `line:"-"`
	SHA256                              string `gorm:"column:sha256" line:"-"`
	IssuedAt                            string `line:"-"`
	ReplacedBy, WithdrawnWhy, CreatedAt string
	UpdatedAt                           string
	TakenOver                           string `line:"-"` // from whom, as JSON; "" for nobody
}

func (recordRow) TableName() string { return "records" }

// What setRecord writes: the record as JSON, and copies to list it by.
var (
	recordDocs   = []string{"doc", "rejected", "findings"}
	recordCopies = []string{"purpose", "standing", "work_date", "engineer", "schema", "replaces"}
)

// enterRecord copies a record that is being entered into the row. Errors:
// Invalid when it is too long or today's fields do not accept it.
func (row *recordRow) enterRecord(r *records.Record) error {
	if err := row.setRecord(r); err != nil {
		return err
	}
	// A draft may still lack what an issued record must have, so what Check
	// says of it is not an error here.
	if back, err := records.DecodeRecord(strings.NewReader(row.Doc)); back == nil {
		return err
	}
	return nil
}

// setRecord copies a record of any version into the row.
func (row *recordRow) setRecord(r *records.Record) error {
	doc, err := records.EncodeRecord(r)
	if err != nil {
		return fmt.Errorf("encoding the record: %w", err)
	}
	rejected, err := toJSON(r.Rejected)
	if err != nil {
		return err
	}
	if len(rejected) > records.MaxDocument {
		return &records.Error{Kind: records.Invalid, Field: "rejected", Label: "Entries not accepted",
			Msg: "longer than can be kept", Want: fmt.Sprintf("at most %d bytes", records.MaxDocument)}
	}
	findings, err := toJSON(r.Findings)
	if err != nil {
		return err
	}
	row.Doc, row.Rejected, row.Findings, row.Schema = string(doc), rejected, findings, records.SchemaVersion
	row.Purpose, row.WorkDate, row.Engineer, row.Replaces = string(r.Purpose), r.WorkDate.String(), r.Engineer.Name,
		r.Replaces
	row.Standing = string(records.StandingOf(r.Findings))
	return nil
}

// record returns the row as a record, as any version stored it. What today's
// fields do not accept of a draft is among its rejected entries.
func (row recordRow) record(applianceID string) (*records.Record, error) {
	r, err := records.DecodeStored([]byte(row.Doc))
	if err != nil {
		return nil, fmt.Errorf("reading record %s: %v", row.ID, err)
	}
	r.ID, r.ApplianceID, r.Stage, r.Revision, r.UpdatedAt = row.ID, applianceID, records.Stage(row.Stage),
		row.Revision, instant(row.UpdatedAt)
	if err := fromJSON(row.Rejected, &r.Rejected); err != nil {
		return nil, err
	}
	if r.Stage == records.Draft {
		r.SetAside()
	}
	r.HolderID = row.EngineerID
	if row.TakenOver != "" {
		if err := fromJSON(row.TakenOver, &r.TakenOverFrom); err != nil {
			return nil, err
		}
	}
	return r, fromJSON(row.Findings, &r.Findings)
}

// readRecord reads a record and the id of its appliance.
func readRecord(db *gorm.DB, id string) (recordRow, *records.Record, error) {
	var row recordRow
	if err := one(db.Where("id = ?", id), &row, "record", id); err != nil {
		return row, nil, err
	}
	var a applianceRow
	if err := db.Select("id").Where("n = ?", row.ApplianceN).Take(&a).Error; err != nil {
		return row, nil, err
	}
	r, err := row.record(a.ID)
	return row, r, err
}

// Record returns a record at any stage, by id. Errors: NotFound.
func (s Records) Record(ctx context.Context, id string) (r *records.Record, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		_, r, err = readRecord(db, id)
		return err
	})
	return r, err
}

// StartDraft begins a record of a visit to r.ApplianceID. Address, contact
// and appliance values that are left blank are filled in from the register.
// An id that the caller chose is kept, so that a phone may name a draft while
// it has no signal; starting the same one again returns it as it is. Errors:
// Invalid; NotFound; Conflict when the appliance is retired, the id is that
// of something else, or r.Replaces cannot be amended.
func (s Records) StartDraft(ctx context.Context, actor records.Actor,
	r *records.Record) (out *records.Record, err error) {
	if len(r.ID) > 64 || strings.Trim(r.ID, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") != "" {
		return nil, &records.Error{Kind: records.Invalid, Field: "id", Label: "Id", Value: clip(r.ID),
			Want: "at most 64 letters, digits, - and _"}
	}
	draft := *r
	err = s.write(ctx, actor, func(t *tx) error {
		a, err := t.appliance(draft.ApplianceID)
		if err != nil {
			return err
		}
		if draft.ID == "" {
			draft.ID = t.newID()
		} else if found, err := t.started(&draft, a, actor); found != nil || err != nil {
			out = found
			return err
		}
		if a.Retired {
			return records.Fail(records.Conflict, "the appliance was retired: "+a.RetiredWhy)
		}
		if _, err := readReplaced(t.DB, draft.Replaces, a.N); err != nil {
			return err
		}
		if err := t.prefill(&draft, a); err != nil {
			return err
		}
		row := recordRow{ID: draft.ID, ApplianceN: a.N, Stage: string(records.Draft), EngineerID: actor.ID, Revision: 1,
			CreatedAt: stamp(t.at), UpdatedAt: stamp(t.at)}
		if err := row.enterRecord(&draft); err != nil {
			return err
		}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		if out, err = row.record(a.ID); err != nil {
			return err
		}
		return t.log("draft started", draft.ID, detail{"appliance": a.ID, "purpose": draft.Purpose,
			"replaces": draft.Replaces})
	})
	return out, err
}

// started returns the draft of that id if the same person began it before.
func (t *tx) started(draft *records.Record, a applianceRow, actor records.Actor) (*records.Record, error) {
	var rows []recordRow
	if err := t.Where("id = ?", draft.ID).Limit(1).Find(&rows).Error; err != nil || len(rows) == 0 {
		return nil, err
	}
	if rows[0].ApplianceN != a.N || rows[0].EngineerID != actor.ID {
		return nil, records.Fail(records.Conflict, "there is another record with this id")
	}
	return rows[0].record(a.ID)
}

func (t *tx) prefill(draft *records.Record, a applianceRow) error {
	var p propertyRow
	if err := t.Where("n = ?", a.PropertyN).Take(&p).Error; err != nil {
		return err
	}
	if draft.Property == (records.Property{}) {
		draft.Property = p.property()
	}
	if draft.Contact == (records.Contact{}) {
		draft.Contact = p.entry().Contact
	}
	if len(draft.Values) > 0 {
		return nil
	}
	var err error
	if draft.Values, err = storedValues(a.Doc); err == nil {
		draft.SetAside()
	}
	return err
}

// StaleError refuses a save that was based on an earlier revision than the
// stored one, or on a draft that has been issued since. Nothing is lost: the
// stored record is in Current, what was refused is kept under KeptID.
type StaleError struct {
	Current *records.Record
	KeptID  string
}

// Error says what became of the draft.
func (e *StaleError) Error() string { return e.Unwrap().Error() }

// Unwrap makes it a Conflict.
func (e *StaleError) Unwrap() error {
	if e.Current.Stage != records.Draft {
		return records.Fail(records.Conflict,
			"the record was issued meanwhile and can no longer be changed; what you entered has been kept beside it")
	}
	return records.Fail(records.Conflict, "somebody else saved this draft meanwhile; both versions have been kept")
}

// SaveDraft stores a draft that was read at the given revision, and returns
// it at the next. Saving once more what is already stored changes nothing, so
// a phone that got no answer may simply try again. The photos are left as they
// are stored; see Photos. Errors: Invalid; NotFound; *StaleError, a Conflict,
// when it has been changed or issued since.
func (s Records) SaveDraft(ctx context.Context, actor records.Actor, r *records.Record,
	revision int) (out *records.Record, err error) {
	var stale *StaleError
	err = s.write(ctx, actor, func(t *tx) error {
		row, current, err := readRecord(t.DB, r.ID)
		if err != nil {
			return err
		}
		next, draft := row, *r
		draft.Photos = current.Photos
		if err := next.enterRecord(&draft); err != nil {
			return err
		}
		if row.Stage != string(records.Draft) || row.Revision != revision {
			if row.Stage == string(records.Draft) && row.Doc == next.Doc && row.Rejected == next.Rejected {
				out = current
				return nil
			}
			id, err := t.keep(next, "refused", revision)
			stale = &StaleError{current, id}
			return err
		}
		next.Revision, next.UpdatedAt = revision+1, stamp(t.at)
		if err := t.Model(&row).Select("revision", slices.Concat(recordDocs, recordCopies, []string{"updated_at"})).
			Updates(&next).Error; err != nil {
			return err
		}
		if out, err = next.record(current.ApplianceID); err != nil {
			return err
		}
		return t.log("draft saved", r.ID, detail{"revision": next.Revision})
	})
	if err == nil && stale != nil {
		return nil, stale
	}
	return out, err
}

type keptRow struct {
	N                 int64 `gorm:"primaryKey" line:"-"`
	ID, RecordID, Why string
	Revision          int
	ActorName         string
	Doc               string `line:"json"`
	Rejected          string `line:"json"`
	Hash, At          string
}

func (keptRow) TableName() string { return "kept_versions" }

// keep puts a version of a draft aside and returns its id. The same version
// is kept once, however often it is sent.
func (t *tx) keep(row recordRow, why string, revision int) (string, error) {
	sum := sha256.Sum256([]byte(why + "\n" + row.Doc + "\n" + row.Rejected))
	k := keptRow{ID: t.newID(), RecordID: row.ID, Why: why, Revision: revision, ActorName: t.actor.Name, Doc: row.Doc,
		Rejected: row.Rejected, Hash: hex.EncodeToString(sum[:]), At: stamp(t.at)}
	res := t.Clauses(clause.OnConflict{DoNothing: true}).Create(&k)
	if res.Error != nil {
		return "", res.Error
	}
	if res.RowsAffected == 0 {
		return k.ID, t.Model(&keptRow{}).Where("record_id = ? AND hash = ?", k.RecordID, k.Hash).Limit(1).Pluck("id",
			&k.ID).Error
	}
	return k.ID, t.log("draft version kept", row.ID, detail{"version": k.ID, "why": why, "revision": revision})
}

// KeptVersion is a version of a draft that did not become the draft.
type KeptVersion struct {
	ID       string
	Why      string // refused, or discarded
	Revision int    // that it was based on
	By       string
	At       time.Time
	Record   *records.Record
}

// KeptVersions returns what was put aside for a record, newest first.
func (s Records) KeptVersions(ctx context.Context, recordID string) ([]KeptVersion, error) {
	var rows []keptRow
	if err := s.read(ctx).Where("record_id = ?", recordID).Order("n DESC").Limit(200).Find(&rows).Error; err != nil {
		return nil, explain(err)
	}
	return mappedErr(rows, func(k keptRow) (KeptVersion, error) {
		r, err := recordRow{ID: k.RecordID, Doc: k.Doc, Rejected: k.Rejected, Findings: "null", Revision: k.Revision,
			Stage: string(records.Draft)}.record("")
		return KeptVersion{ID: k.ID, Why: k.Why, Revision: k.Revision, By: k.ActorName, At: instant(k.At), Record: r},
			err
	})
}

// DiscardDraft removes a draft; a copy is put aside. Errors: Invalid without
// a reason, NotFound, Conflict when it has been issued.
func (s Records) DiscardDraft(ctx context.Context, actor records.Actor, id, why string) error {
	why, err := records.CheckReason(why)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		row, _, err := readRecord(t.DB, id)
		if err != nil {
			return err
		}
		if row.Stage != string(records.Draft) {
			return records.Fail(records.Conflict, "the record was issued as "+row.Number+" and can only be withdrawn")
		}
		if _, err := t.keep(row, "discarded", row.Revision); err != nil {
			return err
		}
		if err := t.Delete(&row).Error; err != nil {
			return err
		}
		return t.log("draft discarded", id, detail{"why": why})
	})
}
