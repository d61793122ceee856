package store

import (
	"context"
	"slices"
	"strings"

	"gorm.io/gorm"

	"gaugebook/records"
)

// gatherMost is how many rows a query may gather and sort. A narrower set is
// gathered; a wider one is walked in the order asked for, where a page is
// full soon.
const gatherMost = 5000

// statement is one query of the register: the numbers of the rows of a page,
// in order. Each names the index it goes by, so that its plan cannot change
// with the data.
type statement struct {
	sql  string
	args []any
}

// builder puts a statement together.
type builder struct {
	db     *gorm.DB
	most   int // rows that may be gathered
	from   string
	joined []any // arguments of from
	where  []string
	args   []any // arguments of where
	dutyN  string
	text   string // what is sorted by, before n
	n      string
	copies bool // kind and nation are read from the duty
	listed bool // goes by the list of source already
}

func (b *builder) and(cond string, args ...any) {
	b.where, b.args = append(b.where, cond), append(b.args, args...)
}

func (b *builder) statement(limit int) statement {
	return statement{
		sql: "SELECT a.n AS n, coalesce(" + b.dutyN + ", 0) AS duty_n, " + b.text + " AS sort_text, " + b.n +
			" AS sort_n FROM " + b.from + " WHERE " + strings.Join(b.where, " AND ") +
			" ORDER BY " + b.text + ", " + b.n + " LIMIT ?",
		args: append(slices.Concat(b.joined, b.args), limit),
	}
}

// dueRange returns the dates of the state: from lo, and before hi unless that
// is blank.
func (q Query) dueRange() (lo, hi string) {
	if q.Weeks > 0 {
		return q.Today.String(), q.Today.AddDays(7*q.Weeks + 1).String()
	}
	nearEnd := q.Today.AddDays(records.NearDays + 1).String()
	switch q.State {
	case records.Late:
		return "", q.Today.String()
	case records.Near:
		return q.Today.String(), nearEnd
	case records.Ahead:
		return nearEnd, noDue
	case NoDuty:
		return noDue, ""
	}
	return "", ""
}

func (q Query) byAddress() bool { return q.Sort == ByAddress || q.State == NoDuty }

// byDuty reports whether the rows are duties of one kind.
func (q Query) byDuty() bool { return q.Duty != "" && q.State != NoDuty }

func (q Query) cursorKind() string {
	switch {
	case q.byAddress():
		return "address"
	case q.byDuty():
		return "register-duty"
	}
	return "register-due"
}

// statement plans the query. ok is false when nothing can match.
func (q Query) statement(db *gorm.DB, most, limit int) (st statement, ok bool, err error) {
	text, n, err := readCursor(q.cursorKind(), q.After)
	if err != nil {
		return st, false, err
	}
	var terms []term
	if strings.TrimSpace(q.Search) != "" {
		if terms = termsOf(q.Search); len(terms) == 0 {
			return st, false, nil
		}
	}
	b := &builder{db: db, most: most, dutyN: "a.due_n", text: "a.due", n: "a.n"}
	if q.byAddress() {
		b.text = "a.address_key"
	}
	if q.byDuty() {
		b.dutyN = "d.n"
		if !q.byAddress() {
			b.text, b.n = "d.due", "d.n"
		}
	}
	if err := q.source(b, terms); err != nil {
		return st, false, err
	}
	b.and("a.retired = 0")
	if !b.listed {
		q.listed(b)
	}
	kind, nation := "a.kind", "a.nation"
	if b.copies {
		kind, nation = "d.appliance_kind", "d.nation"
	}
	if q.Kind != "" {
		b.and(kind+" = ?", q.Kind)
	}
	if q.Nation != "" {
		b.and(nation+" = ?", q.Nation)
	}
	lo, hi := q.dueRange()
	// One lower bound, which the walk can begin at: that of the state or
	// the cursor, whichever is later.
	if !q.byAddress() && text < lo {
		text, n = lo, 0
	}
	b.and("("+b.text+", "+b.n+") > (?, ?)", text, n)
	due := "a.due"
	if q.byDuty() {
		due = "d.due"
	}
	if q.byAddress() && lo != "" && (q.State != NoDuty || q.Duty == "") {
		b.and(due+" >= ?", lo)
	}
	if hi != "" {
		b.and(due+" < ?", hi)
	}
	return b.statement(limit), true, nil
}

// source chooses the table or index that the query goes by.
func (q Query) source(b *builder, terms []term) error {
	if len(terms) > 0 {
		match := matchOf(terms)
		few, err := b.isFew(searchHits, match)
		if err != nil {
			return err
		}
		if few {
			q.fromSearch(b, match)
			return nil
		}
		// So many that a page fills soon: the words of each row on the way
		// are looked at, and the index is not read through.
		defer func() {
			for _, w := range terms {
				b.and(holds("' ' || a.search || ' '"), w.within())
			}
		}()
	}
	if list, args := q.list(); list != "" {
		few, err := b.isFew(list, args...)
		if err != nil {
			return err
		}
		if few {
			q.fromList(b, list, args)
			return nil
		}
	}
	switch {
	case q.State == NoDuty && q.Duty == records.AnnualService:
		b.from = "appliances a" + by("appliances_no_service")
		b.and("a.no_service = 1")
		return nil
	case q.State == NoDuty && q.Duty == records.LandlordCheckDue:
		b.from = "appliances a" + by("appliances_no_landlord")
		b.and("a.no_landlord = 1")
		return nil
	case !q.byAddress():
		q.fromDue(b)
		return nil
	}
	few, err := q.fewDue(b)
	if err != nil {
		return err
	}
	if few {
		q.fromDue(b)
		return nil
	}
	b.from = "appliances a" + by("appliances_"+q.indexOf("address"))
	if q.byDuty() {
		b.from += then + "duties d ON d.n = (SELECT e.n FROM duties e" + by("duties_appliance") + `
			WHERE e.appliance_n = a.n AND e.state = 'open' AND e.kind = ? ORDER BY e.due, e.n LIMIT 1)`
		b.joined = append(b.joined, q.Duty)
	}
	return nil
}

