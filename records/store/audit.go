package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"gaugebook/records"

	"gorm.io/gorm"
)

// AuditEntry is one line of the log of what was done. Each entry's hash
// covers the one before, so none can be changed, removed or inserted without
// breaking the chain.
type AuditEntry struct {
	Seq     int64
	At      time.Time
	Actor   records.Actor
	What    string // such as "record issued"
	Subject string // id of what was changed
	Detail  json.RawMessage
	Hash    string
}

type auditRow struct {
	Seq       int64 `gorm:"primaryKey;autoIncrement:false"`
	At        string
	ActorID   string
	ActorName string
	What      string
	Subject   string
	Detail    string
	Prev      string
	Hash      string
}

func (auditRow) TableName() string { return "audit" }

// seal returns the hash of the entry. Each part goes in with its length, so
// that no two entries can give the same bytes.
func (r auditRow) seal() string {
	h := sha256.New()
	for _, part := range []string{"gaugebook audit v1", r.Prev, fmt.Sprint(r.Seq), r.At, r.ActorID, r.ActorName, r.What,
		r.Subject, r.Detail} {
		fmt.Fprintf(h, "%d:%s", len(part), part)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func (r auditRow) entry() AuditEntry {
	return AuditEntry{Seq: r.Seq, At: instant(r.At), Actor: records.Actor{ID: r.ActorID, Name: r.ActorName},
		What: r.What, Subject: r.Subject, Detail: json.RawMessage(r.Detail), Hash: r.Hash}
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
		Subject: subject, Detail: text, Prev: last.Hash}
	r.Hash = r.seal()
	return t.Create(&r).Error
}

// Entries returns entries newest first: those of one subject, or all for "".
// Before is the sequence number to go on from, 0 for the newest.
func (s Audit) Entries(ctx context.Context, subject string, before int64, limit int) ([]AuditEntry, error) {
	q := s.read(ctx).Order("seq DESC").Limit(pageSize(limit))
	if subject != "" {
		q = q.Where("subject = ?", subject)
	}
	if before > 0 {
		q = q.Where("seq < ?", before)
	}
	var rows []auditRow
	if err := q.Find(&rows).Error; err != nil {
		return nil, explain(err)
	}
	return mapped(rows, auditRow.entry), nil
}

// Head returns the number and hash of the newest entry. Kept outside the
// database, on paper or with a backup, it proves later that nothing was cut
// off the end and the chain made again.
func (s Audit) Head(ctx context.Context) (seq int64, hash string, err error) {
	last, err := newestEntry(s.read(ctx))
	return last.Seq, last.Hash, explain(err)
}

// AuditBroken says where the audit log does not hold.
type AuditBroken struct {
	Seq    int64
	Reason string
}

// Error names the entry.
func (e *AuditBroken) Error() string { return fmt.Sprintf("audit log, entry %d: %s", e.Seq, e.Reason) }

// Verify reads the whole log and returns an *AuditBroken for the first
// entry that was changed, removed or inserted.
func (s Audit) Verify(ctx context.Context) error {
	return s.view(ctx, func(db *gorm.DB) error {
		rows, err := db.Raw("SELECT " + auditTable.list("") + " FROM audit ORDER BY seq").Rows()
		if err != nil {
			return err
		}
		defer rows.Close()
		var last auditRow
		for rows.Next() {
			var r auditRow
			if err := rows.Scan(auditTable.into(&r)...); err != nil {
				return err
			}
			switch {
			case r.Seq != last.Seq+1:
				return &AuditBroken{last.Seq + 1, "is missing"}
			case r.Prev != last.Hash:
				return &AuditBroken{r.Seq, "does not follow from the one before"}
			case r.Hash != r.seal():
				return &AuditBroken{r.Seq, "was changed after it was written"}
			}
			last = r
		}
		if err := rows.Err(); err != nil {
			return err
		}
		highest, err := highestEntry(db)
		if err != nil {
			return err
		}
		if highest != last.Seq {
			return &AuditBroken{last.Seq + 1, "is missing from the end"}
		}
		return nil
	})
}

// pageSize bounds how many rows one call may ask for; 50 for none.
func pageSize(n int) int {
	if n <= 0 {
		return 50
	}
	return min(n, 500)
}
