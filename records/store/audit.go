package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// AuditEntry is one line of the log of what was done. Each entry's hash
// covers the one before, so none can be changed, removed or inserted without
// breaking the chain.
type AuditEntry struct {
	Seq     int64
	At      time.Time
	Actor   records.Actor
	Origin  Origin
	What    string // such as "record issued"
	Subject string // id of what was changed
	Detail  json.RawMessage
	Hash    string
}

type auditRow struct {
	Seq                                   int64 `gorm:"primaryKey;autoIncrement:false"`
	At, ActorID, ActorName, What, Subject string
	Detail, Prev, Hash, Origin            string
	KeyID                                 string
}

func (auditRow) TableName() string { return "audit" }

// seal returns the hash of the entry. Each part goes in with its length, so
// that no two entries can give the same bytes. Entries of before did not say
// where from and by which key; what says neither is hashed as they were.
func (r auditRow) seal() string {
	h := sha256.New()
	parts := []string{"gaugebook audit v1", r.Prev, fmt.Sprint(r.Seq), r.At, r.ActorID, r.ActorName, r.What, r.Subject,
		r.Detail}
	if r.Origin != "" || r.KeyID != "" {
		parts[0] = "gaugebook audit v2"
		parts = append(parts, r.Origin, r.KeyID)
	}
	for _, part := range parts {
		fmt.Fprintf(h, "%d:%s", len(part), part)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func (r auditRow) entry() AuditEntry {
	return AuditEntry{Seq: r.Seq, At: instant(r.At), Actor: records.Actor{ID: r.ActorID, Name: r.ActorName},
		Origin: Origin{r.Origin, r.KeyID}, What: r.What, Subject: r.Subject, Detail: json.RawMessage(r.Detail),
		Hash: r.Hash}
}

// newestEntry reads the end of the log; of an empty one the zero row.
func newestEntry(db *gorm.DB) (last auditRow, err error) {
	return last, db.Order("seq DESC").Limit(1).Find(&last).Error
}

// head names the entry, nil where there is none.
func (r auditRow) head() *records.LogHead {
	if r.Seq == 0 {
		return nil
	}
	return &records.LogHead{Entry: r.Seq, Hash: r.Hash}
}

// detail is what an audit entry says beside its subject. It holds no
// passwords, tokens or readings.
type detail map[string]any

// log appends to the audit log.
func (t *tx) log(what, subject string, d detail) error {
	last, err := newestEntry(t.DB)
	if err != nil {
		return err
	}
	if d == nil {
		d = detail{}
	}
	text, err := toJSON(d)
	if err != nil {
		return err
	}
	r := auditRow{Seq: last.Seq + 1, At: stamp(t.at), ActorID: t.actor.ID, ActorName: t.actor.Name, What: what,
		Subject: subject, Detail: text, Prev: last.Hash, Origin: t.origin.Address, KeyID: t.origin.KeyID}
	r.Hash = r.seal()
	t.deeds[what] = subject
	return t.Create(&r).Error
}

// Head returns the number and hash of the newest entry. Kept outside the
// database, on paper or with a backup, it proves later that nothing was cut
// off the end and the chain made again.
func (s Audit) Head(ctx context.Context) (seq int64, hash string, err error) {
	last, err := newestEntry(s.read(ctx))
	return last.Seq, last.Hash, explain(err)
}

// pageSize bounds how many rows one call may ask for; 50 for none.
func pageSize(n int) int {
	if n <= 0 {
		return 50
	}
	return min(n, 500)
}
