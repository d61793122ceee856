package main

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
)

// forge changes a register past the program, with its triggers out of the way
// and put back.
func forge(t *testing.T, dir string, statements ...string) {
	t.Helper()
	db, err := sql.Open("sqlite3", filepath.Join(dir, "register.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	rows, err := db.Query("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND (name LIKE '%no_%' OR " +
		"name LIKE '%frozen%')")
	if err != nil {
		t.Fatal(err)
	}
	triggers := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			t.Fatal(err)
		}
		triggers[name] = text
	}
	rows.Close()
	for name := range triggers {
		statements = append([]string{"DROP TRIGGER " + name}, statements...)
	}
	for _, text := range triggers {
		statements = append(statements, text)
	}
	for _, q := range statements {
		if _, err := db.Exec(q); err != nil {
			t.Fatalf("%s: %v", q, err)
		}
	}
}

// What lies outside the register holds it to what it said: a customer's paper,
// an export, a backup. Whoever cuts the end of the log off cannot call those
// back.
func TestAuditAgainstFilesFromOutside(t *testing.T) {
	t.Parallel()
	dir, out := t.TempDir(), t.TempDir()
	newOwner(t, dir)
	f := setUp(t, serve(t, dir))
	_, appliance := f.addHome("14 Larkspur Rise", "imogen.farrow@example.org")
	record := f.startRecord(appliance, records.Commissioning, today(t))
	f.fillRecord(record)
	f.issueRecord(record)
	paper := write(t, out, "paper.pdf", f.office.get("/records/"+record+"/pdf").body)
	f.stop()
	lines, copied := filepath.Join(out, "register.jsonl"), filepath.Join(out, "copy.db")
	must(t, "", "export", "--data", dir, lines)
	must(t, "", "backup", "--data", dir, copied)
	files := []string{paper, lines, copied, copied + ".log.json"}
	args := []string{"audit", "--data", dir}
	for _, name := range files {
		args = append(args, "--against", name)
	}
	if said := must(t, "", args...); !strings.Contains(said, "files from outside name: 4 of 4") {
		t.Errorf("audit says %s", said)
	}
	if got := gaugebook(t, "", "audit", "--data", dir, "--against", filepath.Join(dir, "firm.key")); got.code != exitBad ||
		!strings.Contains(got.err, "names no entry") {
		t.Errorf("against a file that names none: exit %d %s", got.code, got.err)
	}

	// Without the firm's key another log can be made, but not another past.
	forge(t, dir, "DELETE FROM audit_heads", "DELETE FROM audit WHERE seq > 3",
		"UPDATE sqlite_sequence SET seq = 3 WHERE name = 'audit'")
	for _, name := range files {
		got := gaugebook(t, "", "audit", "--data", dir, "--against", name)
		if got.code != exitAdverse || !strings.Contains(got.err, "known from outside") {
			t.Errorf("against %s: exit %d %s", name, got.code, got.err)
		}
	}
}

// An audit, an export and a backup leave a register of an earlier version as it
// was, byte for byte.
func TestReadingNeverMigrates(t *testing.T) {
	t.Parallel()
	set := filepath.Join(registersDir, "schema-10")
	dir, out := filepath.Join(t.TempDir(), "old"), t.TempDir()
	unpack(t, set, dir)
	before := sumOf(read(t, filepath.Join(dir, "register.db")))
	must(t, "", "audit", "--data", dir)
	must(t, "", "export", "--data", dir, filepath.Join(out, "register.jsonl"))
	copied := filepath.Join(out, "copy.db")
	must(t, "", "backup", "--data", dir, copied)
	if sumOf(read(t, filepath.Join(dir, "register.db"))) != before {
		t.Error("the register has changed")
	}
	left, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range left {
		// SQLite's own two files come and go.
		if name := strings.TrimSuffix(strings.TrimSuffix(f.Name(), "-wal"), "-shm"); name != "register.db" &&
			name != "firm.key" && name != "photos" {
			t.Errorf("%s is new", f.Name())
		}
	}
	db, err := sql.Open("sqlite3", "file:"+copied+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var version int
	if err := db.QueryRow("SELECT max(version_id) FROM goose_db_version").Scan(&version); err != nil || version != 10 {
		t.Errorf("the copy has schema %d, %v", version, err)
	}
}
