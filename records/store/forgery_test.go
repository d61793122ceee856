package store_test

import (
	"crypto/ed25519"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// forgery is one way to falsify the file. Those who make them know the program,
// its schema and how the log is chained; they have not got the firm's key.
type forgery struct {
	name string
	do   func(f *forger)
	told string // what the audit says of it
}

type forger struct {
	*sql.DB
	t   *testing.T
	dir string
}

func (f *forger) exec(query string, args ...any) {
	f.t.Helper()
	res, err := f.Exec(query, args...)
	if err != nil {
		f.t.Fatalf("%s: %v", query, err)
	}
	if n, _ := res.RowsAffected(); n == 0 && !strings.HasPrefix(query, "DROP") && !strings.HasPrefix(query, "PRAGMA") &&
		!strings.HasPrefix(query, "CREATE") {
		f.t.Fatalf("%s: nothing was forged", query)
	}
}

func (f *forger) one(query string) (out string) {
	f.t.Helper()
	if err := f.QueryRow(query).Scan(&out); err != nil {
		f.t.Fatalf("%s: %v", query, err)
	}
	return out
}

// unfrozen takes the triggers away that keep what is issued and logged, and
// puts them back afterwards, so that nothing of it shows.
func (f *forger) unfrozen(do func()) {
	f.t.Helper()
	names := column(f.t, f.DB, "SELECT name FROM sqlite_master WHERE type = 'trigger' AND (name LIKE '%no_%' OR name "+
		"LIKE '%frozen%')")
	var texts []string
	for _, name := range names {
		texts = append(texts, f.one("SELECT sql FROM sqlite_master WHERE name = '"+name+"'"))
		f.exec("DROP TRIGGER " + name)
	}
	do()
	for _, text := range texts {
		f.exec(text)
	}
}

func (f *forger) rebuild(from int64) {
	f.t.Helper()
	if err := store.RebuildLog(f.DB, from); err != nil {
		f.t.Fatal(err)
	}
}

// reseal seals a record again, with a key that is not the firm's.
func (f *forger) reseal(number, canonical string, key ed25519.PrivateKey) {
	f.t.Helper()
	seal := records.SealOf([]byte(canonical), key)
	text := string(must(records.MarshalSeal(seal)))
	f.exec("UPDATE issued_documents SET canonical = ?, seal = ? WHERE record_n = (SELECT n FROM records WHERE "+
		"number = ?)",
		[]byte(canonical), text, number)
	f.exec("UPDATE records SET sha256 = ?, code = ? WHERE number = ?", seal.SHA256, seal.Code, number)
	f.exec("UPDATE audit SET detail = json_set(detail, '$.sha256', ?) WHERE what = 'record issued' AND "+
		"json_extract(detail, '$.number') = ?", seal.SHA256, number)
	f.rebuild(1)
}

var forgeries = []forgery{
	{"entry of the log changed", func(f *forger) {
		f.unfrozen(func() { f.exec("UPDATE audit SET actor_name = 'Somebody Else' WHERE seq = 5") })
	}, "entry 5: was changed"},
	{"entry changed, chain made again", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE audit SET actor_name = 'Somebody Else' WHERE seq = 5")
			f.rebuild(5)
		})
	}, "is not what was signed"},
	{"entry removed, chain made again", func(f *forger) {
		f.unfrozen(func() {
			f.exec("DELETE FROM audit WHERE seq = 5")
			f.rebuild(1)
		})
	}, "is not what was signed"},
	{"entry removed, chain and signatures gone", func(f *forger) {
		f.unfrozen(func() {
			f.exec("DELETE FROM audit_heads")
			f.exec("DELETE FROM audit WHERE seq = 5")
			f.rebuild(1)
		})
	}, "names: the log was written again"},
	{"entry inserted", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE audit SET seq = -seq WHERE seq > 5")
			f.exec("UPDATE audit SET seq = 1 - seq WHERE seq < 0")
			f.exec("INSERT INTO audit (seq, at, actor_id, actor_name, what, subject, detail, prev, hash) SELECT 6, " +
				"at, actor_id, actor_name, 'record withdrawn', 'x', '{}', prev, 'x' FROM audit WHERE seq = 5")
			f.rebuild(1)
		})
	}, "is not what was signed"},
	{"end of the log cut off", func(f *forger) {
		f.unfrozen(func() {
			f.exec("PRAGMA foreign_keys = off")
			f.exec("DELETE FROM audit WHERE seq > (SELECT max(seq) - 3 FROM audit)")
			f.exec("UPDATE sqlite_sequence SET seq = (SELECT max(seq) FROM audit) WHERE name = 'audit'")
		})
	}, "cut off before it"},
	{"signature removed", func(f *forger) {
		f.unfrozen(func() { f.exec("DELETE FROM audit_heads WHERE seq = (SELECT max(seq) FROM audit_heads)") })
	}, "has lost its signature"},
	{"log signed with another key", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE audit SET detail = json_set(detail, '$.x', 1) WHERE seq = 5")
			f.rebuild(1)
			for _, seq := range column(f.t, f.DB, "SELECT seq FROM audit_heads") {
				f.exec("DELETE FROM audit_heads WHERE seq = ?", seq)
				var entry int64
				_, _ = fmt.Sscan(seq, &entry)
				h := records.SignHead(records.LogHead{Entry: entry,
					Hash: f.one("SELECT hash FROM audit WHERE seq = " + seq)},
					storetest.Start, otherKey)
				f.exec("INSERT INTO audit_heads VALUES (?, ?, ?, ?, ?)", h.Entry, h.Hash, "2026-11-25T09:00:00.000Z",
					store.Base64(h.PublicKey), store.Base64(h.Signature))
			}
		})
	}, "signed with another key"},
	{"record removed", func(f *forger) {
		f.unfrozen(func() { f.remove("2026-00007") })
	}, "which is gone"},
	{"record removed with its entry", func(f *forger) {
		f.unfrozen(func() {
			f.exec("PRAGMA foreign_keys = off")
			id := f.remove("2026-00006")
			f.exec("DELETE FROM audit_heads WHERE seq >= (SELECT seq FROM audit WHERE subject = ? AND what = "+
				"'record issued')", id)
			f.exec("DELETE FROM audit WHERE subject = ?", id)
			f.rebuild(1)
		})
	}, "names: the log was written again"},
	{"record of nobody put in", func(f *forger) {
		canonical := strings.Replace(f.one(canonicalOf), `"2026-00007"`, `"2026-00008"`, 1)
		seal := records.SealOf([]byte(canonical), otherKey)
		names := column(f.t, f.DB, "SELECT name FROM pragma_table_info('records')")
		values := strings.NewReplacer(" n,", " 900,", " id,", " 'forged',", " number,", " '2026-00008',", " code,",
			" '"+seal.Code+"',", " sha256,", " '"+seal.SHA256+"',").Replace(" " + strings.Join(names, ", ") + ",")
		f.exec("INSERT INTO records SELECT" + strings.TrimSuffix(values, ",") + " FROM records WHERE number = " +
			"'2026-00007'")
		f.exec("INSERT INTO issued_documents VALUES (900, ?, ?)", []byte(canonical),
			string(must(records.MarshalSeal(seal))))
		f.exec("UPDATE numbers SET last = 8 WHERE year = 2026")
	}, "have no entry of their issue"},
	{"what was sealed changed", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE issued_documents SET canonical = CAST(replace(CAST(canonical AS TEXT), '0.0 mbar', '0.1 " +
				"mbar') AS BLOB)")
		})
	}, "is not as it was issued"},
	{"changed and sealed with another key", func(f *forger) {
		f.unfrozen(func() {
			f.reseal("2026-00007", strings.Replace(f.one(canonicalOf), "0.0 mbar", "0.1 mbar", 1), otherKey)
		})
	}, "record 2026-00007 is sealed with another key"},
	{"seals of two records exchanged", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE issued_documents SET record_n = -record_n WHERE record_n IN (1, 2)")
			f.exec("UPDATE issued_documents SET record_n = 3 + record_n WHERE record_n < 0")
		})
	}, "is not as it was issued"},
	{"standing shown changed", func(f *forger) {
		f.unfrozen(func() { f.exec("UPDATE records SET standing = 'adverse' WHERE number = '2026-00007'") })
	}, "shows another standing than was sealed"},
	{"readings shown changed", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE records SET doc = replace(doc, 'Emberline', 'Otherline') WHERE number = '2026-00007'")
		})
	}, "shows another content than was sealed"},
	{"number changed", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE records SET number = '2026-00008' WHERE number = '2026-00007'")
			f.exec("UPDATE numbers SET last = 8 WHERE year = 2026")
		})
	}, "shows another number than was sealed"},
	{"number made free", func(f *forger) {
		f.exec("UPDATE numbers SET last = last + 5 WHERE year = 2026")
	}, "the numbers of 2026 have a gap"},
	{"gap explained away", func(f *forger) {
		f.exec("INSERT INTO skipped_numbers VALUES (2026, 8, 12)")
		f.exec("UPDATE numbers SET last = 12 WHERE year = 2026")
	}, "does not say that the numbers 2026-00008 to 2026-00012 were passed over"},
	{"print exchanged", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE issued_prints SET pdf = (SELECT pdf FROM issued_prints WHERE record_n = 1) WHERE " +
				"record_n = 2")
		})
	}, "the print of record 2026-00002"},
	{"print removed", func(f *forger) {
		f.unfrozen(func() { f.exec("DELETE FROM issued_prints WHERE record_n = 2") })
	}, "is not as it was issued"},
	{"withdrawn record put in force again", func(f *forger) {
		f.unfrozen(func() {
			f.exec("UPDATE records SET stage = 'issued', withdrawn_why = '' WHERE stage = 'withdrawn'")
		})
	}, "was withdrawn, as the log says"},
	{"record counted as withdrawn", func(f *forger) {
		f.exec("UPDATE records SET stage = 'withdrawn', withdrawn_why = 'x' WHERE number = '2026-00007'")
	}, "counts as withdrawn, and the log does not say so"},
	{"amended record put in force again", func(f *forger) {
		f.unfrozen(func() { f.exec("UPDATE records SET stage = 'issued', replaced_by = '' WHERE stage = 'amended'") })
	}, "was amended and counts as in force"},
	{"trigger dropped", func(f *forger) { f.exec("DROP TRIGGER records_no_delete") },
		"the trigger records_no_delete is gone"},
	{"trigger made toothless", func(f *forger) {
		f.exec("DROP TRIGGER audit_no_update")
		f.exec("CREATE TRIGGER audit_no_update BEFORE UPDATE ON audit WHEN 0 BEGIN SELECT 1; END")
	}, "the trigger audit_no_update is not the program's"},
	{"trigger of their own", func(f *forger) {
		f.exec("CREATE TRIGGER quiet AFTER INSERT ON outbox BEGIN DELETE FROM outbox WHERE n = new.n; END")
	}, "the trigger quiet is not the program's"},
	{"index dropped", func(f *forger) { f.exec("DROP INDEX records_number") }, "the index records_number is gone"},
	{"check of a table removed", func(f *forger) {
		f.exec("PRAGMA writable_schema = on")
		f.exec("UPDATE sqlite_master SET sql = replace(sql, 'CHECK (role IN (''owner'', ''office'', " +
			"''engineer''))', '') WHERE name = 'people'")
	}, "the table people is not the program's"},
	{"made an owner", func(f *forger) { f.exec("UPDATE people SET role = 'owner' WHERE name = 'Maud'") },
		"Maud is owner, and the log says engineer"},
	{"account opened again", func(f *forger) { f.exec("UPDATE people SET active = 1 WHERE name = 'Piers'") },
		"the account of Piers is not as the log says"},
	{"owner put in", func(f *forger) {
		f.exec("INSERT INTO people SELECT 'forged', 'A Stranger', 's@x.example', 'owner', '', '', 'hash', 1, " +
			"created_at, 0 FROM people LIMIT 1")
	}, "the log does not know who added A Stranger"},
	{"permissible drop loosened", func(f *forger) {
		f.exec(`UPDATE drop_bands SET doc = replace(doc, '"drop_mbar":5', '"drop_mbar":8')`)
	}, "the permissible drops of"},
	{"calibration put off", func(f *forger) { f.exec("UPDATE instruments SET calibration_due = '2029-01-01'") },
		"the instrument G-9 is not as it was entered last"},
	{"name of the firm changed", func(f *forger) { f.exec("UPDATE firm SET doc = replace(doc, 'Daughter', 'Son')") },
		"the firm's details are not those"},
	{"stranger's key made an earlier one", func(f *forger) {
		c := records.ChangeKey(otherKey, nextKey, storetest.Start)
		f.exec("INSERT INTO firm_keys VALUES (1, ?, ?, '2026-11-25T09:00:00.000Z', ?, ?)", store.Base64(c.Old),
			store.Base64(ours[0]), store.Base64(c.ByOld), store.Base64(c.ByNew))
	}, "is not signed by both keys"},
	{"photo exchanged", func(f *forger) {
		files := must(filepath.Glob(filepath.Join(f.dir, "photos", "??", "*.jpg")))
		for _, name := range files {
			ok(f.t, os.WriteFile(name, []byte("another picture"), 0o600))
		}
	}, "is damaged"},
}

