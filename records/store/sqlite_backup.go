package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"

	"gaugebook/records"
)

// copyTo copies through a connection of its own: the driver's backup call
// starts again with each write and never ends on a busy database.
func copyTo(ctx context.Context, from, to string) error {
	db, err := sql.Open(driver, fileURI(from)+"?mode=ro&_busy_timeout=5000")
	if err != nil {
		return err
	}
	defer db.Close()
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", to); err != nil {
		return err
	}
	if err := CheckFile(ctx, to); err != nil {
		return err
	}
	f, err := os.OpenFile(to, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// CheckFile reads a database file through and returns an error if it is
// damaged or not one of ours. It changes nothing.
func CheckFile(ctx context.Context, path string) error {
	db, err := sql.Open(driver, fileURI(path)+"?mode=ro&_query_only=true&_busy_timeout=5000")
	if err != nil {
		return err
	}
	defer db.Close()
	var verdict string
	if err := db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&verdict); err != nil {
		return fmt.Errorf("checking %s: %w", path, err)
	}
	if verdict != "ok" {
		return fmt.Errorf("checking %s: %s", path, verdict)
	}
	ours, err := isOurs(ctx, db)
	if err != nil {
		return fmt.Errorf("checking %s: %w", path, err)
	}
	if !ours {
		return notOurs(path)
	}
	return nil
}

func notOurs(path string) error {
	return &records.Error{Kind: records.Invalid, Field: "path", Label: "Database file", Value: path,
		Want: "a file that this program made"}
}

// pictureNames finds the pictures that records and the firm name. Most
// documents name none, which the text alone tells.
const pictureNames = `SELECT json_extract(p.value, '$.sha256') FROM records r, json_each(r.doc, '$.photos') p
	WHERE instr(r.doc, '"photos":[') > 0
	UNION SELECT json_extract(doc, '$.firm.logo_sha256') FROM records WHERE instr(doc, '"logo_sha256":') > 0
	UNION SELECT json_extract(doc, '$.logo_sha256') FROM firm WHERE instr(doc, '"logo_sha256":') > 0
	ORDER BY 1`

// namedPictures returns the pictures that a database file names.
func namedPictures(ctx context.Context, path string) ([]string, error) {
	db, err := sql.Open(driver, fileURI(path)+"?mode=ro&_query_only=true")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	rows, err := db.QueryContext(ctx, pictureNames)
	if err != nil {
		return nil, fmt.Errorf("looking for the pictures named in %s: %w", path, err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var sum string
		if err := rows.Scan(&sum); err != nil {
			return nil, err
		}
		out = append(out, sum)
	}
	return out, rows.Err()
}
