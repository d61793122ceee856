package store

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"gaugebook/records"
)

type (
	codesRow struct {
		PersonID   string `gorm:"primaryKey"`
		Secret     string
		NextSecret string
		LastStep   int64
		MadeAt     string
		UsedAt     string
	}
	recoveryRow struct {
		N        int64 `gorm:"primaryKey"`
		PersonID string
		CodeHash string
		MadeAt   string
		UsedAt   string
	}
	signInRulesRow struct {
		One        int `gorm:"primaryKey;autoIncrement:false"`
		OwnersBoth bool
	}
)

func (codesRow) TableName() string       { return "one_time_codes" }
func (recoveryRow) TableName() string    { return "recovery_codes" }
func (signInRulesRow) TableName() string { return "sign_in_rules" }

// Of returns what the account of a person asks for besides its password.
func (s SecondSteps) Of(ctx context.Context, personID string) (out records.SecondStep, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		out, err = s.of(db, personID)
		return err
	})
	return out, err
}

func (SecondSteps) of(db *gorm.DB, personID string) (out records.SecondStep, err error) {
	var codes codesRow
	if err := db.Where("person_id = ?", personID).Limit(1).Find(&codes).Error; err != nil {
		return out, err
	}
	if out.Codes = codes.Secret != ""; out.Codes {
		out.CodesMadeAt, out.CodesUsedAt = instant(codes.MadeAt), instant(codes.UsedAt)
	}
	var keys []passkeyRow
	if err := db.Where("person_id = ?", personID).Order("n").Find(&keys).Error; err != nil {
		return out, err
	}
	out.Passkeys = mapped(keys, passkeyRow.passkey)
	var recovery []recoveryRow
	err = db.Where("person_id = ? AND used_at = ''", personID).Find(&recovery).Error
	if out.Recovery = len(recovery); out.Recovery > 0 {
		out.RecoveryMade = instant(recovery[0].MadeAt)
	}
	return out, err
}

// OneTimeCodes are the sealed secrets of a person's codes and the time step of
// the newest that counted. Next waits for its first code; "" stands for none.
type OneTimeCodes struct {
	Secret, Next string
	LastStep     int64
}

// Codes returns the secrets of a person's one-time codes.
func (s SecondSteps) Codes(ctx context.Context, personID string) (OneTimeCodes, error) {
	var row codesRow
	err := s.read(ctx).Where("person_id = ?", personID).Limit(1).Find(&row).Error
	return OneTimeCodes{row.Secret, row.NextSecret, row.LastStep}, explain(err)
}

// StartCodes keeps a sealed secret until a first code proves that the person has
// it. Codes that were set up go on working until then. Errors: NotFound.
func (s SecondSteps) StartCodes(ctx context.Context, actor records.Actor, personID, sealed string) error {
	return s.write(ctx, actor, func(t *tx) error {
		if err := one(t.Where("id = ?", personID), &personRow{}, "person", personID); err != nil {
			return err
		}
		return t.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "person_id"}},
			DoUpdates: clause.AssignmentColumns([]string{"next_secret"})}).
			Create(&codesRow{PersonID: personID, NextSecret: sealed}).Error
	})
}

