package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"time"
)

// bareLoop writes the rows into bare tables of a file of their own.
func bareLoop(ctx context.Context, dir string, rows []insert) (took time.Duration, err error) {
	dir, err = os.MkdirTemp(dir, ".bare-*")
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	db, err := sql.Open(driver, writerDSN(filepath.Join(dir, "bare.db"), true))
	if err != nil {
		return 0, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	for _, t := range []*table{propertyTable, applianceTable, recordTable, documentTable, dutyTable} {
		if _, err := db.ExecContext(ctx, "CREATE TABLE "+t.name+" ("+t.list("")+")"); err != nil {
			return 0, err
		}
	}
	begun := time.Now()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer func() { _ = tx.Rollback() }() // after a commit there is nothing to take back
	b := &bulk{ctx, tx, map[string]*sql.Stmt{}}
	defer b.close()
	for _, in := range rows {
		if err := b.insert(in.into, in.row); err != nil {
			return 0, err
		}
	}
	err = tx.Commit()
	return time.Since(begun), err
}
