package store

import (
	"context"
	"time"

	"gaugebook/records"
)

// Answer is what a request was answered with.
type Answer struct {
	Status   int
	Body     []byte
	Replayed bool // by an earlier request with the same key
}

const (
	onceKept = 30 * 24 * time.Hour // how long an answer is remembered
	onceRuns = 2 * time.Minute     // after which a request without an answer counts as dead
)

type onceRow struct {
	Scope       string `gorm:"primaryKey"`
	Name        string `gorm:"primaryKey"`
	Fingerprint string
	State       string
	Status      int
	Body        []byte
	At          string
}

func (onceRow) TableName() string { return "once_keys" }

// Once runs do for the first request with a key and remembers its answer;
// each later request with the key gets that answer. Scope keeps the keys of
// different people apart; fingerprint stands for what is asked, so that a key
// cannot be used for something else. When do fails or the program dies
// meanwhile, the key is free again: do must be able to bear being run once
// more, as saving a draft is. Errors: Invalid for a key that cannot be one;
// Conflict when the key was used for something else or its request is still
// running; whatever do returns.
func (s *Store) Once(ctx context.Context, scope, key, fingerprint string,
	do func() (Answer, error)) (a Answer, err error) {
	var errs records.Errors
	if key = line(&errs, "Idempotency-Key", "", key, 8, 100); len(errs) > 0 {
		return a, errs
	}
	if a, err = s.beginOnce(ctx, scope, key, fingerprint); err != nil || a.Replayed {
		return a, err
	}
	done := false
	defer func() {
		if !done {
			// Also when do panics or the caller has gone away.
			_ = s.endOnce(context.WithoutCancel(ctx), scope, key, nil)
		}
	}()
	if a, err = do(); err != nil {
		return Answer{}, err
	}
	done = true
	return a, s.endOnce(context.WithoutCancel(ctx), scope, key, &a)
}

func (s *Store) beginOnce(ctx context.Context, scope, key, fingerprint string) (a Answer, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		if err := t.Exec(`DELETE FROM once_keys WHERE (scope, name) IN (
			SELECT scope, name FROM once_keys WHERE at < ? LIMIT 20)`, stamp(t.at.Add(-onceKept))).Error; err != nil {
			return err
		}
		var rows []onceRow
		if err := t.Where("scope = ? AND name = ?", scope, key).Limit(1).Find(&rows).Error; err != nil {
			return err
		}
		for _, old := range rows {
			dead := old.State == "running" && instant(old.At).Add(onceRuns).Before(t.at)
			switch {
			case old.Fingerprint != fingerprint:
				return &records.Error{Kind: records.Conflict, Field: "Idempotency-Key",
					Msg: "the key " + clip(key) + " was used for another request"}
			case old.State == "answered":
				a = Answer{old.Status, old.Body, true}
				return nil
			case !dead:
				return &records.Error{Kind: records.Conflict, Field: "Idempotency-Key",
					Msg: "the request with this key is still being worked on; try again in " + onceRuns.String()}
			}
			if err := t.Delete(&old).Error; err != nil {
				return err
			}
		}
		return t.Create(&onceRow{Scope: scope, Name: key, Fingerprint: fingerprint, State: "running", Body: []byte{},
			At: stamp(t.at)}).Error
	})
	return a, err
}

func (s *Store) endOnce(ctx context.Context, scope, key string, a *Answer) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		mine := t.Where("scope = ? AND name = ? AND state = 'running'", scope, key)
		if a == nil {
			return mine.Delete(&onceRow{}).Error
		}
		body := a.Body
		if body == nil {
			body = []byte{}
		}
		return mine.Model(&onceRow{}).Updates(map[string]any{"state": "answered", "status": a.Status,
			"body": body}).Error
	})
}
