package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"strconv"
	"strings"
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

// Newest returns the version of the schema that this program writes.
func Newest() int64 {
	files, err := migrations.ReadDir("migrations")
	if err != nil || len(files) == 0 { // which is seen at once, by whatever opens a register
		return 0
	}
	number, _, _ := strings.Cut(files[len(files)-1].Name(), "_")
	n, _ := strconv.ParseInt(number, 10, 64)
	return n
}
