package store

import "database/sql"

// SQLite writes the words of an appliance out to the search index after each
// statement that has a trigger, which takes far longer than the row itself.
// Many rows are therefore put in without that trigger and indexed by one
// statement afterwards. Taking a trigger away and putting it back is part of
// the transaction: if it comes to nothing, nothing has changed.

// pausedIndex is the search index while many appliances are put in.
type pausedIndex struct {
	*bulk
	triggers []string // as the schema has them
	next     int64    // first appliance that is not indexed yet
}

// pauseIndex stops the index from following changes. With all, it follows no
// change of an appliance either; otherwise only new ones wait.
func (b *bulk) pauseIndex(all bool) (*pausedIndex, error) {
	p := &pausedIndex{bulk: b}
	if err := b.each("SELECT coalesce(max(n), 0) + 1 FROM appliances", nil, func(r *sql.Rows) error {
		return r.Scan(&p.next)
	}); err != nil {
		return nil, err
	}
	names := []string{"appliances_index"}
	if all {
		names = append(names, "appliances_unindex", "appliances_reindex")
	}
	for _, name := range names {
		var text string
		if err := b.each("SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = ?", []any{name},
			func(r *sql.Rows) error {
				return r.Scan(&text)
			}); err != nil {
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

// catchUp indexes what was put in since.
func (p *pausedIndex) catchUp() error {
	if _, err := p.exec("INSERT INTO appliance_words (docid, search) SELECT n, search FROM appliances WHERE n >= ? "+
		"ORDER BY n", p.next); err != nil {
		return err
	}
	return p.each("SELECT coalesce(max(n), 0) + 1 FROM appliances", nil, func(r *sql.Rows) error {
		return r.Scan(&p.next)
	})
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
