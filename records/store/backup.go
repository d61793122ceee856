package store

import (
	"context"
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
	return BackupFile(ctx, s.opt.Path, path)
}

// BackupFile is Backup of a file that is not open here. It changes nothing, so
// the copy has the schema that the file has, whichever version wrote it.
func BackupFile(ctx context.Context, from, path string) (err error) {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return &records.Error{Kind: records.Conflict, Field: "path", Label: "Backup file", Value: path,
			Msg: "there is a file of that name, and a backup never overwrites one"}
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), ".backup-*")
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	file, clean, err := readable(ctx, from)
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	defer func() { err = errors.Join(err, clean()) }()
	part := filepath.Join(dir, "part.db")
	if err := copyTo(ctx, file, part); err != nil {
		return fmt.Errorf("backup to %s: %w", path, err)
	}
	// A link fails if the name was taken meanwhile, which a rename would not.
	if err := os.Link(part, path); err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	return syncDir(filepath.Dir(path))
}

func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
