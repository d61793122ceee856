package store

import (
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"gaugebook/records"
)

// TakeOver makes a draft that was read at the given revision the actor's, who
// then is the one to declare it. It is saved as it is given; from is whom it
// was taken over from, and stays with it. Errors: Invalid; NotFound; Conflict
// when it is the actor's already, or has been changed or issued since.
func (s Records) TakeOver(ctx context.Context, actor records.Actor, r *records.Record, revision int,
	from records.Signatory) (out *records.Record, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		row, current, err := readRecord(t.DB, r.ID)
		if err != nil {
			return err
		}
		switch {
		case row.Stage != string(records.Draft):
			return records.Fail(records.Conflict, "the record was issued already, as "+row.Number)
		case row.EngineerID == actor.ID:
			return records.Fail(records.Conflict, "the draft is yours already")
		case row.Revision != revision || row.EngineerID != from.ID:
			return records.Fail(records.Conflict, fmt.Sprintf("the draft was changed meanwhile: it is at revision %d, "+
				"not %d; look at it again before you take it over", row.Revision, revision))
		}
		next, draft := row, *r
		draft.Photos = current.Photos
		if err := next.enterRecord(&draft); err != nil {
			return err
		}
		if next.TakenOver, err = toJSON(append(slices.Clone(current.TakenOverFrom), from)); err != nil {
			return err
		}
		next.EngineerID, next.Revision, next.UpdatedAt = actor.ID, revision+1, stamp(t.at)
		if err := t.Model(&row).Select("revision", slices.Concat(recordDocs, recordCopies,
			[]string{"engineer_id", "taken_over", "updated_at"})).Updates(&next).Error; err != nil {
			return err
		}
		if out, err = next.record(current.ApplianceID); err != nil {
			return err
		}
		return t.log("draft taken over", r.ID, detail{"from": from.ID, "from_name": from.Name,
			"revision": next.Revision})
	})
	return out, err
}

// readHolder returns the person a draft is. Of one who has no account in this
// register only id and name are known.
func readHolder(db *gorm.DB, row recordRow) (records.Person, error) {
	var rows []personRow
	if err := db.Where("id = ?", row.EngineerID).Limit(1).Find(&rows).Error; err != nil {
		return records.Person{}, err
	}
	if len(rows) == 0 {
		return records.Person{ID: row.EngineerID, Name: row.Engineer}, nil
	}
	p := rows[0].person()
	p.PasswordHash, p.SignIns = "", 0 // nothing that a record is issued on
	return p, nil
}
