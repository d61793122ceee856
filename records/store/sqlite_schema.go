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
