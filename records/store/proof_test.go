package store_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// nextKey follows storetest.Key, and otherKey is a stranger's.
var (
	nextKey  = ed25519.NewKeyFromSeed([]byte("the next key, protects nothing.."))
	otherKey = ed25519.NewKeyFromSeed([]byte("another key, protects nothing..."))
	ours     = []ed25519.PublicKey{storetest.Key.Public().(ed25519.PublicKey)}
)

// proof proves a register against the firm's key and returns what is wrong.
func proof(t *testing.T, path string, keys []ed25519.PublicKey, known ...records.LogHead) (store.Proof, string) {
	t.Helper()
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	defer s.Close()
	p := must(s.Audit.Prove(ctx, store.ProofOptions{Keys: keys, Known: known, Photos: true,
		Print: func(number string, print []byte) error {
			if !strings.HasPrefix(string(print), "%PDF-1.7 "+number+" ") {
				return fmt.Errorf("is another")
			}
			return nil
		}}))
	var flaws []string
	for _, f := range p.Flaws {
		flaws = append(flaws, f.Error())
	}
	return p, strings.Join(flaws, "\n")
}

// evidence is a register to be forged: people, settings, photos, records in
// force, amended and withdrawn, each issue signed for.
func evidence(t *testing.T) (path string) {
	t.Helper()
	w := newWorld(t)
	ok(t, w.Settings.SaveDropBands(ctx, by, records.DropBands{Edition: records.Edition4, Fuel: records.FuelNatural,
		Clause: "table 1", EnteredBy: "Orla", Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 5}}}))
	must(w.Settings.SaveInstrument(ctx, by, records.Instrument{ID: "g1", Kind: "gauge", Serial: "G-9",
		CalibrationDue: records.MustDate("2026-01-01")}))
	r := storetest.MustDraft(t, w.Store, w.other.ID, records.Remedial, "2026-11-21")
	must(w.Photos.Add(ctx, by, r.ID, w.photo))
	mustIssue(t, w.Store, r.ID, r.Revision)
	ok(t, w.Close())
	return w.path
}

func TestAWholeRegisterProves(t *testing.T) {
	t.Parallel()
	p, flaws := proof(t, evidence(t), ours)
	if flaws != "" || p.Records != 7 || p.Prints != 6 || p.Signed != 7 || p.Unsigned != 0 || p.Entries < 60 {
		t.Errorf("%+v\n%s", p, flaws)
	}
}

// What is known from outside the register proves what no file can prove by
// itself: that its end was not cut off.
func TestKnownFromOutside(t *testing.T) {
	t.Parallel()
	path := evidence(t)
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	must(s.People.NewKey(ctx, by, must(s.People.List(ctx))[0].ID, "unsigned"))
	seq, hash, err := s.Audit.Head(ctx)
	ok(t, err)
	ok(t, s.Close())
	head := records.LogHead{Entry: seq, Hash: hash}
	if p, flaws := proof(t, path, ours, head); flaws != "" || p.Unsigned != 1 || *p.Head != head {
		t.Fatalf("%+v\n%s", p, flaws)
	}
	f := &forger{DB: behind(t, path), t: t}
	f.SetMaxOpenConns(1)
	f.unfrozen(func() {
		f.exec("DELETE FROM audit WHERE seq = ?", seq)
		f.exec("UPDATE sqlite_sequence SET seq = ? WHERE name = 'audit'", seq-1)
	})
	if _, flaws := proof(t, path, ours); flaws != "" {
		t.Errorf("without anything from outside: %s", flaws)
	}
	if _, flaws := proof(t, path, ours, head); !strings.Contains(flaws, "known from outside") {
		t.Errorf("the entry is gone, and the audit says %q", flaws)
	}
}

// The newest entry is signed once, however often it is asked for.
func TestSign(t *testing.T) {
	s := empty(t)
	if h := must(s.Audit.Sign(ctx, storetest.Key)); h.Entry != 0 || must(s.Audit.Signed(ctx)) != nil {
		t.Errorf("an empty log is signed: %+v", h)
	}
	for range 2 {
		storetest.MustAppliance(t, s, 1)
		seq, hash, err := s.Audit.Head(ctx)
		ok(t, err)
		first := must(s.Audit.Sign(ctx, storetest.Key))
		if first.Entry != seq || first.Hash != hash || !first.Holds(ours[0]) {
			t.Errorf("signed %+v, want entry %d", first, seq)
		}
		if again := must(s.Audit.Sign(ctx, storetest.Key)); !reflect.DeepEqual(again, first) {
			t.Errorf("signed again: %+v", again)
		}
		if kept := must(s.Audit.Signed(ctx)); !reflect.DeepEqual(*kept, first) {
			t.Errorf("kept %+v", kept)
		}
	}
}