// The lists of appliances that a filter names, and how a row of the register
// is found in one.
var (
	draftList = "SELECT DISTINCT appliance_n AS n FROM records" + by("records_drafts") + `
		WHERE stage = 'draft' AND created_at < ?`
	draftListed = "EXISTS (SELECT 1 FROM records x" + by("records_drafts_at") + `
		WHERE x.appliance_n = a.n AND x.stage = 'draft' AND x.created_at < ?)`
	uncalibList   = "SELECT appliance_n AS n FROM uncalibrated"
	uncalibListed = "EXISTS (SELECT 1 FROM uncalibrated u WHERE u.appliance_n = a.n)"
)

// list returns the list that the query may go by, "" for none.
func (q Query) list() (sql string, args []any) {
	switch {
	case !q.DraftBefore.IsZero():
		return draftList, []any{stamp(q.DraftBefore)}
	case q.Uncalibrated:
		return uncalibList, nil
	}
	return "", nil
}

// fromList goes by a short list of appliances, which is then sorted.
func (q Query) fromList(b *builder, list string, args []any) {
	b.from, b.joined = "("+list+") l"+then+"appliances a ON a.n = l.n", args
	q.ofAppliance(b)
	if !q.DraftBefore.IsZero() && q.Uncalibrated {
		b.and(uncalibListed)
	}
	b.listed = true
}

// listed asks of each row on the way whether it is in the lists.
func (q Query) listed(b *builder) {
	if !q.DraftBefore.IsZero() {
		b.and(draftListed, stamp(q.DraftBefore))
	}
	if q.Uncalibrated {
		b.and(uncalibListed)
	}
}

func (q Query) fromSearch(b *builder, match string) {
	b.from = searchFrom
	b.and(searchWhere, match)
	q.ofAppliance(b)
}

// ofAppliance joins the duties asked for to each appliance found, or asks for
// those that have none.
func (q Query) ofAppliance(b *builder) {
	switch {
	case q.byDuty():
		b.from += then + "duties d" + by("duties_appliance") + `
			ON d.appliance_n = a.n AND d.state = 'open' AND d.kind = ?`
		b.joined = append(b.joined, q.Duty)
	case q.State == NoDuty && q.Duty == records.AnnualService:
		b.and("a.no_service = 1")
	case q.State == NoDuty && q.Duty == records.LandlordCheckDue:
		b.and("a.no_landlord = 1")
	}
}

// fromDue goes by date: of the duties of one kind, or of the earliest duty.
func (q Query) fromDue(b *builder) {
	if q.byDuty() {
		b.from = "duties d" + by("duties_open_kind") + then + "appliances a ON a.n = d.appliance_n"
		b.and("d.state = 'open' AND d.kind = ?", q.Duty)
		b.copies = true
		return
	}
	b.from = "appliances a" + by("appliances_"+q.indexOf("due"))
}

func (q Query) indexOf(order string) string {
	switch {
	case q.Kind != "":
		return "kind_" + order
	case q.Nation != "":
		return "nation_" + order
	}
	return order
}

// fewDue reports whether the state leaves so few rows that they can be sorted
// by address.
func (q Query) fewDue(b *builder) (bool, error) {
	if q.State == "" && q.Duty == "" && q.Weeks == 0 {
		return false, nil
	}
	lo, hi := q.dueRange()
	if hi == "" {
		hi = "9999-99-99~"
	}
	if q.byDuty() {
		return b.isFew("SELECT n FROM duties"+by("duties_open_kind")+`
			WHERE state = 'open' AND kind = ? AND due >= ? AND due < ?`, q.Duty, lo, hi)
	}
	var n int
	err := b.db.Raw("SELECT coalesce(sum(appliances), 0) FROM due_days WHERE due >= ? AND due < ?", lo, hi).
		Scan(&n).Error
	return n <= b.most, err
}

// isFew counts no further than it must.
func (b *builder) isFew(sql string, args ...any) (bool, error) {
	var n int
	err := b.db.Raw("SELECT count(*) FROM ("+sql+" LIMIT ?) AS few", append(args, b.most+1)...).Scan(&n).Error
	return n <= b.most, err
}

// DueCounts is how many appliances in use stand how, by their earliest duty.
type DueCounts struct{ Late, Near, Ahead, None int }

// Counts returns how the appliances in use stand on a day.
func (s Register) Counts(ctx context.Context, today records.Date) (c DueCounts, err error) {
	const count = `SELECT
		coalesce(sum(CASE WHEN due < @today THEN appliances END), 0) AS late,
		coalesce(sum(CASE WHEN due >= @today AND due < @far THEN appliances END), 0) AS near,
		coalesce(sum(CASE WHEN due >= @far AND due < @none THEN appliances END), 0) AS ahead,
		coalesce(sum(CASE WHEN due = @none THEN appliances END), 0) AS none FROM due_days`
	err = s.read(ctx).Raw(count, map[string]any{"today": today.String(),
		"far": today.AddDays(records.NearDays + 1).String(), "none": noDue}).Scan(&c).Error
	return c, explain(err)
}
