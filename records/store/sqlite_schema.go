package store

import (
	"context"
	"database/sql"

	"gorm.io/gorm"
)

// highestEntry is the highest number that an entry of the audit log ever had:
// SQLite remembers it, also when the entry is gone.
func highestEntry(db *gorm.DB) (n int64, err error) {
	err = db.Raw("SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = 'audit'").Scan(&n).Error
	return n, err
}

// isOurs reports whether a file has the tables of a register.
func isOurs(ctx context.Context, db *sql.DB) (bool, error) {
	const tables = "SELECT count(*) FROM sqlite_master WHERE name IN ('records', 'audit', 'goose_db_version')"
	var n int
	err := db.QueryRowContext(ctx, tables).Scan(&n)
	return n == 3, err
}

// schemaQuery reads every table, index, trigger and view by its kind and name.
const schemaQuery = "SELECT type || ' ' || name, coalesce(sql, '') FROM sqlite_master WHERE name NOT LIKE 'sqlite_stat%'"

// freshSchema is what the program makes of an empty file.
func freshSchema(ctx context.Context) (out map[string]string, err error) {
	db, err := sql.Open(driver, ":memory:")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1) // a second one would have a memory of its own
	if err := migrate(ctx, db); err != nil {
		return nil, err
	}
	rows, err := db.QueryContext(ctx, schemaQuery)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out = map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, err
		}
		out[name] = text
	}
	return out, rows.Err()
}
