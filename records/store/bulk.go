package store

import (
	"context"
	"database/sql"
	"path/filepath"

	"gorm.io/gorm"

	"gaugebook/records"
)

// Dir returns the folder that the database lies in.
func (s *db) Dir() string { return filepath.Dir(s.opt.Path) }

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

// exec runs a statement and returns the number of the row it inserted.
func (b *bulk) exec(text string, args ...any) (int64, error) {
	st, err := b.stmt(text)
	if err != nil {
		return 0, err
	}
	res, err := st.ExecContext(b.ctx, args...)
	if err != nil {
		return 0, err
	}
	return res.LastInsertId()
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

const (
	insertProperty = `INSERT INTO properties (n, id, line1, line2, town, postcode, nation, contact_name, contact_email, contact_phone, contact_tenure, contact_address, created_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	insertAppliance = `INSERT INTO appliances (n, id, property_n, kind, make_model, serial, doc, nation, address_key, search, due, due_n, last_record_n, no_service, no_landlord, created_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	insertDuty = `INSERT INTO duties (n, id, appliance_n, kind, due, why, source, state, record_n, work_date, closed_record_n, closed_at, closed_by, closed_why, created_at, appliance_kind, nation)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	insertRecord = `INSERT INTO records (n, id, appliance_n, purpose, stage, standing, work_date, engineer_id, engineer, revision, schema, doc, rejected, findings, replaces, number, code, sha256, issued_at, replaced_by, withdrawn_why, created_at, updated_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	insertDocument = `INSERT INTO issued_documents (record_n, canonical, seal) VALUES (?, ?, ?)`
)

// orNull makes 0 no number, so that SQLite gives the row one of its own.
func orNull(n int64) any {
	if n == 0 {
		return nil
	}
	return n
}

func (r propertyRow) args() []any {
	return []any{orNull(r.N), r.ID, r.Line1, r.Line2, r.Town, r.Postcode, r.Nation, r.ContactName, r.ContactEmail,
		r.ContactPhone, r.ContactTenure, r.ContactAddress, r.CreatedAt}
}

func (r applianceRow) args() []any {
	return []any{orNull(r.N), r.ID, r.PropertyN, r.Kind, r.MakeModel, r.Serial, r.Doc, r.Nation, r.AddressKey,
		r.Search, r.Due, r.DueN, r.LastRecordN, r.NoService, r.NoLandlord, r.CreatedAt}
}

func (r dutyRow) args() []any {
	return []any{orNull(r.N), r.ID, r.ApplianceN, r.Kind, r.Due, r.Why, r.Source, r.State, r.RecordN, r.WorkDate,
		r.ClosedRecordN, r.ClosedAt, r.ClosedBy, r.ClosedWhy, r.CreatedAt, r.ApplianceKind, r.Nation}
}

func (r recordRow) args() []any {
	return []any{orNull(r.N), r.ID, r.ApplianceN, r.Purpose, r.Stage, r.Standing, r.WorkDate, r.EngineerID, r.Engineer,
		r.Revision, r.Schema, r.Doc, r.Rejected, r.Findings,
		r.Replaces, r.Number, r.Code, r.SHA256, r.IssuedAt, r.ReplacedBy, r.WithdrawnWhy, r.CreatedAt, r.UpdatedAt}
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

const viewRowSQL = `SELECT p.line1, p.line2, p.town, p.postcode, p.nation, p.contact_name, p.contact_email, p.contact_phone, p.contact_tenure, p.contact_address,
	a.doc, coalesce(d.kind, ''), coalesce(d.due, ''), coalesce(r.number, ''), coalesce(r.work_date, ''), coalesce(r.standing, '')
	FROM appliances a JOIN properties p ON p.n = a.property_n LEFT JOIN duties d ON d.n = ? LEFT JOIN records r ON r.n = a.last_record_n WHERE a.n = ?`

func viewRows(ctx context.Context, db *gorm.DB, found []registerRow, fn func(ViewRow) error) error {
	b := bulkOf(ctx, db)
	defer b.close()
	for _, f := range found {
		var p propertyRow
		var doc, kind, due, work, standing string
		var v ViewRow
		err := b.each(viewRowSQL, []any{f.DutyN, f.N}, func(rows *sql.Rows) error {
			return rows.Scan(&p.Line1, &p.Line2, &p.Town, &p.Postcode, &p.Nation, &p.ContactName, &p.ContactEmail,
				&p.ContactPhone, &p.ContactTenure, &p.ContactAddress,
				&doc, &kind, &due, &v.Number, &work, &standing)
		})
		if err != nil {
			return err
		}
		e := p.entry()
		v.Property, v.Contact, v.WorkDate, v.Standing = e.Property, e.Contact, date(work), records.Standing(standing)
		if err := fromJSON(doc, &v.Values); err != nil {
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
