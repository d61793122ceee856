package account

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Home is what there is to do today.
type Home struct{ *web.Kit }

// homePage is what is to be done today. An engineer sees their own drafts and
// what is due soon, the office what waits for it.
type homePage struct {
	web.Base
	Own      bool
	Counts   []countLine
	Drafts   []store.RecordLine
	Due      []web.ApplianceLine
	Requests []requestLine
	Changes  []changeLine
	Stuck    []records.Message
}

type countLine struct {
	Href, Word, Text string
	Shape            records.DutyState
	N                int
}

// requestLine is a visit that a customer asks for.
type requestLine struct{ ID, Record, Who, Address, When, Text string }

// homeLines is how much of a list the home page shows.
const homeLines = 12

func (h Home) Show(c echo.Context) error {
	if web.Office.Allows(web.Person(c).Role) {
		return h.office(c)
	}
	ctx := c.Request().Context()
	data := homePage{Base: h.Base(c, "Today"), Own: true}
	var err error
	if data.Drafts, err = h.Store.Records.Drafts(ctx, web.Person(c).ID); err != nil {
		return err
	}
	duties, _, err := h.Store.Duties.Find(ctx, store.DutyQuery{DueUntil: data.Today.AddDays(records.NearDays),
		Limit: homeLines})
	if err != nil {
		return err
	}
	for _, d := range duties {
		data.Due = append(data.Due, web.ApplianceLine{ID: d.ApplianceID, Name: d.Appliance, Address: d.Address,
			Duty:  d.Duty.Kind,
			State: d.StateOn(data.Today), Due: d.Duty.Due})
	}
	return h.Page(c, http.StatusOK, "home", data)
}

func (h Home) office(c echo.Context) error {
	ctx := c.Request().Context()
	data := homePage{Base: h.WideBase(c, "Today")}
	n, err := h.Store.Register.Counts(ctx, data.Today)
	if err != nil {
		return err
	}
	data.Counts = []countLine{
		{Href: "/register?state=late", Shape: records.Late, N: n.Late, Text: "past their date"},
		{Href: "/register?state=near", Shape: records.Near, N: n.Near, Text: "due within eight weeks"},
		{Href: "/register?state=ahead", Shape: records.Ahead, N: n.Ahead, Text: "due later"},
		{Href: "/register?state=none", Word: "nothing due", N: n.None, Text: "no duty on file"},
	}
	if data.Drafts, err = h.Store.Records.Drafts(ctx, ""); err != nil {
		return err
	}
	data.Drafts = data.Drafts[:min(len(data.Drafts), homeLines)]
	for _, state := range []records.MessageState{records.MessageUnsure, records.MessageFailed} {
		stuck, _, err := h.Store.Outbox.Find(ctx, store.OutboxQuery{State: state, Limit: homeLines,
			Customer: web.Person(c).Role != records.RoleOwner})
		if err != nil {
			return err
		}
		data.Stuck = append(data.Stuck, stuck...)
	}
	if data.Requests, err = h.requests(c); err != nil {
		return err
	}
	if data.Changes, err = h.changes(c); err != nil {
		return err
	}
	return h.Page(c, http.StatusOK, "home", data)
}

func (h Home) requests(c echo.Context) ([]requestLine, error) {
	visits, err := h.Store.Requests.Visits(c.Request().Context())
	if err != nil {
		return nil, err
	}
	var out []requestLine
	for _, v := range visits {
		out = append(out, requestLine{ID: v.ID, Record: v.Record.ID, Who: v.Record.Appliance, Address: v.Record.Address,
			When: h.Clock(v.At), Text: v.Text})
	}
	return out, nil
}

// changeLine is a change of their details that a customer asks for.
type changeLine struct {
	ID, Record, Number, Address, IssuedTo, When string
	Changes                                     []change
	Outdated, Other                             bool // see the page
}

type change struct{ What, Was, Wanted string }

func (h Home) changes(c echo.Context) ([]changeLine, error) {
	all, err := h.Store.Requests.Contacts(c.Request().Context())
	if err != nil {
		return nil, err
	}
	var out []changeLine
	for _, q := range all {
		l := changeLine{ID: q.ID, Record: q.Record.ID, Number: q.Record.Number, Address: q.Record.Address,
			IssuedTo: q.Issued.Name, When: h.Clock(q.At),
			Outdated: q.Outdated, Other: q.Issued.Name != q.Was.Name}
		for _, ch := range []change{{"Name", q.Was.Name, q.Wanted.Name},
			{"Telephone", q.Was.Phone, q.Wanted.Phone}, {"E-mail", q.Was.Email, q.Wanted.Email}} {
			if ch.Was != ch.Wanted {
				l.Changes = append(l.Changes, ch)
			}
		}
		out = append(out, l)
	}
	return out, nil
}
