package store

import (
	"context"
	"strings"
	"time"
)

// Origin is where a change came from.
type Origin struct {
	Address string // in the network, blank for what the program or the command line does
	KeyID   string // of the API key that a program showed
}

type originKey struct{}

// WithOrigin has whatever is changed under the context logged as coming from
// there.
func WithOrigin(ctx context.Context, o Origin) context.Context {
	return context.WithValue(ctx, originKey{}, o)
}

// OriginOf returns where what happens under the context comes from.
func OriginOf(ctx context.Context) Origin {
	o, _ := ctx.Value(originKey{}).(Origin)
	return o
}

// KeyID returns the id under which a key is logged; "" for a key that is not
// known.
func (s People) KeyID(ctx context.Context, token string) (string, error) {
	var ids []string
	err := s.read(ctx).Model(&keyRow{}).Where("token_hash = ?", hashKey(token)).Limit(1).Pluck("id", &ids).Error
	return strings.Join(ids, ""), explain(err)
}

// AuditQuery asks for entries of the log; blank fields ask for all.
type AuditQuery struct {
	Actor   string // name, whole
	What    string // such as "record issued"
	Subject string // id of what was changed
	Origin  Origin
	From    time.Time // at or after
	Until   time.Time // before
	Before  int64     // entry to go on from
	Limit   int
}

// Find returns entries, the newest first.
func (s Audit) Find(ctx context.Context, q AuditQuery) ([]AuditEntry, error) {
	db := s.read(ctx).Order("seq DESC").Limit(pageSize(q.Limit))
	for column, wanted := range map[string]string{"actor_name": q.Actor, "what": q.What, "subject": q.Subject,
		"origin": q.Origin.Address, "key_id": q.Origin.KeyID} {
		if wanted != "" {
			db = db.Where(column+" = ?", wanted)
		}
	}
	if !q.From.IsZero() {
		db = db.Where("at >= ?", stamp(q.From))
	}
	if !q.Until.IsZero() {
		db = db.Where("at < ?", stamp(q.Until))
	}
	if q.Before > 0 {
		db = db.Where("seq < ?", q.Before)
	}
	var rows []auditRow
	if err := db.Find(&rows).Error; err != nil {
		return nil, explain(err)
	}
	return mapped(rows, auditRow.entry), nil
}

// Kinds returns the different things that the log says were done, in
// alphabetical order; Actors who did them. Both are read from the ends of an
// index, one step for each.
func (s Audit) Kinds(ctx context.Context) ([]string, error) { return s.distinct(ctx, "what") }

// Actors returns the names of whoever is in the log.
func (s Audit) Actors(ctx context.Context) ([]string, error) { return s.distinct(ctx, "actor_name") }

// distinct steps from one value of an indexed column to the next.
func (s Audit) distinct(ctx context.Context, column string) (out []string, err error) {
	err = s.read(ctx).Raw("WITH RECURSIVE next (v) AS (SELECT min(" + column + ") FROM audit UNION ALL " +
		"SELECT (SELECT min(" + column + ") FROM audit WHERE " + column + " > v) FROM next WHERE v IS NOT NULL) " +
		"SELECT v FROM next WHERE v IS NOT NULL").Scan(&out).Error
	return out, explain(err)
}