// ConfirmCodes has the codes of the secret that waits count from now on, after
// the first, of the step given. Recovery codes come with it where the account had
// nothing before. Letters tell the holder. Errors: Conflict when none waits.
func (s SecondSteps) ConfirmCodes(ctx context.Context, actor records.Actor, personID string, step int64,
	recovery []string, letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		res := t.Exec(`UPDATE one_time_codes SET secret = next_secret, next_secret = '', last_step = ?, made_at = ?,
			used_at = '' WHERE person_id = ? AND next_secret <> ''`, step, stamp(t.at), personID)
		if res.Error == nil && res.RowsAffected == 0 {
			return records.Fail(records.Conflict, "no codes wait for a first one: begin again")
		}
		if res.Error != nil {
			return res.Error
		}
		if err := s.putRecovery(t, personID, recovery); err != nil {
			return err
		}
		if err := t.log("one-time codes set up", personID, nil); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// UseCode counts a code of a time step. Errors: Invalid for one of a step that
// counted before, or of an earlier one: a code works once.
func (s SecondSteps) UseCode(ctx context.Context, personID string, step int64) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		res := t.Exec(`UPDATE one_time_codes SET last_step = ?, used_at = ? WHERE person_id = ? AND secret <> ''
			AND last_step < ?`, step, stamp(t.at), personID, step)
		if res.Error == nil && res.RowsAffected == 0 {
			return &records.Error{Kind: records.Invalid, Field: "code", Label: "Code",
				Msg: "this code has been used already", Want: "the next one that the app shows"}
		}
		return res.Error
	})
}

