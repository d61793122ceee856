package office

import (
	"net/url"
	"slices"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Duties is the list of duties.
type Duties struct{ *web.Kit }

// dutiesPage is every duty of one kind or of all: those of appliances, of
// instruments and of people.
type dutiesPage struct {
	web.Base
	Filters     []*web.Input
	Rows        []dutyRowLine
	Caption     string
	First, Next string
	Here        string // the address of this list, to come back to
}

type dutyRowLine struct {
	ID, ApplianceID, Subject, Href, Where, Why, Closed string
	Kind                                               records.DutyKind
	State                                              records.DutyState
	Due                                                records.Date
	Open, Notice                                       bool
}

// noticeKinds are the duties that somebody is told of: they are done with a
// reference and the day on which it was sent.
var noticeKinds = []records.DutyKind{records.BuildingNotice, records.IncidentReport, records.TenantCopy}

func dutyFilters(v url.Values) []*web.Input {
	state := &web.Input{Name: "state", Label: "State", Options: []web.Option{{Label: "Open"}}}
	for _, st := range []records.DutyState{records.Late, records.Near, records.Ahead, records.Done, records.Lifted} {
		state.Options = append(state.Options, web.Option{Code: string(st), Label: records.UpperFirst(string(st))})
	}
	all := []*web.Input{web.Select("kind", "Duty", records.DutyKinds, "All"), state}
	for _, in := range all {
		in.Set(v.Get(in.Name))
	}
	return all
}

func (du Duties) Show(c echo.Context) error {
	v := c.QueryParams()
	kind, state := records.DutyKind(v.Get("kind")), records.DutyState(v.Get("state"))
	if kind != "" && !slices.Contains(records.DutyKinds, kind) {
		return &records.Error{Kind: records.Invalid, Field: "kind", Label: "Duty", Value: string(kind),
			Want: "one of those listed"}
	}
	data := dutiesPage{Base: du.WideBase(c, "Duties"), Filters: dutyFilters(v), Here: c.Request().URL.RequestURI()}
	closed := state == records.Done || state == records.Lifted
	if v.Get("after") == "" && !closed {
		own, err := du.ofFirm(c, kind, state, data.Today)
		if err != nil {
			return err
		}
		data.Rows = own
	}
	next := ""
	switch {
	case kind == records.Calibration || kind == records.CompetenceExpiry:
	case closed && kind == "":
		data.Caption = "Choose a duty to see which are " + string(state) + "."
	default:
		rows, more, err := du.Store.Duties.List(c.Request().Context(), store.DutyListQuery{Kind: kind, State: state,
			Today: data.Today, After: v.Get("after")})
		if err != nil {
			return err
		}
		next = more
		for _, d := range rows {
			data.Rows = append(data.Rows, du.rowOf(d, data.Today))
		}
	}
	kept := url.Values{}
	for _, in := range data.Filters {
		if in.Value != "" {
			kept.Set(in.Name, in.Value)
		}
	}
	if v.Get("after") != "" {
		data.First = "/duties?" + kept.Encode()
	}
	if next != "" {
		kept.Set("after", next)
		data.Next = "/duties?" + kept.Encode()
	}
	if data.Caption == "" {
		data.Caption = "The firm's own first, then appliances, by date"
	}
	return du.Page(c, web.OK, "chase-duties", data)
}

func (du Duties) rowOf(d records.OpenDuty, today records.Date) dutyRowLine {
	l := dutyRowLine{ID: d.ID, ApplianceID: d.ApplianceID, Subject: d.Appliance,
		Href: "/appliances/" + d.ApplianceID + "#duty-" + d.ID, Where: d.Address, Why: d.Duty.Why,
		Kind: d.Duty.Kind, State: d.StateOn(today), Due: d.Duty.Due, Open: !d.Closed(),
		Notice: slices.Contains(noticeKinds, d.Duty.Kind)}
	if d.Closed() {
		l.Closed = d.ClosedWhy + " (" + du.Day(d.ClosedAt) + ", " + d.ClosedBy + ")"
	}
	return l
}

// ofFirm are the calibration of the instruments and the competence of the
// people with an open account, by date.
func (du Duties) ofFirm(c echo.Context, kind records.DutyKind, state records.DutyState,
	today records.Date) ([]dutyRowLine, error) {
	all, err := du.App.FirmDuties(c.Request().Context())
	if err != nil {
		return nil, err
	}
	var out []dutyRowLine
	for _, d := range all {
		st, href := d.StateOn(today), ""
		if kind != "" && d.Kind != kind || state != "" && st != state {
			continue
		}
		switch {
		case d.InstrumentID != "":
			href = "/instruments/" + d.InstrumentID
		case web.Person(c).Role == records.RoleOwner:
			href = "/people/" + d.PersonID
		}
		out = append(out, dutyRowLine{Subject: d.Subject, Href: href, Why: d.Why, Kind: d.Kind, State: st, Due: d.Due})
	}
	slices.SortStableFunc(out, func(a, b dutyRowLine) int { return a.Due.Compare(b.Due) })
	return out, nil
}

// Sent closes a duty with the reference and the day on which it was sent.
func (du Duties) Sent(c echo.Context) error {
	v, err := c.FormParams()
	if err != nil {
		return err
	}
	on, err := web.DateOf(v, "on", "Sent on")
	if err != nil {
		return err
	}
	err = du.App.NoteSent(c.Request().Context(), web.Person(c), c.Param("duty"), on, v.Get("reference"))
	return du.Done(c, err, "Marked as sent.", web.LocalPath(v.Get("back")))
}
