package store

import (
	"context"
	"database/sql"
	"fmt"
)

// rewritten is the user version of a file that holds nothing any more of what
// was deleted or replaced before schema 21.
const rewritten = 21

// rewriteFile writes the whole file again, once.
func rewriteFile(ctx context.Context, db *sql.DB) error {
	var done, messages int
	if err := db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&done); err != nil || done >= rewritten {
		return err
	}
	if err := db.QueryRowContext(ctx, "SELECT count(*) FROM outbox").Scan(&messages); err != nil {
		return err
	}
	steps := []string{fmt.Sprintf("PRAGMA user_version = %d", rewritten)}
	if messages > 0 {
		steps = append([]string{"VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"}, steps...)
	}
	for _, step := range steps {
		if _, err := db.ExecContext(ctx, step); err != nil {
			return fmt.Errorf("rewriting the register without old links, which needs as much space again as the file "+
				"takes: %w", err)
		}
	}
	return nil
}