// RemoveCodes takes the one-time codes away from an account. Errors: NotFound
// where there are none; Conflict when the firm wants them of its owners and the
// owner has nothing else.
func (s SecondSteps) RemoveCodes(ctx context.Context, actor records.Actor, personID string,
	letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		res := t.Where("person_id = ? AND secret <> ''", personID).Delete(&codesRow{})
		if res.Error == nil && res.RowsAffected == 0 {
			return records.Fail(records.NotFound, "there are no one-time codes to remove")
		}
		if res.Error != nil {
			return res.Error
		}
		if err := s.oneLess(t, personID); err != nil {
			return err
		}
		if err := t.log("one-time codes removed", personID, nil); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// oneLess follows the removal of codes or of a passkey: recovery codes stand for
// them and go with the last.
func (s SecondSteps) oneLess(t *tx, personID string) error {
	left, err := s.of(t.DB, personID)
	if err != nil || left.Set() {
		return err
	}
	var p personRow
	if err := one(t.Where("id = ?", personID), &p, "person", personID); err != nil {
		return err
	}
	both, err := s.rule(t.DB)
	if err != nil {
		return err
	}
	if both && records.Role(p.Role) == records.RoleOwner {
		return records.Fail(records.Conflict, "the firm asks its owners for more than a password: set up something "+
			"else first")
	}
	return t.Where("person_id = ?", personID).Delete(&recoveryRow{}).Error
}

// hash needs no slow function: a recovery code has 80 random bits.
func (recoveryRow) hash(personID, code string) string {
	sum := sha256.Sum256([]byte("gaugebook recovery code\n" + personID + "\n" + code))
	return hex.EncodeToString(sum[:])
}

func (s SecondSteps) putRecovery(t *tx, personID string, codes []string) error {
	if len(codes) == 0 {
		return nil
	}
	if err := t.Where("person_id = ?", personID).Delete(&recoveryRow{}).Error; err != nil {
		return err
	}
	for _, code := range codes {
		row := recoveryRow{PersonID: personID, CodeHash: recoveryRow{}.hash(personID, code), MadeAt: stamp(t.at)}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
	}
	return t.log("recovery codes made", personID, detail{"codes": len(codes)})
}

// NewRecovery puts new recovery codes in the place of a person's old ones.
// Errors: Conflict where there is nothing that they could stand in for.
func (s SecondSteps) NewRecovery(ctx context.Context, actor records.Actor, personID string, codes []string,
	letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		has, err := s.of(t.DB, personID)
		if err != nil {
			return err
		}
		if !has.Set() {
			return records.Fail(records.Conflict, "recovery codes stand in for one-time codes and passkeys: set up "+
				"one of these first")
		}
		if err := s.putRecovery(t, personID, codes); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// UseRecovery uses up a recovery code. Letters tell the holder. Errors: NotFound
// for one that is none or was used.
func (s SecondSteps) UseRecovery(ctx context.Context, actor records.Actor, personID, code string,
	letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		res := t.Model(&recoveryRow{}).Where("person_id = ? AND code_hash = ? AND used_at = ''", personID,
			recoveryRow{}.hash(personID, code)).Update("used_at", stamp(t.at))
		if res.Error == nil && res.RowsAffected == 0 {
			return records.Fail(records.NotFound, "there is no such recovery code, or it has been used")
		}
		if res.Error != nil {
			return res.Error
		}
		has, err := s.of(t.DB, personID)
		if err != nil {
			return err
		}
		if err := t.log("recovery code used", personID, detail{"left": has.Recovery}); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// TakeAway takes everything away that an account asks for besides its password,
// and ends its sessions. Errors: NotFound where there is nothing.
func (s SecondSteps) TakeAway(ctx context.Context, actor records.Actor, personID string,
	letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		had, err := s.of(t.DB, personID)
		if err != nil {
			return err
		}
		if !had.Set() {
			return records.Fail(records.NotFound, "this account asks for nothing but its password")
		}
		for _, rows := range []any{&codesRow{}, &recoveryRow{}, &passkeyRow{}} {
			if err := t.Where("person_id = ?", personID).Delete(rows).Error; err != nil {
				return err
			}
		}
		if err := t.endSessions(personID, "one-time codes and passkeys taken away"); err != nil {
			return err
		}
		if err := t.log("one-time codes and passkeys taken away", personID, detail{"codes": had.Codes,
			"passkeys": len(had.Passkeys)}); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

func (SecondSteps) rule(db *gorm.DB) (both bool, err error) {
	var rows []signInRulesRow
	err = db.Limit(1).Find(&rows).Error
	return err == nil && len(rows) > 0 && rows[0].OwnersBoth, err
}

// OwnersBoth reports whether the firm asks its owners for more than a password.
func (s SecondSteps) OwnersBoth(ctx context.Context) (bool, error) {
	both, err := s.rule(s.read(ctx))
	return both, explain(err)
}

// AskOwners has the firm ask its owners for more than a password, or no longer.
// Letters tell them. Errors: Conflict when whoever asks for it has no second step
// themselves.
func (s SecondSteps) AskOwners(ctx context.Context, actor records.Actor, both bool,
	letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		has, err := s.of(t.DB, actor.ID)
		if err != nil {
			return err
		}
		if both && !has.Set() {
			return records.Fail(records.Conflict, "set up one-time codes or a passkey for yourself first: you would "+
				"shut yourself out")
		}
		if err := t.Clauses(clause.OnConflict{UpdateAll: true}).Create(&signInRulesRow{1, both}).Error; err != nil {
			return err
		}
		if err := t.log("sign-in of owners changed", "firm", detail{"second step": both}); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// MustSetUp reports whether an owner has to set up a second step before anything
// else.
func (s SecondSteps) MustSetUp(ctx context.Context, p records.Person) (must bool, err error) {
	if p.Role != records.RoleOwner {
		return false, nil
	}
	err = s.view(ctx, func(db *gorm.DB) error {
		both, err := s.rule(db)
		if err != nil || !both {
			return err
		}
		has, err := s.of(db, p.ID)
		must = !has.Set()
		return err
	})
	return must, err
}

// reseal has the secrets of one-time codes open with the firm's next key. One
// that the old key does not open stays as it is.
func (t *tx) reseal(old, next ed25519.PrivateKey) error {
	var rows []codesRow
	if err := t.Find(&rows).Error; err != nil {
		return err
	}
	for _, r := range rows {
		for _, sealed := range []*string{&r.Secret, &r.NextSecret} {
			secret, err := records.OpenSecret(old, r.PersonID, *sealed)
			if err != nil {
				continue
			}
			if *sealed, err = records.SealSecret(next, r.PersonID, secret); err != nil {
				return err
			}
		}
		if err := t.Model(&codesRow{}).Where("person_id = ?", r.PersonID).Updates(map[string]any{"secret": r.Secret,
			"next_secret": r.NextSecret}).Error; err != nil {
			return fmt.Errorf("sealing one-time codes with the new key: %w", err)
		}
	}
	return nil
}
