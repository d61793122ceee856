package store

import (
	"context"

	"gaugebook/records"
)

const (
	// MostSessions is how many sessions one person may have; beyond that the
	// oldest end.
	MostSessions = 30
	// KeptSignIns is how many sign-ins are remembered of a person after their
	// session has ended, and how many that were refused.
	KeptSignIns = 20
)

type (
	signInRow struct {
		N        int64 `gorm:"primaryKey"`
		ID       string
		PersonID string
		At       string
		Means    string
		Device   string
		Address  string
		UsedAt   string
		EndedAt  string
		EndedWhy string
		Refused  string
	}
)

func (signInRow) TableName() string { return "sign_ins" }

func (r signInRow) signIn() records.SignIn {
	return records.SignIn{ID: r.ID, PersonID: r.PersonID, At: instant(r.At), Means: r.Means, Device: r.Device,
		Address: r.Address, UsedAt: instant(r.UsedAt), EndedAt: instant(r.EndedAt), EndedWhy: r.EndedWhy,
		Refused: r.Refused}
}

// Add notes that somebody signed in, which begins a session, or was refused.
// It is as much work whether there is such a person or not.
func (s SignIns) Add(ctx context.Context, in records.SignIn) (records.SignIn, error) {
	err := s.write(ctx, records.SystemActor, func(t *tx) error {
		row := signInRow{ID: t.newID(), PersonID: in.PersonID, At: stamp(t.at), Means: clip(in.Means),
			Device: clip(in.Device), Address: clip(in.Address), UsedAt: stamp(t.at), Refused: clip(in.Refused)}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		in = row.signIn()
		return s.forget(t, in.PersonID)
	})
	return in, err
}

// forget keeps the list of a person short.
func (SignIns) forget(t *tx, personID string) error {
	now := stamp(t.at)
	if err := t.Exec(`UPDATE sign_ins SET ended_at = ?, ended_why = 'not used' WHERE person_id = ? AND refused = ''
		AND ended_at = '' AND (used_at < ? OR at < ?)`, now, personID, stamp(t.at.Add(-records.SessionIdle)),
		stamp(t.at.Add(-records.SessionLife))).Error; err != nil {
		return err
	}
	if err := t.Exec(`UPDATE sign_ins SET ended_at = ?, ended_why = 'signed in too often' WHERE person_id = ?
		AND refused = '' AND ended_at = '' AND n NOT IN (SELECT n FROM sign_ins WHERE person_id = ? AND refused = ''
		AND ended_at = '' ORDER BY n DESC LIMIT ?)`, now, personID, personID, MostSessions).Error; err != nil {
		return err
	}
	for _, which := range []string{"refused = '' AND ended_at <> ''", "refused <> ''"} {
		if err := t.Exec("DELETE FROM sign_ins WHERE person_id = ? AND "+which+` AND n NOT IN (
			SELECT n FROM sign_ins WHERE person_id = ? AND `+which+" ORDER BY n DESC LIMIT ?)", personID, personID,
			KeptSignIns).Error; err != nil {
			return err
		}
	}
	return nil
}

// Find returns a sign-in by its id. Errors: NotFound.
func (s SignIns) Find(ctx context.Context, id string) (records.SignIn, error) {
	var row signInRow
	err := one(s.read(ctx).Where("id = ?", id), &row, "session", id)
	return row.signIn(), explain(err)
}

// Used notes that a session is in use.
func (s SignIns) Used(ctx context.Context, id string) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		return t.Model(&signInRow{}).Where("id = ?", id).Update("used_at", stamp(t.at)).Error
	})
}

// Of returns a person's sign-ins, the newest first.
func (s SignIns) Of(ctx context.Context, personID string) ([]records.SignIn, error) {
	var rows []signInRow
	err := s.read(ctx).Where("person_id = ?", personID).Order("n DESC").Limit(MostSessions + 2*KeptSignIns).
		Find(&rows).Error
	return mapped(rows, signInRow.signIn), explain(err)
}

// End ends a session of a person. Letters tell the holder. Errors: NotFound, also
// for one that has ended.
func (s SignIns) End(ctx context.Context, actor records.Actor, personID, id, why string,
	letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		res := t.Model(&signInRow{}).Where("person_id = ? AND id = ? AND refused = '' AND ended_at = ''", personID, id).
			Updates(map[string]any{"ended_at": stamp(t.at), "ended_why": why})
		if res.Error == nil && res.RowsAffected == 0 {
			return notFound("session", id)
		}
		if res.Error != nil {
			return res.Error
		}
		if err := t.log("session ended", personID, detail{"session": id, "why": why}); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// EndAll ends the sessions of a person, all but one; "" keeps none. Letters tell
// the holder. It returns how many ended.
func (s SignIns) EndAll(ctx context.Context, actor records.Actor, personID, but, why string,
	letters ...records.Message) (ended int, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		res := t.Model(&signInRow{}).Where("person_id = ? AND id <> ? AND refused = '' AND ended_at = ''", personID,
			but).Updates(map[string]any{"ended_at": stamp(t.at), "ended_why": why})
		if ended = int(res.RowsAffected); res.Error != nil {
			return res.Error
		}
		if but == "" {
			if err := t.endSessions(personID, why); err != nil {
				return err
			}
		}
		if err := t.log("sessions ended", personID, detail{"sessions": ended, "why": why}); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
	return ended, err
}

// endSessions ends every session of a person: those that are listed, and those of
// before they were.
func (t *tx) endSessions(personID, why string) error {
	if err := t.Exec("UPDATE people SET sign_ins = sign_ins + 1 WHERE id = ?", personID).Error; err != nil {
		return err
	}
	return t.Exec(`UPDATE sign_ins SET ended_at = ?, ended_why = ? WHERE person_id = ? AND refused = ''
		AND ended_at = ''`, stamp(t.at), why, personID).Error
}
