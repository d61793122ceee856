package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
)

//go:embed migrations/*.sql
var migrations embed.FS

// migrate brings the schema up to date, each step in a transaction of its
// own. A step that has been released is never edited; a change is a new one.
func migrate(ctx context.Context, db *sql.DB) error {
	p, err := migrator(db)
	if err != nil {
		return fmt.Errorf("reading the schema steps: %w", err)
	}
	have, newest, err := p.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("reading the schema version: %w", err)
	}
	if have > newest {
		return tooNew(have, newest)
	}
	if have < newest {
		if _, err := p.Up(ctx); err != nil {
			return fmt.Errorf("bringing the schema from %d to %d: %w", have, newest, err)
		}
	}
	return rewriteFile(ctx, db)
}
