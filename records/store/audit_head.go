package store

import (
	"context"
	"crypto/ed25519"
	"encoding/base64"
	"fmt"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

type headRow struct {
	Seq                            int64 `gorm:"primaryKey;autoIncrement:false"`
	Hash, At, PublicKey, Signature string
}

func (headRow) TableName() string { return "audit_heads" }

func (r headRow) head() records.SignedHead {
	return records.SignedHead{LogHead: records.LogHead{Entry: r.Seq, Hash: r.Hash}, At: instant(r.At),
		PublicKey: bytesOf(r.PublicKey), Signature: bytesOf(r.Signature)}
}

var base64Of = base64.StdEncoding.EncodeToString

// bytesOf reads what base64Of wrote; of anything else no signature holds.
func bytesOf(s string) []byte {
	b, err := base64.StdEncoding.DecodeString(s)
	if err != nil {
		return nil
	}
	return b
}

// signHead signs the newest entry of the log, unless it has been.
func (t *tx) signHead(key ed25519.PrivateKey) (out records.SignedHead, err error) {
	last, err := newestEntry(t.DB)
	if err != nil || last.Seq == 0 {
		return out, err
	}
	var rows []headRow
	if err := t.Where("seq = ?", last.Seq).Limit(1).Find(&rows).Error; err != nil {
		return out, err
	}
	if len(rows) > 0 {
		return rows[0].head(), nil
	}
	out = records.SignHead(*last.head(), t.at, key)
	row := headRow{Seq: out.Entry, Hash: out.Hash, At: stamp(out.At), PublicKey: base64Of(out.PublicKey),
		Signature: base64Of(out.Signature)}
	return out, t.Create(&row).Error
}

// Sign signs the newest entry of the log with the firm's key and returns what
// was signed; an entry that has been signed is not signed again. Kept outside
// the register, on paper or with a backup, it proves later that nothing was cut
// off the end and the log written again.
func (s Audit) Sign(ctx context.Context, key ed25519.PrivateKey) (out records.SignedHead, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		out, err = t.signHead(key)
		return err
	})
	return out, err
}

// Signed returns the newest signed entry, nil for none.
func (s Audit) Signed(ctx context.Context) (*records.SignedHead, error) {
	h, err := signedHead(s.read(ctx))
	return h, explain(err)
}

func signedHead(db *gorm.DB) (*records.SignedHead, error) {
	var rows []headRow
	if err := db.Order("seq DESC").Limit(1).Find(&rows).Error; err != nil || len(rows) == 0 {
		return nil, err
	}
	h := rows[0].head()
	return &h, nil
}

// ClockMayLag is how far the clock may be behind the latest entry of the log: as
// much as it is put right by without anybody noticing.
const ClockMayLag = 2 * time.Second

// clockSaidRight is the entry by which somebody says that the clock is right now,
// though it was ahead before.
const clockSaidRight = "clock said to be right"

// latestEntry returns the latest time in the log since the clock was last said to
// be right. That need not be its newest entry: whatever is saved with a clock that
// was put back comes after it.
func latestEntry(db *gorm.DB) (time.Time, error) {
	var at string
	err := db.Raw(`SELECT coalesce((SELECT at FROM audit WHERE seq >= (SELECT coalesce(max(seq), 0) FROM audit
		WHERE what = ?) ORDER BY at DESC LIMIT 1), '')`, clockSaidRight).Scan(&at).Error
	return instant(at), err
}

// Latest returns the latest time that an entry of the log was written at, as far
// as issuing goes by it; the zero time for an empty log.
func (s Audit) Latest(ctx context.Context) (time.Time, error) {
	at, err := latestEntry(s.read(ctx))
	return at, explain(err)
}

// ClockIsRight notes that the clock is right now, so that entries of a time when it
// was ahead do not keep records from being issued for ever.
func (s Audit) ClockIsRight(ctx context.Context, actor records.Actor) error {
	return s.write(ctx, actor, func(t *tx) error { return t.log(clockSaidRight, "clock", detail{}) })
}

// clockRight refuses to go on when the machine's clock is behind what was
// written before: what is issued would carry a time before it.
func (t *tx) clockRight() error {
	at, err := latestEntry(t.DB)
	if err == nil && at.Sub(t.at) > ClockMayLag {
		err = records.Fail(records.Conflict, fmt.Sprintf("the clock of the server says %s, but an entry of the log "+
			"was written at %s: nothing is issued until the clock is put right", t.at.Format(time.RFC3339),
			at.Format(time.RFC3339)))
	}
	return err
}
