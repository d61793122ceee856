package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"gaugebook/records"
)

// OpenToRead opens a register without changing anything of it: nothing is
// migrated and nothing can be written. One that an earlier version wrote, or
// that lies where nothing can be written beside it, is copied to a folder of its
// own among the temporary files first, which Close removes. Photos are read from
// beside the register either way. A file written by a newer version is refused
// as a Conflict.
func OpenToRead(ctx context.Context, opt Options) (*Store, error) {
	opt = opt.filled()
	file, clean, err := readable(ctx, opt.Path)
	if err != nil {
		return nil, err
	}
	have, newest, err := schemaOf(ctx, file)
	if err == nil && have > newest {
		err = tooNew(have, newest)
	}
	if err == nil && have < newest {
		file, clean, err = upgraded(ctx, file, clean)
	}
	if err != nil {
		return nil, errors.Join(err, clean())
	}
	s := &db{opt: opt, gatherMost: gatherMost, clean: clean}
	if s.reader, err = openReader(ctx, file, opt.Log); err != nil {
		return nil, errors.Join(err, clean())
	}
	s.writer = s.reader // which refuses to write
	return openDoors(s), nil
}

func tooNew(have, newest int64) error {
	return records.Fail(records.Conflict,
		fmt.Sprintf("the database has schema %d, this program knows up to %d: use the newer program", have, newest))
}

// Schema returns the version of the schema of a register, and the newest that
// this program knows. It changes nothing.
func Schema(ctx context.Context, path string) (have, newest int64, err error) {
	file, clean, err := readable(ctx, path)
	if err != nil {
		return 0, 0, err
	}
	have, newest, err = schemaOf(ctx, file)
	return have, newest, errors.Join(err, clean())
}

// scratch makes a folder for a copy that is only needed for a while.
func scratch() (dir string, clean func() error, err error) {
	dir, err = os.MkdirTemp("", "gaugebook-*")
	return dir, func() error { return os.RemoveAll(dir) }, err
}

// readable returns the file itself or, where SQLite cannot read it because
// nothing can be written beside it, a copy.
func readable(ctx context.Context, path string) (file string, clean func() error, err error) {
	if _, err := os.Stat(path); err != nil {
		return "", nil, err
	}
	direct := tryRead(ctx, path)
	if direct == nil {
		return path, func() error { return nil }, nil
	}
	dir, clean, err := scratch()
	if err != nil {
		return "", nil, err
	}
	file = filepath.Join(dir, "register.db")
	err = copyFile(path, file)
	if err == nil {
		// What has not been taken over into the file yet belongs to it.
		if err = copyFile(path+"-wal", file+"-wal"); errors.Is(err, os.ErrNotExist) {
			err = nil
		}
	}
	if err == nil {
		err = tryRead(ctx, file)
	}
	if err != nil {
		return "", nil, errors.Join(fmt.Errorf("opening %s: %w", path, errors.Join(direct, err)), clean())
	}
	return file, clean, nil
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

// upgraded copies a register of an earlier version and migrates the copy.
func upgraded(ctx context.Context, file string, clean func() error) (string, func() error, error) {
	dir, cleanCopy, err := scratch()
	if err != nil {
		return "", clean, err
	}
	both := func() error { return errors.Join(cleanCopy(), clean()) }
	to := filepath.Join(dir, "upgraded.db")
	if err := copyTo(ctx, file, to); err != nil {
		return "", both, err
	}
	return to, both, migrateFile(ctx, to)
}
