package store

import (
	"context"
	"time"

	"gaugebook/records"

	"github.com/alexedwards/scs/v2"
)

// Sessions keeps sign-in sessions in the database, for package scs. The
// session manager is to hash the tokens (HashTokenInStore).
type Sessions struct{ s *db }

var _ scs.CtxStore = Sessions{}

// Sessions returns the store of sign-in sessions.
func (s People) Sessions() Sessions { return Sessions{s.db} }

type sessionRow struct {
	Token     string `gorm:"primaryKey"`
	Data      []byte
	ExpiresAt string
}

func (sessionRow) TableName() string { return "sessions" }

// FindCtx returns the data of a session that has not expired.
func (v Sessions) FindCtx(ctx context.Context, token string) ([]byte, bool, error) {
	var rows []sessionRow
	err := v.s.read(ctx).Where("token = ? AND expires_at > ?", token, stamp(v.s.opt.Now())).Limit(1).Find(&rows).Error
	if err != nil || len(rows) == 0 {
		return nil, false, explain(err)
	}
	return rows[0].Data, true, nil
}

// CommitCtx stores a session. It also removes a few that have expired, so
// that no sweeper is needed.
func (v Sessions) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	return v.s.write(ctx, records.SystemActor, func(t *tx) error {
		if data == nil {
			data = []byte{}
		}
		if err := t.Exec(`DELETE FROM sessions WHERE token IN (
			SELECT token FROM sessions WHERE expires_at <= ? LIMIT 20)`, stamp(t.at)).Error; err != nil {
			return err
		}
		return t.put(&sessionRow{token, data, stamp(expiry)})
	})
}

// DeleteCtx removes a session; one that is not there is no error.
func (v Sessions) DeleteCtx(ctx context.Context, token string) error {
	return v.s.write(ctx, records.SystemActor, func(t *tx) error {
		return t.Where("token = ?", token).Delete(&sessionRow{}).Error
	})
}

// Find is FindCtx without a context.
func (v Sessions) Find(token string) ([]byte, bool, error) {
	return v.FindCtx(context.Background(), token)
}

// Commit is CommitCtx without a context.
func (v Sessions) Commit(token string, data []byte, expiry time.Time) error {
	return v.CommitCtx(context.Background(), token, data, expiry)
}

// Delete is DeleteCtx without a context.
func (v Sessions) Delete(token string) error { return v.DeleteCtx(context.Background(), token) }
