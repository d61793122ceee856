package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"path/filepath"
	"time"

	_ "github.com/mattn/go-sqlite3" // the driver of both pools
	"github.com/pressly/goose/v3"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
)

const (
	driver  = "sqlite3"
	readers = 4 // read-only connections
)

// openFile opens the file with one connection that writes and a pool that
// reads, and brings its schema up to date.
func openFile(ctx context.Context, opt Options) (writer, reader *gorm.DB, err error) {
	w, err := sql.Open(driver, writerDSN(opt.Path, opt.Unsynced))
	if err != nil {
		return nil, nil, fmt.Errorf("opening %s: %w", opt.Path, err)
	}
	w.SetMaxOpenConns(1)
	if err := migrate(ctx, w); err != nil {
		return nil, nil, errors.Join(err, w.Close())
	}
	// Readers are opened last: a read-only connection can do nothing with a
	// file that is not there or not yet in WAL mode.
	if reader, err = dbFile(opt.Path).openReader(ctx, opt.Log); err == nil {
		writer, err = overGorm(w, opt.Log)
	}
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("opening %s: %w", opt.Path, err), w.Close())
	}
	return writer, reader, nil
}

// dbFile is a database in a file that is not open yet.
type dbFile string

// openReader opens a pool of connections that read.
func (f dbFile) openReader(ctx context.Context, log *slog.Logger) (*gorm.DB, error) {
	r, err := sql.Open(driver, readerDSN(string(f)))
	if err != nil {
		return nil, fmt.Errorf("opening %s to read: %w", f, err)
	}
	r.SetMaxOpenConns(readers)
	r.SetMaxIdleConns(readers)
	reader, err := overGorm(r, log)
	if err == nil {
		err = r.PingContext(ctx)
	}
	if err != nil {
		return nil, errors.Join(err, r.Close())
	}
	return reader, nil
}

// tryRead reads a little of a file.
func (f dbFile) tryRead(ctx context.Context) error {
	db, err := sql.Open(driver, fileURI(string(f))+"?mode=ro&_query_only=true&_busy_timeout=5000")
	if err != nil {
		return err
	}
	defer db.Close()
	ours, err := isOurs(ctx, db)
	if err == nil && !ours {
		err = f.notOurs()
	}
	return err
}

// schema reads the version of a file's schema.
func (f dbFile) schema(ctx context.Context) (have, newest int64, err error) {
	db, err := sql.Open(driver, fileURI(string(f))+"?mode=ro&_query_only=true&_busy_timeout=5000")
	if err != nil {
		return 0, 0, err
	}
	defer db.Close()
	if err := db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied = 1").
		Scan(&have); err != nil {
		return 0, 0, err
	}
	p, err := migrator(db)
	if err != nil {
		return 0, 0, err
	}
	for _, source := range p.ListSources() {
		newest = max(newest, source.Version)
	}
	return have, newest, nil
}

// migrate brings the schema of a file that nobody else uses up to date.
func (f dbFile) migrate(ctx context.Context) error {
	db, err := sql.Open(driver, writerDSN(string(f), true))
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	return errors.Join(migrate(ctx, db), db.Close())
}

// fileURI names the file so that no character of its path is taken for a
// part of the URI.
func fileURI(path string) string {
	return "file:" + (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath()
}

// writerDSN spells the pragmas as this driver does; the other driver's
// _pragma=… is silently ignored. FULL, because a record that was
// acknowledged must survive a power cut. Recursive triggers, so that REPLACE
// cannot slip past the triggers that refuse deletion.
func writerDSN(path string, unsynced bool) string {
	synchronous := "FULL"
	if unsynced {
		synchronous = "OFF"
	}
	return fileURI(path) + "?_journal_mode=WAL&_busy_timeout=5000&_foreign_keys=on&_synchronous=" + synchronous +
		"&_txlock=immediate&_recursive_triggers=on&_cache_size=-65536" + keepStatements
}

func readerDSN(path string) string {
	return fileURI(path) + "?mode=ro&_query_only=true&_busy_timeout=5000&_foreign_keys=on&_cache_size=-16384" +
		keepStatements
}

// keepStatements has each connection keep the statements it last prepared. A
// connection serves one goroutine at a time, so nobody waits for another's.
const keepStatements = "&_stmt_cache_size=100"

// overGorm puts gorm over a connection pool. Its own cache of prepared
// statements (PrepareStmt) stays off: it holds a lock while it prepares on a
// connection of the pool, and the transactions that hold all of the pool's
// connections wait for that lock. See keepStatements.
func overGorm(db *sql.DB, log *slog.Logger) (*gorm.DB, error) {
	return gorm.Open(sqlite.New(sqlite.Config{Conn: db}), gormConfig(log))
}

func gormConfig(log *slog.Logger) *gorm.Config {
	return &gorm.Config{
		SkipDefaultTransaction: true,
		TranslateError:         true,
		QueryFields:            true,
		NowFunc:                func() time.Time { return time.Now().UTC() },
		Logger:                 newQueryLog(log),
	}
}

// migrator brings up the schema of SQLite.
func migrator(db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, db, files, scrubbing())
}

// Size returns how many bytes the database takes, without its log.
func (s *Store) Size(ctx context.Context) (bytes int64, err error) {
	err = s.read(ctx).Raw("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size").Scan(&bytes).Error
	return bytes, explain(err)
}
