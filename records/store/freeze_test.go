package store_test

import (
	"database/sql"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// behind opens the file past the store, as somebody with a tool would.
func behind(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+path+"?_busy_timeout=5000&_recursive_triggers=on&_txlock=immediate")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func issuedFile(t *testing.T) (string, *store.Store) {
	path := filepath.Join(t.TempDir(), "x.db")
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	a := storetest.MustAppliance(t, s, 1)
	storetest.MustIssue(t, s, a.ID, records.Commissioning, "2026-11-24", storetest.ServiceDue("2027-11-24"))
	return path, s
}

func TestTriggersRefuse(t *testing.T) {
	t.Parallel()
	path, s := issuedFile(t)
	db := behind(t, path)
	for _, stmt := range []string{
		"UPDATE records SET doc = '{}'", "UPDATE records SET number = '2026-00002'",
		"UPDATE records SET issued_at = ''",
		"UPDATE records SET stage = 'draft', number = ''", "UPDATE records SET standing = 'clear ', stage = 'amended'",
		"UPDATE records SET findings = '[]', stage = 'withdrawn'", "DELETE FROM records",
		"REPLACE INTO records SELECT * FROM records",
		"UPDATE issued_documents SET canonical = x'00'", "DELETE FROM issued_documents",
		"REPLACE INTO issued_documents SELECT record_n, x'00', seal FROM issued_documents",
		"UPDATE issued_prints SET pdf = x'00'", "DELETE FROM issued_prints",
		"REPLACE INTO issued_prints SELECT record_n, x'00' FROM issued_prints",
		"UPDATE audit SET actor_name = 'somebody else'", "DELETE FROM audit", "REPLACE INTO audit SELECT * FROM audit",
		"DELETE FROM duties", "DELETE FROM appliances",
	} {
		_, err := db.Exec(stmt)
		if err == nil || !strings.Contains(err.Error(), "cannot be") &&
			!strings.Contains(err.Error(), "never deleted") {
			t.Errorf("%s: %v", stmt, err)
		}
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
	if _, err := db.Exec("UPDATE records SET stage = 'withdrawn', withdrawn_why = 'x'"); err != nil {
		t.Errorf("withdrawing: %v", err)
	}
	if _, err := db.Exec("UPDATE records SET stage = 'issued'"); err == nil {
		t.Error("a withdrawn record was put back in force")
	}
}

func TestTamperingShows(t *testing.T) {
	t.Parallel()
	const free = "DROP TRIGGER audit_no_update; DROP TRIGGER audit_no_delete; "
	for stmt, want := range map[string]string{
		free + "UPDATE audit SET actor_name = 'x' WHERE seq = 2":            "entry 2: was changed",
		free + "UPDATE audit SET detail = '{}' WHERE seq = 3":               "entry 3: was changed",
		free + "UPDATE audit SET at = replace(at, '2026', '2025')":          "entry 1: was changed",
		free + "DELETE FROM audit WHERE seq = 2":                            "entry 2: is missing",
		free + "DELETE FROM audit WHERE seq = 1":                            "entry 1: is missing",
		free + "DELETE FROM audit WHERE seq = (SELECT max(seq) FROM audit)": "is missing from the end",
		free + "UPDATE audit SET prev = hash WHERE seq = 3":                 "entry 3: does not follow",
	} {
		path, s := issuedFile(t)
		if _, err := behind(t, path).Exec(stmt); err != nil {
			t.Fatal(err)
		}
		err := s.Audit.Proved(ctx)
		var broken *store.AuditBroken
		if !errors.As(err, &broken) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", stmt, err, want)
		}
	}
	for _, stmt := range []string{
		"DROP TRIGGER issued_documents_no_update; UPDATE issued_documents SET canonical = " +
			"CAST(replace(CAST(canonical AS TEXT), '0.0 mbar', '0.1 mbar') AS BLOB)",
		"DROP TRIGGER issued_prints_no_delete; DELETE FROM issued_prints",
		"DROP TRIGGER records_frozen; UPDATE records SET sha256 = 'f'",
		"DROP TRIGGER records_frozen; UPDATE records SET number = '2026-00002'",
		"UPDATE numbers SET last = 2",
	} {
		path, s := issuedFile(t)
		if _, err := behind(t, path).Exec(stmt); err != nil {
			t.Fatal(err)
		}
		if s.Audit.Proved(ctx) == nil {
			t.Errorf("%s: not noticed", stmt)
		}
	}
}
