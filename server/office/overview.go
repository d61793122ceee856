package office

import (
	"html/template"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/chart"
	"gaugebook/server/web"
)

// Overview is how the firm stands.
type Overview struct{ *web.Kit }

// overviewPage is how the firm stands: what falls due, how often a record was
// clear at the first go, and what waits for somebody.
type overviewPage struct {
	web.Base
	Due       template.HTML
	Months    []chart.Month
	Since     string // month from which the shares are counted
	Shares    []shareTable
	Notices   []noticeLine
	Drafts    []draftAge
	DraftsAll string
	Stuck     []stuckMessages
	Calls     []dutyRowLine // calibration and competence, late or near
}

type shareTable struct {
	Title, Column string
	Chart         template.HTML
	Bars          []chart.Share
}

type noticeLine struct {
	Kind  records.DutyKind
	Count string
	N     int
}

// stuckMessages is how many messages a person has to look at.
type stuckMessages struct {
	State       records.MessageState
	Note, Count string
}

type draftAge struct {
	store.RecordLine
	Age string
}

const (
	monthsAhead    = 13 // after the present one
	shareMonths    = 12
	overviewDrafts = 8
)

func (o Overview) Show(c echo.Context) error {
	ctx := c.Request().Context()
	data := overviewPage{Base: o.WideBase(c, "Overview")}
	months, err := o.Store.Register.DueMonths(ctx, data.Today)
	if err != nil {
		return err
	}
	data.Months = monthBars(months, data.Today)
	data.Due = chart.Due("due", data.Months)
	since := data.Today.AddMonths(1 - shareMonths)
	data.Since = monthOf(since)
	engineers, kinds, err := o.Store.Register.IssueRates(ctx, since, data.Today)
	if err != nil {
		return err
	}
	data.Shares = []shareTable{
		{Title: "By engineer", Column: "Engineer", Bars: shareBars(engineers, func(r store.IssueRate) string {
			return r.Name
		}, "no longer on file")},
		{Title: "By kind of appliance", Column: "Kind", Bars: shareBars(kinds, func(r store.IssueRate) string {
			return records.ApplianceKind.ChoiceLabel(r.Of)
		}, "kind not stated")},
	}
	for i, id := range []string{"engineers", "kinds"} {
		t := &data.Shares[i]
		t.Chart = chart.Shares(id, "Clear when first issued, "+t.Title, t.Bars)
	}
	waits, err := o.Store.Register.Waiting(ctx, noticeKinds, overviewDrafts)
	if err != nil {
		return err
	}
	for _, kind := range noticeKinds {
		data.Notices = append(data.Notices, noticeLine{kind, bounded(waits.Notices[kind]), waits.Notices[kind]})
	}
	for _, d := range waits.OldestDrafts {
		data.Drafts = append(data.Drafts, draftAge{d, age(o.App.Now().Sub(d.CreatedAt))})
	}
	data.DraftsAll = bounded(waits.Drafts)
	data.Stuck = []stuckMessages{
		{records.MessageUnsure, "It is not known whether they arrived", bounded(waits.Unsure)},
		{records.MessageFailed, "", bounded(waits.Failed)},
	}
	for _, kind := range []records.DutyKind{records.Calibration, records.CompetenceExpiry} {
		lines, err := Duties(o).ofFirm(c, kind, "", data.Today)
		if err != nil {
			return err
		}
		for _, l := range lines {
			if l.State != records.Ahead {
				data.Calls = append(data.Calls, l)
			}
		}
	}
	return o.Page(c, web.OK, "overview", data)
}

// bounded writes a count that may have ended early.
func bounded(n int) string {
	text := records.FormatNumber(float64(n), 0)
	if n >= store.CountMost {
		return text + " or more"
	}
	return text
}

func age(d time.Duration) string {
	switch days := int(d.Hours() / 24); {
	case days < 1:
		return "today"
	case days < 60:
		return records.Counted(days, "day")
	default:
		return records.Counted(days/30, "month")
	}
}

// monthBars sets the months out from the present one on, with one bar for
// all before and one for all after.
func monthBars(months []store.MonthDue, today records.Date) []chart.Month {
	first := records.MustDate(today.String()[:len("2006-01")] + "-01")
	bars := []chart.Month{{Label: "before"}}
	place := map[string]int{}
	for i := range monthsAhead + 1 {
		m := first.AddMonths(i)
		place[m.String()[:len("2006-01")]] = len(bars)
		bars = append(bars, chart.Month{Label: monthOf(m)})
	}
	bars = append(bars, chart.Month{Label: "later"})
	for _, m := range months {
		at, ok := place[m.Month]
		if !ok {
			if at = 0; m.Month > first.String() {
				at = len(bars) - 1
			}
		}
		bars[at].Late += m.Late
		bars[at].Near += m.Near
		bars[at].Ahead += m.Ahead
	}
	return bars
}

func shareBars(rates []store.IssueRate, name func(store.IssueRate) string, unnamed string) []chart.Share {
	var out []chart.Share
	for _, r := range rates {
		label := name(r)
		if label == "" {
			label = unnamed
		}
		out = append(out, chart.Share{Label: records.UpperFirst(label), Part: r.Clear, Of: r.Issued})
	}
	return out
}

func monthOf(d records.Date) string { return d.Time().Format("Jan 2006") }
