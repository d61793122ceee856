package store

import (
	"context"
	"database/sql"
	"errors"
	"log/slog"
	"testing"

	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"gaugebook/records"
)

// OpenWithGormCache opens a store whose readers prepare statements as gorm
// does with PrepareStmt: the mistake that TestFreshStoreNeverFreezes is for.
func OpenWithGormCache(ctx context.Context, opt Options) (*Store, error) {
	s, err := Open(ctx, opt)
	if err != nil {
		return nil, err
	}
	pool, err := s.reader.DB()
	if err == nil {
		config := gormConfig(slog.New(slog.DiscardHandler))
		config.PrepareStmt = true
		s.reader, err = gorm.Open(sqlite.New(sqlite.Config{Conn: pool}), config)
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// HoldWriter runs do within a write transaction, which keeps every other
// writer waiting.
func HoldWriter(s *Store, do func()) error {
	return s.write(context.Background(), records.SystemActor, func(*tx) error { do(); return nil })
}

// GatherMost makes the queries of the register narrow or wide, as a small or a
// large register would.
func GatherMost(s *Store, rows int) { s.gatherMost = rows }

// Pools returns the pool of the one writer and that of the readers.
func Pools(s *Store) (writer, reader *sql.DB) {
	w, err1 := s.writer.DB()
	r, err2 := s.reader.DB()
	if err := errors.Join(err1, err2); err != nil {
		panic(err)
	}
	return w, r
}

// MustScan reads the rows of a query.
func MustScan(tb testing.TB, s *Store, into any, sql string, args ...any) {
	tb.Helper()
	if err := s.reader.Raw(sql, args...).Scan(into).Error; err != nil {
		tb.Fatal(err)
	}
}

// MustExec runs a statement as no method of the store would.
func MustExec(tb testing.TB, s *Store, sql string, args ...any) {
	tb.Helper()
	if err := s.writer.Exec(sql, args...).Error; err != nil {
		tb.Fatal(err)
	}
}

// PlanOf returns the steps in which SQLite answers a query.
func PlanOf(tb testing.TB, s *Store, sql string, args ...any) (steps []string) {
	tb.Helper()
	rows, err := s.reader.Raw("EXPLAIN QUERY PLAN "+sql, args...).Rows()
	if err != nil {
		tb.Fatalf("%s: %v", sql, err)
	}
	defer rows.Close()
	for rows.Next() {
		var id, parent, unused int
		var step string
		if err := rows.Scan(&id, &parent, &unused, &step); err != nil {
			tb.Fatal(err)
		}
		steps = append(steps, step)
	}
	return steps
}

// Statement is a query with its arguments.
type Statement struct {
	SQL  string
	Args []any
}

// StatementOf is the query that a page of the register is found by.
func StatementOf(tb testing.TB, s *Store, q Query) (sql string, args []any) {
	tb.Helper()
	st, ok, err := q.statement(s.reader, s.gatherMost, 51)
	if err != nil || !ok {
		tb.Fatalf("%+v: %v %v", q, ok, err)
	}
	return st.sql, st.args
}

// OverviewStatements are the queries of the overview.
func OverviewStatements() []Statement {
	return []Statement{
		{dueMonths, []any{map[string]any{"today": "2026-11-25", "far": "2027-01-20", "none": noDue}}},
		{rateByEngineer, []any{"2025-12", "2026-11"}}, {rateByKind, []any{"2025-12", "2026-11"}},
		{countDrafts, []any{9}}, {countMessages, []any{"failed", 9}}, {countDuties, []any{"annual service", 9}},
		{oldestDrafts, []any{9}},
	}
}

// LateUntold is the search for duties that became late.
var LateUntold = lateUntold

// RowColumns are the columns of each table as the structs of its rows have
// them.
func RowColumns() map[string][]string {
	out := map[string][]string{}
	for _, t := range tables {
		for _, c := range t.columns {
			out[t.name] = append(out[t.name], c.name)
		}
	}
	return out
}

// Exported are the tables that a register travels with, and LeftBehind those
// that it does not, and why.
func Exported() (names []string) {
	for _, t := range lineTables {
		names = append(names, t.name)
	}
	return names
}

// LeftBehind are the tables that stay with their register.
var LeftBehind = leftBehind

// What tests of opening need.
var (
	WriterDSN = writerDSN
	Migrator  = migrator
)

// What tests build queries and expectations from.
var (
	Cursor      = cursor
	ReadCursor  = readCursor
	Stamp       = stamp
	Instant     = instant
	TokensOf    = tokensOf
	IsWhole     = isWhole
	AddressKey  = addressKey
	CursorKind  = Query.cursorKind
	IsByDuty    = Query.byDuty
	IsByAddress = Query.byAddress
)

// NoDue stands for nothing due in the column due.
const NoDue = noDue

// RowsByKey reads a page of the register by primary keys: the least that a
// page can cost.
func RowsByKey(ctx context.Context, s *Store, ns []int64) error {
	found := make([]registerRow, len(ns))
	for i, n := range ns {
		found[i] = registerRow{N: n, DutyN: n}
	}
	_, err := registerRows(s.reader.WithContext(ctx), found)
	return err
}

// RebuildLog computes the hashes of the log again from an entry on, as somebody who
// knows the program would.
func RebuildLog(db *sql.DB, from int64) error {
	rows, err := db.Query("SELECT " + auditTable.list("") + " FROM audit ORDER BY seq")
	if err != nil {
		return err
	}
	var all []auditRow
	for rows.Next() {
		var r auditRow
		if err := rows.Scan(auditTable.into(&r)...); err != nil {
			return errors.Join(err, rows.Close())
		}
		all = append(all, r)
	}
	if err := rows.Close(); err != nil {
		return err
	}
	prev := ""
	for i, r := range all {
		seq := int64(i + 1)
		if seq < from && r.Seq == seq {
			prev = r.Hash
			continue
		}
		was := r.Seq
		r.Seq, r.Prev = seq, prev
		r.Hash = r.seal()
		if _, err := db.Exec("UPDATE audit SET seq = ?, prev = ?, hash = ? WHERE seq = ?", r.Seq, r.Prev, r.Hash,
			was); err != nil {
			return err
		}
		prev = r.Hash
	}
	_, err = db.Exec("UPDATE sqlite_sequence SET seq = ? WHERE name = 'audit'", len(all))
	return err
}

// Base64 writes a key or signature as it is stored.
var Base64 = base64Of
