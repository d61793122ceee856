package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// BenchmarkImportList prints how the rows a second of a list of 100,000
// compare with the same rows written by plain prepared inserts in one
// transaction: into bare tables of the same columns, and into the register's
// own schema with its indexes and triggers.
func BenchmarkImportList(b *testing.B) {
	const n = 100_000
	for range b.N {
		path := filepath.Join(b.TempDir(), "list.db")
		s := storetest.MustOpenAt(b, path, time.Now)
		change := func(i int, it *store.ListItem) {
			it.Property.Postcode = fmt.Sprintf("AB%d %d%c%c", i/9000%90+10, i%9+1, "ABDEFGHJLN"[i/9%10],
				"PQRSTUWXYZ"[i/90%10])
		}
		begun := time.Now()
		got, err := s.Bulk.ImportList(context.Background(), storetest.Actor, store.ListOptions{}, listed(n, change))
		took := time.Since(begun)
		if err != nil || got.Appliances != n {
			b.Fatalf("%+v, %v", got, err)
		}
		rows := got.Properties + got.Appliances + got.Duties
		plain, same := plainInserts(b, path, false), plainInserts(b, path, true)
		b.ReportMetric(float64(rows)/took.Seconds(), "rows/s")
		b.ReportMetric(plain.Seconds()/took.Seconds(), "x-of-bare-tables")
		b.ReportMetric(same.Seconds()/took.Seconds(), "x-of-same-schema")
	}
}

// plainInserts reads the rows into memory and times writing them.
func plainInserts(b *testing.B, path string, schema bool) time.Duration {
	b.Helper()
	must := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	from, err := sql.Open("sqlite3", path)
	must(err)
	defer from.Close()
	into := filepath.Join(b.TempDir(), "plain.db")
	if schema {
		storetest.MustOpenAt(b, into, time.Now)
	}
	to, err := sql.Open("sqlite3", into+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate")
	must(err)
	defer to.Close()
	to.SetMaxOpenConns(1)
	type row struct {
		stmt string
		args []any
	}
	var rows []row
	for _, table := range []string{"properties", "appliances", "duties"} {
		q, err := from.Query("SELECT * FROM " + table)
		must(err)
		names, err := q.Columns()
		must(err)
		if !schema {
			_, err = to.Exec("CREATE TABLE " + table + " (" + strings.Join(names, ", ") + ")")
			must(err)
		}
		stmt := "INSERT INTO " + table + " VALUES (?" + strings.Repeat(", ?", len(names)-1) + ")"
		for q.Next() {
			args, into := make([]any, len(names)), make([]any, len(names))
			for i := range args {
				into[i] = &args[i]
			}
			must(q.Scan(into...))
			rows = append(rows, row{stmt, args})
		}
		must(q.Err())
	}
	begun := time.Now()
	tx, err := to.Begin()
	must(err)
	prepared := map[string]*sql.Stmt{}
	for _, r := range rows {
		if prepared[r.stmt] == nil {
			prepared[r.stmt], err = tx.Prepare(r.stmt)
			must(err)
		}
		_, err := prepared[r.stmt].Exec(r.args...)
		must(err)
	}
	must(tx.Commit())
	return time.Since(begun)
}
