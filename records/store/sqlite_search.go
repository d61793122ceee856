package store

import (
	"database/sql"
	"strings"
)

// searchHits are the appliances that the search index finds.
const searchHits = "SELECT docid FROM appliance_words WHERE appliance_words MATCH ?"

// searchFrom is the same as a table to go by, w, with the appliances, a.
const (
	searchFrom  = "appliance_words w" + then + "appliances a ON a.n = w.docid"
	searchWhere = "w.appliance_words MATCH ?"
)

// matchOf makes a query of the index. Each word is quoted, so that nothing
// typed is ever taken for an operator.
func matchOf(terms []term) string {
	out := make([]string, len(terms))
	for i, t := range terms {
		out[i] = `"` + t.word + `*"`
		if t.whole {
			out[i] = `"` + t.word + `"`
		}
	}
	return strings.Join(out, " ")
}

// SQLite writes the words of an appliance out to the search index after each
// statement that has a trigger, which takes far longer than the row itself.
// Many rows are therefore inserted without that trigger and indexed by one
// statement afterwards. Taking a trigger away and putting it back is part of
// the transaction: if it comes to nothing, nothing has changed.

// pausedIndex is the search index while many appliances are inserted.
type pausedIndex struct {
	*bulk
	triggers []string // as the schema has them
	next     int64    // first appliance that is not indexed yet
}

// pauseIndex stops the index from following changes. With all, it follows no
// change of an appliance either; otherwise only new ones wait.
func (b *bulk) pauseIndex(all bool) (*pausedIndex, error) {
	p := &pausedIndex{bulk: b}
	if err := b.nextNumber(applianceTable, &p.next); err != nil {
		return nil, err
	}
	names := []string{"appliances_index"}
	if all {
		names = append(names, "appliances_unindex", "appliances_reindex")
	}
	for _, name := range names {
		var text string
		err := b.each("SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = ?", []any{name},
			func(r *sql.Rows) error { return r.Scan(&text) })
		if err != nil {
			return nil, err
		}
		p.triggers = append(p.triggers, text)
	}
	for _, name := range names {
		if _, err := b.conn.ExecContext(b.ctx, "DROP TRIGGER "+name); err != nil {
			return nil, err
		}
	}
	return p, nil
}

const indexFrom = "INSERT INTO appliance_words (docid, search) SELECT n, search FROM appliances WHERE n >= ? ORDER BY n"

// catchUp indexes what was inserted since.
func (p *pausedIndex) catchUp() error {
	if err := p.exec(indexFrom, p.next); err != nil {
		return err
	}
	return p.nextNumber(applianceTable, &p.next)
}

// resume indexes the rest and lets the index follow changes again.
func (p *pausedIndex) resume() error {
	if err := p.catchUp(); err != nil {
		return err
	}
	for _, text := range p.triggers {
		if _, err := p.conn.ExecContext(p.ctx, text); err != nil {
			return err
		}
	}
	return nil
}
