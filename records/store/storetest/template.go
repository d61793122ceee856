package storetest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"gaugebook/records/store"
)

// template is an empty database with the newest schema. It is made once for
// all tests of a package: bringing up the schema takes far longer than a copy.
var template = sync.OnceValues(func() (data []byte, err error) {
	dir, err := os.MkdirTemp("", "storetest-*")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	path := filepath.Join(dir, "template.db")
	s, err := store.Open(context.Background(), store.Options{Path: path, Unsynced: true})
	if err != nil {
		return nil, err
	}
	// Closing moves what is in the write-ahead log into the file.
	if err := s.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

// MustOpen opens a new database in a directory of the test, with a Clock.
func MustOpen(tb testing.TB) *store.Store {
	tb.Helper()
	return MustOpenAt(tb, filepath.Join(tb.TempDir(), "test.db"), NewClock().Now)
}

// MustOpenAt opens the database at path, making it if there is none, and
// closes it when the test ends. It does not wait for the disk: a test of what
// survives a crash opens the store itself. Statements that fail are not
// logged: their errors are returned.
func MustOpenAt(tb testing.TB, path string, now func() time.Time) *store.Store {
	tb.Helper()
	if err := copyTemplate(path); err != nil {
		tb.Fatalf("making %s: %v", path, err)
	}
	s, err := store.Open(context.Background(), store.Options{Path: path, Now: now, Unsynced: true,
		Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		tb.Fatalf("opening %s: %v", path, err)
	}
	tb.Cleanup(func() {
		if err := s.Close(); err != nil {
			tb.Errorf("closing %s: %v", path, err)
		}
	})
	return s
}

func copyTemplate(path string) error {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	data, err := template()
	if err != nil {
		return fmt.Errorf("the template: %w", err)
	}
	return os.WriteFile(path, data, 0o600)
}
