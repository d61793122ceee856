package server

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// homePage is what is to be done today. An engineer sees their own drafts and
// what is due soon, the office what waits for it.
type homePage struct {
	web.Base
	Own    bool
	Counts []countLine
	Drafts []store.RecordLine
	Due    []web.ApplianceLine
	Visits []visitLine
	Wishes []wishLine
	Stuck  []records.Message
}

type countLine struct {
	Href, Word, Text string
	Shape            records.DutyState
	N                int
}

type visitLine struct{ ID, Record, Who, Address, When, Text string }

// homeLines is how much of a list the home page shows.
const homeLines = 12

func (s Home) Show(c echo.Context) error {
	if web.Office.Allows(web.Person(c).Role) {
		return s.office(c)
	}
	ctx := c.Request().Context()
	data := homePage{Base: s.Base(c, "Today"), Own: true}
	var err error
	if data.Drafts, err = s.Store.Records.Drafts(ctx, web.Person(c).ID); err != nil {
		return err
	}
	duties, _, err := s.Store.Duties.Find(ctx, store.DutyQuery{DueUntil: data.Today.AddDays(records.NearDays),
		Limit: homeLines})
	if err != nil {
		return err
	}
	for _, d := range duties {
		data.Due = append(data.Due, web.ApplianceLine{ID: d.ApplianceID, Name: d.Appliance, Address: d.Address,
			Duty:  d.Duty.Kind,
			State: d.StateOn(data.Today), Due: d.Duty.Due})
	}
	return s.Page(c, http.StatusOK, "home", data)
}

func (s Home) office(c echo.Context) error {
	ctx := c.Request().Context()
	data := homePage{Base: s.WideBase(c, "Today")}
	n, err := s.Store.Register.Counts(ctx, data.Today)
	if err != nil {
		return err
	}
	data.Counts = []countLine{
		{Href: "/register?state=late", Shape: records.Late, N: n.Late, Text: "past their date"},
		{Href: "/register?state=near", Shape: records.Near, N: n.Near, Text: "due within eight weeks"},
		{Href: "/register?state=ahead", Shape: records.Ahead, N: n.Ahead, Text: "due later"},
		{Href: "/register?state=none", Word: "nothing due", N: n.None, Text: "no duty on file"},
	}
	if data.Drafts, err = s.Store.Records.Drafts(ctx, ""); err != nil {
		return err
	}
	data.Drafts = data.Drafts[:min(len(data.Drafts), homeLines)]
	for _, state := range []records.MessageState{records.MessageUnsure, records.MessageFailed} {
		stuck, _, err := s.Store.Outbox.Find(ctx, store.OutboxQuery{State: state, Limit: homeLines})
		if err != nil {
			return err
		}
		data.Stuck = append(data.Stuck, stuck...)
	}
	if data.Visits, err = s.requests(c); err != nil {
		return err
	}
	if data.Wishes, err = s.changes(c); err != nil {
		return err
	}
	return s.Page(c, http.StatusOK, "home", data)
}

func (s Home) requests(c echo.Context) ([]visitLine, error) {
	visits, err := s.Store.Requests.Visits(c.Request().Context())
	if err != nil {
		return nil, err
	}
	var out []visitLine
	for _, v := range visits {
		out = append(out, visitLine{ID: v.ID, Record: v.Record.ID, Who: v.Record.Appliance, Address: v.Record.Address,
			When: s.Clock(v.At), Text: v.Text})
	}
	return out, nil
}

func (s Requests) HandleVisit(c echo.Context) error {
	if err := s.Store.Requests.HandleVisit(c.Request().Context(), web.ActorOf(c), c.Param("id")); err != nil {
		return err
	}
	s.Flash(c, "Marked as answered.")
	return web.Redirect(c, "/")
}
