package store

import (
	"context"
	"slices"

	"gorm.io/gorm"

	"gaugebook/records"
)

// MonthDue is how many appliances in use have their earliest duty in a month,
// by how it stands.
type MonthDue struct {
	Month             string // YYYY-MM
	Late, Near, Ahead int
}

const dueMonths = `SELECT substr(due, 1, 7) AS month,
	sum(CASE WHEN due < @today THEN appliances ELSE 0 END) AS late,
	sum(CASE WHEN due >= @today AND due < @far THEN appliances ELSE 0 END) AS near,
	sum(CASE WHEN due >= @far THEN appliances ELSE 0 END) AS ahead
	FROM due_days
	WHERE due < @none
	GROUP BY substr(due, 1, 7)
	ORDER BY 1`

// DueMonths returns the months in which something is due, earliest first.
func (s Register) DueMonths(ctx context.Context, today records.Date) (months []MonthDue, err error) {
	err = s.read(ctx).Raw(dueMonths, map[string]any{"today": today.String(),
		"far": today.AddDays(records.NearDays + 1).String(), "none": noDue}).Scan(&months).Error
	return months, explain(err)
}

// IssueRate is how many of the records first issued by one engineer, or for
// one kind of appliance, were clear and needed no condition report.
type IssueRate struct {
	Of            string // id of the engineer, or code of the kind
	Name          string // of the engineer, if they are on file
	Issued, Clear int
}

const (
	rateByEngineer = `SELECT c.engineer_id AS "of", coalesce(p.name, '') AS name,
		sum(c.issued) AS issued, sum(c.clear) AS clear
		FROM issue_counts c LEFT JOIN people p ON p.id = c.engineer_id
		WHERE c.month >= ? AND c.month <= ?
		GROUP BY c.engineer_id, p.name
		ORDER BY 3 DESC, 1`

	rateByKind = `SELECT kind AS "of", sum(issued) AS issued, sum(clear) AS clear
		FROM issue_counts
		WHERE month >= ? AND month <= ?
		GROUP BY kind
		ORDER BY 2 DESC, 1`
)

// IssueRates returns the rates of work done from the month of one day to that
// of another, most records first.
func (s Register) IssueRates(ctx context.Context,
	from, until records.Date) (byEngineer, byKind []IssueRate, err error) {
	lo, hi := from.String()[:len("2006-01")], until.String()[:len("2006-01")]
	err = s.view(ctx, func(db *gorm.DB) error {
		if err := db.Raw(rateByEngineer, lo, hi).Scan(&byEngineer).Error; err != nil {
			return err
		}
		return db.Raw(rateByKind, lo, hi).Scan(&byKind).Error
	})
	return byEngineer, byKind, err
}

// CountMost is where the counts of Waiting stop.
const CountMost = 1000

// Waiting is what waits for somebody. Each count ends at CountMost.
type Waiting struct {
	Drafts, Failed, Unsure int
	Notices                map[records.DutyKind]int // open duties of the kinds asked for
	OldestDrafts           []RecordLine
}

var (
	countDrafts = "SELECT count(*) FROM (SELECT 1 FROM records" + by("records_drafts") + `
		WHERE stage = 'draft' LIMIT ?) AS few`
	countMessages = "SELECT count(*) FROM (SELECT 1 FROM outbox" + by("outbox_state") + `
		WHERE state = ? LIMIT ?) AS few`
	countDuties = "SELECT count(*) FROM (SELECT 1 FROM duties" + by("duties_open_kind") + `
		WHERE state = 'open' AND kind = ? LIMIT ?) AS few`
	oldestDrafts = "SELECT n FROM records" + by("records_drafts") + `
		WHERE stage = 'draft' ORDER BY created_at, n LIMIT ?`
)

// Waiting returns what waits, with the oldest drafts.
func (s Register) Waiting(ctx context.Context, notices []records.DutyKind, drafts int) (w Waiting, err error) {
	w.Notices = map[records.DutyKind]int{}
	err = s.view(ctx, func(db *gorm.DB) error {
		count := func(n *int, sql string, args ...any) error {
			return db.Raw(sql, append(args, CountMost)...).Scan(n).Error
		}
		if err := count(&w.Drafts, countDrafts); err != nil {
			return err
		}
		if err := count(&w.Failed, countMessages, records.MessageFailed); err != nil {
			return err
		}
		if err := count(&w.Unsure, countMessages, records.MessageUnsure); err != nil {
			return err
		}
		for _, kind := range notices {
			n := 0
			if err := count(&n, countDuties, kind); err != nil {
				return err
			}
			w.Notices[kind] = n
		}
		var ns []int64
		if err := db.Raw(oldestDrafts, pageSize(drafts)).Scan(&ns).Error; err != nil {
			return err
		}
		w.OldestDrafts, err = findLines(db.Where("r.n IN ?", ns).Order("r.created_at, r.n"))
		return err
	})
	return w, err
}

// Followed returns the followed readings of the last visits to an appliance
// whose records are in force, oldest first. Errors: NotFound.
func (s Register) Followed(ctx context.Context, applianceID string,
	most int) ([]records.EarlierVisit, error) {
	return ofAppliance(ctx, s.db, applianceID, func(db *gorm.DB, n int64) ([]records.EarlierVisit, error) {
		return followed(db, n, pageSize(most))
	})
}

// followed returns the last of the visits that q asks for, oldest first.
func followed(q *gorm.DB, applianceN int64, most int) ([]records.EarlierVisit, error) {
	var rows []recordRow
	err := q.Where("appliance_n = ? AND stage = 'issued'", applianceN).Order("work_date DESC, n DESC").Limit(most).
		Find(&rows).Error
	if err != nil {
		return nil, err
	}
	slices.Reverse(rows)
	return mappedErr(rows, func(row recordRow) (records.EarlierVisit, error) {
		r, err := row.record("")
		if err != nil {
			return records.EarlierVisit{}, err
		}
		return records.EarlierVisitOf(row.Number, r), nil
	})
}

// OpenDrafts returns how many records are not issued yet.
func (s Records) OpenDrafts(ctx context.Context) (n int, err error) {
	err = s.read(ctx).Raw("SELECT count(*) FROM records WHERE stage = 'draft'").Scan(&n).Error
	return n, explain(err)
}
