package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"gaugebook/records"
)

// Backup writes a copy of the database, as it stands at one moment, to a new
// file while the store is in use. The copy is checked, and only then given
// its name. Errors: Conflict when there is a file of that name.
func (s *Store) Backup(ctx context.Context, path string) (err error) {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return &records.Error{Kind: records.Conflict, Field: "path", Label: "Backup file", Value: path,
			Msg: "there is a file of that name, and a backup never overwrites one"}
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), ".backup-*")
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	part := filepath.Join(dir, "part.db")
	if err := copyTo(ctx, s.opt.Path, part); err != nil {
		return fmt.Errorf("backup to %s: %w", path, err)
	}
	// A link fails if the name was taken meanwhile, which a rename would not.
	if err := os.Link(part, path); err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	return syncDir(filepath.Dir(path))
}

// copyTo copies through a connection of its own: the driver's backup call
// starts again with each write and never ends on a busy database.
func copyTo(ctx context.Context, from, to string) error {
	db, err := sql.Open("sqlite3", fileURI(from)+"?mode=ro&_busy_timeout=5000")
	if err != nil {
		return err
	}
	defer db.Close()
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", to); err != nil {
		return err
	}
	if err := CheckFile(ctx, to); err != nil {
		return err
	}
	f, err := os.OpenFile(to, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// CheckFile reads a database file through and returns an error if it is
// damaged or not one of ours. It changes nothing.
func CheckFile(ctx context.Context, path string) error {
	db, err := sql.Open("sqlite3", fileURI(path)+"?mode=ro&_query_only=true&_busy_timeout=5000")
	if err != nil {
		return err
	}
	defer db.Close()
	var verdict string
	if err := db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&verdict); err != nil {
		return fmt.Errorf("checking %s: %w", path, err)
	}
	if verdict != "ok" {
		return fmt.Errorf("checking %s: %s", path, verdict)
	}
	var tables int
	if err := db.QueryRowContext(ctx,
		"SELECT count(*) FROM sqlite_master WHERE name IN ('records', 'audit', 'goose_db_version')").Scan(&tables); err != nil {
		return fmt.Errorf("checking %s: %w", path, err)
	}
	if tables != 3 {
		return &records.Error{Kind: records.Invalid, Field: "path", Label: "Database file", Value: path,
			Want: "a file that this program made"}
	}
	return nil
}

func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
