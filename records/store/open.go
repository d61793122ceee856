// Package store keeps everything in one SQLite file through gorm.
//
// There is one writer connection, whose transactions begin immediately, and a
// pool of read-only ones, so no caller ever meets a locked database. Each
// exported method is one transaction; whatever it changes is written to the
// audit log in the same one. Errors are of the kinds of package records.
// Every method may also return the error of its context, and an Internal
// error when the file cannot be read or written.
package store

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"gaugebook/records"
)

// Options say where the file is. Now and NewID are for tests; left nil they
// are the clock and random ids.
type Options struct {
	Path  string
	Now   func() time.Time
	NewID func() string
	Log   *slog.Logger // of statements that fail or are slow; slog.Default() if nil
	// Unsynced does not wait for the disk: for filling a file that is thrown
	// away if anything goes wrong meanwhile, never for a register in use.
	Unsynced bool
}

// Store is an open database. It may be used by many goroutines at once.
type Store struct {
	*db
	Settings    Settings
	People      People
	SecondSteps SecondSteps
	SignIns     SignIns
	Register    Register
	Records     Records
	Photos      Photos
	Links       Links
	Duties      Duties
	Bookings    Bookings
	Chase       Chase
	Requests    Requests
	Outbox      Outbox
	Webhooks    Webhooks
	Bulk        Bulk
	Audit       Audit
}

// db is what every door works on.
type db struct {
	opt    Options
	writer *gorm.DB
	reader *gorm.DB
	// gatherMost is its constant; tests set it.
	gatherMost int
	clean      func() error // what Close does last; may be nil
}

// Open opens the file, making it and bringing its schema up to date as
// needed. A file written by a newer version is refused as a Conflict.
func Open(ctx context.Context, opt Options) (*Store, error) {
	opt = opt.filled()
	if opt.Path == "" || strings.Contains(opt.Path, ":memory:") {
		return nil, &records.Error{Kind: records.Invalid, Field: "path", Label: "Database file", Value: opt.Path,
			Want: "the path of a file"}
	}
	s := &db{opt: opt, gatherMost: gatherMost}
	var err error
	if s.writer, s.reader, err = openFile(ctx, opt); err != nil {
		return nil, err
	}
	return openDoors(s), nil
}

// filled returns the options with what was left out.
func (opt Options) filled() Options {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.NewID == nil {
		opt.NewID = func() string { return strings.ToLower(rand.Text()) }
	}
	if opt.Log == nil {
		opt.Log = slog.Default()
	}
	return opt
}

// Dir returns the folder that the database lies in.
func (s *Store) Dir() string { return filepath.Dir(s.opt.Path) }

// Close closes the file. The caller has let every request end before.
func (s *Store) Close() error {
	var errs []error
	for _, db := range []*gorm.DB{s.reader, s.writer} {
		pool, err := db.DB()
		if err == nil {
			err = pool.Close()
		}
		errs = append(errs, err)
	}
	if s.clean != nil {
		errs = append(errs, s.clean())
	}
	return errors.Join(errs...)
}

// tx is one write transaction: the connection, its one instant and who acts.
type tx struct {
	*gorm.DB
	at    time.Time // UTC, whole milliseconds
	actor records.Actor
	newID func() string
	// origin is where the change comes from, for the log.
	origin Origin
	deeds  map[string]string // what the log was told of, and of whom
}

// put stores a row in place of the one with its key.
func (t *tx) put(row any) error {
	return t.Clauses(clause.OnConflict{UpdateAll: true}).Create(row).Error
}

// write runs fn in one write transaction and commits it if fn returns nil.
// The time is taken once the transaction has begun, so that the log's times
// follow its order. Where the change is the deed of a request with a key, the
// answer is stored with it.
func (s *db) write(ctx context.Context, actor records.Actor, fn func(*tx) error) error {
	if s.txOf(ctx) != nil {
		return errors.New("store: an answer cannot write")
	}
	run := onceOf(ctx)
	var answer *Answer
	err := s.writer.WithContext(ctx).Transaction(func(db *gorm.DB) error {
		t := &tx{DB: db, at: s.opt.Now().UTC().Truncate(time.Millisecond), actor: actor, newID: s.opt.NewID,
			origin: OriginOf(ctx), deeds: map[string]string{}}
		err := fn(t)
		if _, done := t.deeds[run.waitsFor()]; err == nil && done {
			answer, err = t.answerOnce(ctx, s, run)
		}
		return err
	})
	if err == nil && answer != nil {
		run.answer = answer
	}
	return explain(ended(ctx, err))
}

// read returns a session for one query; view runs several on one snapshot.
func (s *db) read(ctx context.Context) *gorm.DB {
	if t := s.txOf(ctx); t != nil {
		return t
	}
	return s.reader.WithContext(ctx)
}

func (s *db) view(ctx context.Context, fn func(*gorm.DB) error) error {
	if t := s.txOf(ctx); t != nil {
		return explain(ended(ctx, fn(t)))
	}
	return explain(ended(ctx, s.reader.WithContext(ctx).Transaction(fn)))
}

// ended names the end of a request as the cause of what failed because of it:
// the transaction is rolled back at once, and statements then say that they
// are closed.
func ended(ctx context.Context, err error) error {
	cause := ctx.Err()
	if err == nil || cause == nil || errors.Is(err, cause) || records.KindOf(err) != records.Internal {
		return err
	}
	return fmt.Errorf("%w: %w", cause, err)
}

// explain leaves errors made for people alone and names the source of others.
func explain(err error) error {
	if err == nil || records.KindOf(err) != records.Internal || errors.Is(err, context.Canceled) ||
		errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return fmt.Errorf("store: %w", err)
}

// one reads one row. No row is a NotFound error that names what was sought.
func one(q *gorm.DB, row any, what, key string) error {
	err := q.Take(row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return notFound(what, key)
	}
	return err
}

func notFound(what, key string) error {
	return &records.Error{Kind: records.NotFound, Msg: fmt.Sprintf("there is no %s %q", what, clip(key))}
}

func clip(s string) string {
	s = strings.ToValidUTF8(s, "?")
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}
