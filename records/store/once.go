package store

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"

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
	Scope              string `gorm:"primaryKey"`
	Name               string `gorm:"primaryKey"`
	Fingerprint, State string
	Status             int
	Body               []byte
	At                 string
}

func (onceRow) TableName() string { return "once_keys" }

// Deed is what a request with a key asks for.
type Deed struct {
	// What is the entry of the audit log that tells of the deed: the transaction
	// that writes it stores the answer too.
	What string
	// Do does it. It may prepare as long as it likes before that transaction.
	Do func(context.Context) error
	// Answer makes the answer from the subject of the entry. It runs within the
	// transaction: it reads what that has written, and cannot write.
	Answer func(ctx context.Context, subject string) (Answer, error)
}

// Once does what the first request with a key asks for and remembers its answer;
// each later request with the key gets that answer. Key, deed and answer are one
// transaction: whenever the program dies, either all of it is there or none.
// Scope keeps the keys of different people apart; fingerprint stands for what is
// asked, so that a key cannot be used for something else. When the deed fails
// the key is free again. Errors: Invalid for a key that cannot be one; Conflict
// when the key was used for something else or its request is still running;
// whatever the deed returns.
func (s *Store) Once(ctx context.Context, scope, key, fingerprint string, d Deed) (a Answer, err error) {
	var errs records.Errors
	if key = records.CheckLine(&errs, "Idempotency-Key", "", key, 8, 100); len(errs) > 0 {
		return a, errs
	}
	run := &onceRun{scope: scope, name: key, deed: d}
	if a, err = s.beginOnce(ctx, run, fingerprint); err != nil || a.Replayed {
		return a, err
	}
	defer func() {
		if run.answer == nil {
			// Also when the deed panics or the caller has gone away.
			_ = s.freeOnce(context.WithoutCancel(ctx), run)
		}
	}()
	if err = d.Do(context.WithValue(ctx, onceUnder, run)); err != nil && run.answer == nil {
		return Answer{}, err
	}
	if run.answer == nil {
		return Answer{}, fmt.Errorf("the request did nothing that the log calls %q", d.What)
	}
	return *run.answer, nil
}

// onceRun is a request with a key on its way.
type onceRun struct {
	scope, name string
	begun       string // when, which tells this run from one that takes it for dead
	deed        Deed
	answer      *Answer // once it is committed
}

// onceOf returns the request with a key that still waits for its deed, nil for
// none.
func onceOf(ctx context.Context) *onceRun {
	run, _ := ctx.Value(onceUnder).(*onceRun)
	if run == nil || run.answer != nil {
		return nil
	}
	return run
}

// waitsFor is the entry of the log that a request with a key waits for.
func (run *onceRun) waitsFor() string {
	if run == nil {
		return ""
	}
	return run.deed.What
}

// within is the transaction that a context reads from.
type within struct {
	s  *db
	tx *gorm.DB
}

// txOf returns the transaction whose answer is being made, nil for none.
func (s *db) txOf(ctx context.Context) *gorm.DB {
	if in, ok := ctx.Value(withinUnder).(within); ok && in.s == s {
		return in.tx.WithContext(ctx)
	}
	return nil
}

// answerOnce stores the answer in the transaction that has done the deed.
func (t *tx) answerOnce(ctx context.Context, s *db, run *onceRun) (*Answer, error) {
	a, err := run.deed.Answer(context.WithValue(ctx, withinUnder, within{s, t.DB}), t.deeds[run.deed.What])
	if err != nil {
		return nil, err
	}
	if a.Body == nil {
		a.Body = []byte{}
	}
	res := t.Model(&onceRow{}).Where("scope = ? AND name = ? AND state = 'running' AND at = ?", run.scope, run.name,
		run.begun).Updates(map[string]any{"state": "answered", "status": a.Status, "body": a.Body})
	if res.Error == nil && res.RowsAffected == 0 {
		return nil, records.Fail(records.Conflict, "the request took so long that another with its key began")
	}
	return &a, res.Error
}

func (s *Store) beginOnce(ctx context.Context, run *onceRun, fingerprint string) (a Answer, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		if err := t.Exec(`DELETE FROM once_keys WHERE (scope, name) IN (
			SELECT scope, name FROM once_keys WHERE at < ? LIMIT 20)`, stamp(t.at.Add(-onceKept))).Error; err != nil {
			return err
		}
		var rows []onceRow
		if err := t.Where("scope = ? AND name = ?", run.scope, run.name).Limit(1).Find(&rows).Error; err != nil {
			return err
		}
		for _, old := range rows {
			dead := old.State == "running" && instant(old.At).Add(onceRuns).Before(t.at)
			switch {
			case old.Fingerprint != fingerprint:
				return &records.Error{Kind: records.Conflict, Field: "Idempotency-Key",
					Msg: "the key " + clip(run.name) + " was used for another request"}
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
		run.begun = stamp(t.at)
		return t.Create(&onceRow{Scope: run.scope, Name: run.name, Fingerprint: fingerprint, State: "running",
			Body: []byte{}, At: run.begun}).Error
	})
	return a, err
}

// freeOnce frees the key of a request that came to nothing.
func (s *Store) freeOnce(ctx context.Context, run *onceRun) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		return t.Where("scope = ? AND name = ? AND state = 'running' AND at = ?", run.scope, run.name, run.begun).
			Delete(&onceRow{}).Error
	})
}

// FreeKeys is for the start of the one process that serves: it frees the keys of
// requests that the last one did not come to the end of. What they asked for was
// not done.
func (s *Store) FreeKeys(ctx context.Context) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		return t.Where("state = 'running'").Delete(&onceRow{}).Error
	})
}
