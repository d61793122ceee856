package store_test

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func TestPragmasHoldOnEveryConnection(t *testing.T) {
	t.Parallel()
	// A path full of signs that mean something in a URI.
	dir := filepath.Join(t.TempDir(), "a b?c#d%20e&f")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "x.db")
	s := must(store.Open(ctx, store.Options{Path: path}))
	defer s.Close()
	if _, err := os.Stat(path); err != nil {
		t.Fatalf("the file is not where it was asked for: %v", err)
	}
	one, reader := store.Pools(s)
	writer, err := sql.Open("sqlite3", store.WriterDSN(path, false)) // a pool that may have two
	if err != nil {
		t.Fatal(err)
	}
	defer writer.Close()
	for name, pool := range map[string]struct {
		db   *sql.DB
		want map[string]string
	}{
		"writer": {writer, map[string]string{"journal_mode": "wal", "busy_timeout": "5000", "foreign_keys": "1",
			"synchronous": "2", "query_only": "0", "recursive_triggers": "1"}},
		"reader": {reader,
			map[string]string{"journal_mode": "wal", "busy_timeout": "5000", "foreign_keys": "1", "query_only": "1"}},
	} {
		for range 2 {
			c, err := pool.db.Conn(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			defer c.Close() // both are held at once, so they are two
			for pragma, want := range pool.want {
				var got string
				if err := c.QueryRowContext(context.Background(), "PRAGMA "+pragma).Scan(&got); err != nil ||
					got != want {
					t.Errorf("%s: %s = %q %v, want %q", name, pragma, got, err, want)
				}
			}
		}
	}
	if _, err := reader.Exec("DELETE FROM people"); err == nil {
		t.Error("a reader could write")
	}
	if n := one.Stats().MaxOpenConnections; n != 1 {
		t.Errorf("the writer may have %d connections", n)
	}
}

func TestFreshSchemaIsTheUpgradedOne(t *testing.T) {
	t.Parallel()
	schemaOf := func(db *sql.DB) (out []string) {
		rows, err := db.Query("SELECT type || ' ' || name || ' ' || coalesce(sql, '') FROM sqlite_master ORDER BY " +
			"type, name")
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		for rows.Next() {
			var line string
			if err := rows.Scan(&line); err != nil {
				t.Fatal(err)
			}
			out = append(out, line)
		}
		return out
	}
	fresh, _ := store.Pools(storetest.MustOpen(t))

	// Step by step, with data in it since the first step.
	path := filepath.Join(t.TempDir(), "old.db")
	old, err := sql.Open("sqlite3", store.WriterDSN(path, false))
	if err != nil {
		t.Fatal(err)
	}
	p, err := store.Migrator(old)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.UpByOne(ctx); err != nil {
		t.Fatal(err)
	}
	if _, err := old.Exec("INSERT INTO people VALUES ('p1', 'Old Hand', 'old@firm.example', 'owner', '', '', " +
		"'hash', 1, '2026-01-01T00:00:00.000Z')"); err != nil {
		t.Fatal(err)
	}
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	s := must(store.Open(ctx, store.Options{Path: path}))
	defer s.Close()
	upgraded, _ := store.Pools(s)
	if a, b := schemaOf(fresh), schemaOf(upgraded); !reflect.DeepEqual(a, b) || len(a) < 20 {
		t.Errorf("fresh:\n%s\nupgraded:\n%s", strings.Join(a, "\n"), strings.Join(b, "\n"))
	}
	if p, err := s.People.ByEmail(ctx, "OLD@firm.example"); err != nil || p.Name != "Old Hand" || !p.Active {
		t.Errorf("person %+v, %v", p, err)
	}

	// A file from the future is left alone.
	if _, err := upgraded.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)"); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(ctx, store.Options{Path: path}); records.KindOf(err) != records.Conflict {
		t.Errorf("opening a newer file: %v", err)
	}
}

func TestOpenRefuses(t *testing.T) {
	t.Parallel()
	for _, path := range []string{"", ":memory:", "file::memory:"} {
		if _, err := store.Open(context.Background(),
			store.Options{Path: path}); records.KindOf(err) != records.Invalid {
			t.Errorf("Open(%q): %v", path, err)
		}
	}
	text := filepath.Join(t.TempDir(), "notes.txt")
	if err := os.WriteFile(text, []byte(strings.Repeat("no database at all\n", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(context.Background(), store.Options{Path: text}); err == nil {
		t.Error("a text file was opened")
	}
}