// A new key proves what the old one sealed; a key of nobody does not fit.
func TestKeyChanges(t *testing.T) {
	t.Parallel()
	path := evidence(t)
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	next := nextKey.Public().(ed25519.PublicKey)
	ok(t, s.Settings.FitsKey(ctx, ours[0]))
	wantKind(t, s.Settings.FitsKey(ctx, next), records.Conflict)
	wantKind(t, s.Settings.ChangeKey(ctx, by, otherKey, nextKey), records.Conflict)
	ok(t, s.Settings.ChangeKey(ctx, by, storetest.Key, nextKey))
	ok(t, s.Settings.FitsKey(ctx, next))
	wantKind(t, s.Settings.FitsKey(ctx, ours[0]), records.Conflict)
	wantKind(t, s.Settings.ChangeKey(ctx, by, nextKey, storetest.Key), records.Conflict)
	keys := must(s.Settings.Keys(ctx, next))
	ok(t, s.Close())
	if len(keys) != 2 || !keys[1].Equal(ours[0]) {
		t.Fatalf("keys %x", keys)
	}
	if p, flaws := proof(t, path, keys); flaws != "" || p.Unsigned != 0 {
		t.Errorf("%+v\n%s", p, flaws)
	}
	if _, flaws := proof(t, path, keys[:1]); !strings.Contains(flaws, "sealed with another key") {
		t.Errorf("the new key alone: %q", flaws)
	}
}

// The readiness check writes, and says so when the file does not take it.
func TestWritable(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ok(t, w.Writable(ctx))
	ok(t, w.Writable(ctx))
	if _, err := behind(t, w.path).Exec("CREATE TRIGGER full BEFORE UPDATE ON last_check BEGIN SELECT RAISE(ABORT, " +
		"'disk full'); END"); err != nil {
		t.Fatal(err)
	}
	if err := w.Writable(ctx); err == nil || !strings.Contains(err.Error(), "disk full") {
		t.Errorf("error %v", err)
	}
}

// A clock that is behind what was written last issues nothing; put right, it
// does. Nothing is lost meanwhile.
func TestClockBehindIssuesNothing(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	s := storetest.MustOpenAt(t, filepath.Join(t.TempDir(), "x.db"), clock.Now)
	r := storetest.MustDraft(t, s, storetest.MustAppliance(t, s, 1).ID, records.Service, "2026-11-20")
	clock.Set(storetest.Start.Add(-time.Hour))
	_, _, err := s.Records.Issue(ctx, by, r.ID, r.Revision, storetest.Issuer())
	if records.KindOf(err) != records.Conflict || !strings.Contains(err.Error(), "the clock of the server says") {
		t.Errorf("error %v", err)
	}
	r.Values.Put(records.StandingMbar.Field, "21.0")
	r = must(s.Records.SaveDraft(ctx, by, r, r.Revision))
	clock.Set(storetest.Start.Add(time.Hour))
	if row := mustIssue(t, s, r.ID, r.Revision); row.Number != "2026-00001" {
		t.Errorf("issued as %s", row.Number)
	}
	wholeRegister(t, s)
}

// The log names the statement that failed and none of the values in it.
func TestLogHoldsNoValues(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	path := filepath.Join(t.TempDir(), "x.db")
	s := must(store.Open(ctx, store.Options{Path: path, Unsynced: true, Log: slog.New(slog.NewTextHandler(&log, nil))}))
	defer s.Close()
	past, cancel := context.WithDeadline(ctx, time.Now().Add(-time.Second))
	defer cancel()
	gone, leave := context.WithCancel(ctx)
	leave()
	for _, late := range []context.Context{past, gone, past} { // again: not said again
		for _, err := range []error{
			second(s.People.ByEmail(late, "findable@home.example")),
			second(s.Bookings.FeedByToken(late, "findable")),
			second(s.Chase.OfDuties(late, []string{"findable"})),
		} {
			if err == nil || records.KindOf(err) != records.Internal {
				t.Errorf("error %v", err)
			}
		}
	}
	text := log.String()
	if strings.Contains(text, "findable") {
		t.Errorf("the log holds what was asked for: %s", text)
	}
	if n := strings.Count(text, "SQL executed"); n != 3 || !strings.Contains(text, "people") ||
		!strings.Contains(text, "deadline exceeded") {
		t.Errorf("%d lines, want one for each statement that ended at its deadline: %s", n, text)
	}
}

// second returns the error of a call that returns a value too.
func second[T any](_ T, err error) error { return err }

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
