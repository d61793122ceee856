package store

import (
	"context"
	"crypto/ed25519"

	"gorm.io/gorm"

	"gaugebook/records"
)

type firmKeyRow struct {
	N                                    int64 `gorm:"primaryKey" line:"-"`
	PublicKey, NextKey, At, ByOld, ByNew string
}

func (firmKeyRow) TableName() string { return "firm_keys" }

func (r firmKeyRow) handedOver() records.KeyChange {
	return records.KeyChange{Old: bytesOf(r.PublicKey), New: bytesOf(r.NextKey), At: instant(r.At),
		ByOld: bytesOf(r.ByOld), ByNew: bytesOf(r.ByNew)}
}

func keyChanges(db *gorm.DB) ([]records.KeyChange, error) {
	var rows []firmKeyRow
	err := db.Order("n").Find(&rows).Error
	return mapped(rows, firmKeyRow.handedOver), err
}

// KeyChanges returns how the firm's key came from one to the next, the oldest
// change first.
func (s Settings) KeyChanges(ctx context.Context) ([]records.KeyChange, error) {
	out, err := keyChanges(s.read(ctx))
	return out, explain(err)
}

// Keys returns the firm's key and those that it sealed with before, of which
// the changes tell.
func (s Settings) Keys(ctx context.Context, newest ed25519.PublicKey) ([]ed25519.PublicKey, error) {
	changes, err := s.KeyChanges(ctx)
	return records.FirmKeys(newest, changes), err
}

// ChangeKey hands over from one key to the next: what was sealed with the old
// one keeps proving. Whoever calls it puts the new key in the place of the old
// one. Errors: Conflict when the old key is not the one that the newest seal was
// made with, or the new one was used before.
func (s Settings) ChangeKey(ctx context.Context, actor records.Actor, old, next ed25519.PrivateKey) error {
	return s.write(ctx, actor, func(t *tx) error {
		if err := fitsSeals(t.DB, old.Public().(ed25519.PublicKey)); err != nil {
			return err
		}
		c := records.ChangeKey(old, next, t.at)
		row := firmKeyRow{PublicKey: base64Of(c.Old), NextKey: base64Of(c.New), At: stamp(c.At),
			ByOld: base64Of(c.ByOld),
			ByNew: base64Of(c.ByNew)}
		var used int64
		if err := t.Model(&firmKeyRow{}).Where("public_key = ?", row.NextKey).Count(&used).Error; err != nil {
			return err
		}
		if used > 0 {
			return records.Fail(records.Conflict, "this key was used before and cannot come back")
		}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		if err := t.reseal(old, next); err != nil {
			return err
		}
		if err := t.log("key of the firm changed", records.KeyName(c.New), detail{"was": records.KeyName(c.Old),
			"is": records.KeyName(c.New)}); err != nil {
			return err
		}
		_, err := t.signHead(next)
		return err
	})
}

// FitsKey refuses a key that is not the one which the register was sealed with
// last: what would be sealed with it would not be the firm's. A register in which
// nothing is sealed takes any. Errors: Conflict.
func (s Settings) FitsKey(ctx context.Context, pub ed25519.PublicKey) error {
	return explain(fitsSeals(s.read(ctx), pub))
}

// fitsSeals compares a key with the newest seal or signature, and with the
// change of keys, if there was one since.
func fitsSeals(db *gorm.DB, pub ed25519.PublicKey) error {
	var is ed25519.PublicKey
	var seals []string
	err := db.Raw(`SELECT d.seal FROM records r JOIN issued_documents d ON d.record_n = r.n WHERE r.number <> ''
		ORDER BY r.number DESC LIMIT 1`).Scan(&seals).Error
	if err != nil {
		return err
	}
	if len(seals) > 0 {
		seal, err := records.UnmarshalSeal([]byte(seals[0]))
		if err != nil {
			return err
		}
		is = seal.PublicKey
	}
	head, err := signedHead(db)
	if err != nil {
		return err
	}
	if head != nil { // signed after each issue, so never older than the newest seal
		is = head.PublicKey
	}
	changes, err := keyChanges(db)
	if err != nil {
		return err
	}
	for _, c := range changes {
		if is.Equal(ed25519.PublicKey(c.Old)) {
			is = c.New
		}
	}
	if is == nil || is.Equal(pub) {
		return nil
	}
	return records.Fail(records.Conflict, "this is another key than the firm's: what the register holds was sealed "+
		"last with the key "+records.KeyName(is)+", this one is "+records.KeyName(pub)+
		". Put the right firm.key back from your backup")
}
