package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"

	"gaugebook/records/store"
)

var errLocked = errors.New("another program is at work on this folder")

// lock makes sure that nobody else serves, restores or upgrades this folder.
func (h home) lock() (release func() error, err error) {
	if err := os.MkdirAll(h.Data, 0o700); err != nil {
		return nil, err
	}
	release, err = lockFile(filepath.Join(h.Data, "server.lock"))
	if errors.Is(err, errLocked) {
		err = fmt.Errorf("a server runs on %s already: stop it first, or name another folder with --data", h.Data)
	}
	return release, err
}

// openLocked opens the register for whoever holds the lock. One that an earlier
// version wrote is copied before it is brought up to date.
func (h home) openLocked(ctx context.Context, opt store.Options) (*store.Store, error) {
	if err := os.MkdirAll(h.Data, 0o700); err != nil {
		return nil, err
	}
	if !h.fresh() {
		have, newest, err := store.Schema(ctx, h.database())
		if err != nil {
			return nil, err
		}
		if have < newest {
			if err := h.copyBefore(ctx, have); err != nil {
				return nil, fmt.Errorf("the register was not upgraded, since it could not be copied first: %w", err)
			}
		}
	}
	opt.Path = h.database()
	st, err := store.Open(ctx, opt)
	if err != nil {
		return nil, err
	}
	return st, errors.Join(h.modes())
}

func (h home) before(schema int64) string {
	return filepath.Join(h.Data, fmt.Sprintf("before-schema-%04d.db", schema))
}

// copyBefore keeps the register as it is before an upgrade. An upgrade that
// failed left a copy, which may be older than the register by now.
func (h home) copyBefore(ctx context.Context, have int64) error {
	name := h.before(have)
	if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return store.BackupFile(ctx, h.database(), name)
}

// modes lets nobody else read what is in the folder, whoever made it.
func (h home) modes() error {
	if err := os.Chmod(h.Data, 0o700); err != nil {
		return err
	}
	for _, name := range []string{h.database(), h.database() + "-wal", h.database() + "-shm", h.keyFile(),
		h.signIns()} {
		if err := os.Chmod(name, 0o600); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

type undoCommand struct{ home }

// Run puts the register back as it was before the last upgrade, as long as
// nothing was done in it since.
func (c *undoCommand) Run(e *env) (err error) {
	if c.fresh() {
		return c.noRegister()
	}
	release, err := c.lock()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	copies, err := filepath.Glob(filepath.Join(c.Data, "before-schema-*.db"))
	if err != nil || len(copies) == 0 {
		return errors.Join(err, fmt.Errorf("there is no copy of before an upgrade in %s", c.Data))
	}
	sort.Strings(copies)
	last := copies[len(copies)-1]
	was, err := headOfBackup(e.ctx, last)
	if err != nil {
		return err
	}
	is, err := headOfBackup(e.ctx, c.database())
	if err != nil {
		return err
	}
	if is != was {
		return fmt.Errorf("the register has been used since the upgrade (its log has grown from entry %d to %d), and "+
			"going back would lose that: use the newer program, or restore %s into another folder", was.Entry,
			is.Entry, last)
	}
	for _, left := range []string{"-wal", "-shm"} {
		if err := os.Remove(c.database() + left); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if err := os.Rename(last, c.database()); err != nil {
		return err
	}
	_, err = fmt.Fprintln(e.stdout, "The register is as it was before the upgrade: use the earlier program with it.")
	return err
}
