package store

import (
	"context"

	"gaugebook/records"
)

// DutyListQuery asks for duties of appliances, open or closed. Blank fields
// ask for all.
type DutyListQuery struct {
	Kind  records.DutyKind
	State records.DutyState // Late, Near, Ahead; Done and Lifted need a Kind
	Today records.Date
	After string
	Limit int
}

// List returns open duties by date, or those done or lifted, the latest
// first, and the cursor of the next page, "" at the end. Errors:
// Invalid.
func (s Duties) List(ctx context.Context, q DutyListQuery) (duties []records.OpenDuty, next string, err error) {
	open := DutyQuery{Kind: q.Kind, After: q.After, Limit: q.Limit}
	nearEnd := q.Today.AddDays(records.NearDays)
	switch q.State {
	case "":
	case records.Late:
		open.DueUntil = q.Today.AddDays(-1)
	case records.Near:
		open.DueFrom, open.DueUntil = q.Today, nearEnd
	case records.Ahead:
		open.DueFrom = nearEnd.AddDays(1)
	case records.Done, records.Lifted:
		return s.closed(ctx, q)
	default:
		return nil, "", &records.Error{Kind: records.Invalid, Field: "state", Value: clip(string(q.State)),
			Want: "one of late, near, ahead, done, lifted"}
	}
	return s.Find(ctx, open)
}

func (s Duties) closed(ctx context.Context, q DutyListQuery) (duties []records.OpenDuty, next string, err error) {
	if q.Kind == "" {
		return nil, "", &records.Error{Kind: records.Invalid, Field: "kind", Label: "Duty",
			Want: "a kind of duty with the state " + string(q.State)}
	}
	at, n, err := readCursor("closed", q.After)
	if err != nil {
		return nil, "", err
	}
	db := s.read(ctx).Where("d.state <> 'open' AND d.state = ? AND d.kind = ?", q.State, q.Kind).
		Order("d.closed_at DESC, d.n DESC").Limit(pageSize(q.Limit) + 1)
	if q.After != "" {
		db = db.Where("(d.closed_at, d.n) < (?, ?)", at, n)
	}
	rows, err := dutyViews(db)
	if err != nil {
		return nil, "", explain(err)
	}
	rows, next = paged(rows, pageSize(q.Limit), func(last dutyView) string {
		return cursor("closed", last.Duty.ClosedAt, last.Duty.N)
	})
	duties, err = mappedErr(rows, dutyView.duty)
	return duties, next, explain(err)
}
