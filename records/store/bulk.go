package store

import (
	"context"
	"database/sql"

	"gorm.io/gorm"

	"gaugebook/records"
)

// Many rows go through statements prepared once in one transaction: gorm
// would take most of the time.

// bulk is the raw connection under a transaction, with its statements.
type bulk struct {
	ctx   context.Context
	conn  gorm.ConnPool
	stmts map[string]*sql.Stmt
}

func bulkOf(ctx context.Context, db *gorm.DB) *bulk {
	return &bulk{ctx, db.Statement.ConnPool, map[string]*sql.Stmt{}}
}

func (b *bulk) stmt(text string) (*sql.Stmt, error) {
	if st := b.stmts[text]; st != nil {
		return st, nil
	}
	st, err := b.conn.PrepareContext(b.ctx, text)
	if err == nil {
		b.stmts[text] = st
	}
	return st, err
}

func (b *bulk) exec(text string, args ...any) error {
	st, err := b.stmt(text)
	if err != nil {
		return err
	}
	_, err = st.ExecContext(b.ctx, args...)
	return err
}

// insert writes a whole row, which knows its number.
func (b *bulk) insert(into *table, row any) error { return b.exec(into.insert, into.args(row)...) }

// nextNumber reads the number that the next row of a table is to have.
func (b *bulk) nextNumber(of *table, into *int64) error {
	return b.each("SELECT coalesce(max(n), 0) + 1 FROM "+of.name, nil, func(r *sql.Rows) error { return r.Scan(into) })
}

// each calls scan for every row of a query.
func (b *bulk) each(text string, args []any, scan func(*sql.Rows) error) (err error) {
	st, err := b.stmt(text)
	if err != nil {
		return err
	}
	rows, err := st.QueryContext(b.ctx, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (b *bulk) close() {
	for _, st := range b.stmts {
		_ = st.Close() // nothing is lost with it
	}
}

// ViewRow is an appliance with all that an exported list says of it.
type ViewRow struct {
	Property records.Property
	Contact  records.Contact
	Values   records.Values
	Duty     *records.Duty // Kind and Due; nil for none
	Number   string        // of the last record in force
	WorkDate records.Date
	Standing records.Standing
}

// viewPage is how many rows are read at once: memory does not grow with the
// view.
const viewPage = 500

// EachInView calls fn for every row of a register view, in its order and as
// it stood at one moment. An error of fn ends the reading and is returned.
// Errors: Invalid.
func (s Bulk) EachInView(ctx context.Context, q Query, fn func(ViewRow) error) error {
	if err := q.check(); err != nil {
		return err
	}
	return s.view(ctx, func(db *gorm.DB) error {
		for {
			st, ok, err := q.statement(db, s.gatherMost, viewPage)
			if err != nil || !ok {
				return err
			}
			var found []registerRow
			if err := db.Raw(st.sql, st.args...).Scan(&found).Error; err != nil {
				return err
			}
			if err := viewRows(ctx, db, found, fn); err != nil || len(found) < viewPage {
				return err
			}
			last := found[len(found)-1]
			q.After = cursor(q.cursorKind(), last.SortText, last.SortN)
		}
	})
}

var viewRowSQL = `SELECT ` + propertyTable.list("p") + `, a.doc, coalesce(d.kind, ''), coalesce(d.due, ''),
	coalesce(r.number, ''), coalesce(r.work_date, ''), coalesce(r.standing, '')
	FROM appliances a
	JOIN properties p ON p.n = a.property_n
	LEFT JOIN duties d ON d.n = ?
	LEFT JOIN records r ON r.n = a.last_record_n
	WHERE a.n = ?`

func viewRows(ctx context.Context, db *gorm.DB, found []registerRow, fn func(ViewRow) error) error {
	b := bulkOf(ctx, db)
	defer b.close()
	for _, f := range found {
		var p propertyRow
		var doc, kind, due, work, standing string
		var v ViewRow
		into := append(propertyTable.into(&p), &doc, &kind, &due, &v.Number, &work, &standing)
		err := b.each(viewRowSQL, []any{f.DutyN, f.N}, func(rows *sql.Rows) error { return rows.Scan(into...) })
		if err != nil {
			return err
		}
		e := p.entry()
		v.Property, v.Contact, v.WorkDate, v.Standing = e.Property, e.Contact, date(work), records.Standing(standing)
		if v.Values, err = storedValues(doc); err != nil {
			return err
		}
		if kind != "" {
			v.Duty = &records.Duty{Kind: records.DutyKind(kind), Due: date(due)}
		}
		if err := fn(v); err != nil {
			return err
		}
	}
	return nil
}