const canonicalOf = "SELECT CAST(canonical AS TEXT) FROM issued_documents WHERE record_n = (SELECT n FROM records " +
	"WHERE number = '2026-00007')"

// remove removes an issued record with all that hangs on it.
func (f *forger) remove(number string) (id string) {
	f.exec("PRAGMA foreign_keys = off")
	id = f.one("SELECT id FROM records WHERE number = '" + number + "'")
	for _, table := range []string{"issued_documents", "issued_prints"} {
		f.exec("DELETE FROM "+table+" WHERE record_n = (SELECT n FROM records WHERE number = ?)", number)
	}
	f.exec("DELETE FROM records WHERE number = ?", number)
	return id
}

// Each forgery made directly in the file is told of.
func TestForgeriesAreTold(t *testing.T) {
	t.Parallel()
	if len(forgeries) < 20 {
		t.Fatalf("only %d forgeries", len(forgeries))
	}
	first := evidence(t)
	file, photos := must(os.ReadFile(first)), filepath.Join(filepath.Dir(first), "photos")
	for _, c := range forgeries {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			path := filepath.Join(dir, "forged.db")
			ok(t, os.WriteFile(path, file, 0o600))
			ok(t, os.CopyFS(filepath.Join(dir, "photos"), os.DirFS(photos)))
			db := behind(t, path)
			db.SetMaxOpenConns(1) // its pragmas hold for one connection
			c.do(&forger{DB: db, t: t, dir: dir})
			ok(t, db.Close())
			if _, flaws := proof(t, path, ours); !strings.Contains(flaws, c.told) {
				t.Errorf("the audit says:\n%s", flaws)
			}
		})
	}
}
