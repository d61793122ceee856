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
	r, err := sql.Open(driver, readerDSN(opt.Path))
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("opening %s to read: %w", opt.Path, err), w.Close())
	}
	r.SetMaxOpenConns(readers)
	r.SetMaxIdleConns(readers)
	if writer, err = overGorm(w, opt.Log); err == nil {
		reader, err = overGorm(r, opt.Log)
	}
	if err == nil {
		err = r.PingContext(ctx)
	}
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("opening %s: %w", opt.Path, err), r.Close(), w.Close())
	}
	return writer, reader, nil
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
