package server

import (
	"net/http"
	"net/url"
	"slices"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
)

// dutiesPage is every duty of one kind or of all: those of appliances, of
// instruments and of people.
type dutiesPage struct {
	base
	Filters     []*input
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

func dutyFilters(v url.Values) []*input {
	state := &input{Name: "state", Label: "State", Options: []optionForm{{Label: "Open"}}}
	for _, st := range []records.DutyState{records.Late, records.Near, records.Ahead, records.Done, records.Lifted} {
		state.Options = append(state.Options, optionForm{Code: string(st), Label: upper(string(st))})
	}
	all := []*input{pick("kind", "Duty", records.DutyKinds, "All"), state}
	for _, in := range all {
		in.set(v.Get(in.Name))
	}
	return all
}

func (s *Server) duties(c echo.Context) error {
	v := c.QueryParams()
	kind, state := records.DutyKind(v.Get("kind")), records.DutyState(v.Get("state"))
	if kind != "" && !slices.Contains(records.DutyKinds, kind) {
		return &records.Error{Kind: records.Invalid, Field: "kind", Label: "Duty", Value: string(kind),
			Want: "one of those listed"}
	}
	data := dutiesPage{base: s.deskBase(c, "Duties"), Filters: dutyFilters(v), Here: c.Request().URL.RequestURI()}
	closed := state == records.Done || state == records.Lifted
	if v.Get("after") == "" && !closed {
		own, err := s.firmDuties(c, kind, state, data.Today)
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
		rows, more, err := s.store.Duties.List(c.Request().Context(), store.DutyListQuery{Kind: kind, State: state,
			Today: data.Today, After: v.Get("after")})
		if err != nil {
			return err
		}
		next = more
		for _, d := range rows {
			data.Rows = append(data.Rows, s.dutyRowOf(d, data.Today))
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
		data.Caption = "The firm's own first, then those of appliances, by date"
	}
	return s.page(c, http.StatusOK, "chase-duties", data)
}

func (s *Server) dutyRowOf(d records.OpenDuty, today records.Date) dutyRowLine {
	l := dutyRowLine{ID: d.ID, ApplianceID: d.ApplianceID, Subject: d.Appliance,
		Href: "/appliances/" + d.ApplianceID + "#duty-" + d.ID, Where: d.Address, Why: d.Duty.Why,
		Kind: d.Duty.Kind, State: d.StateOn(today), Due: d.Duty.Due, Open: !d.Closed(),
		Notice: slices.Contains(noticeKinds, d.Duty.Kind)}
	if d.Closed() {
		l.Closed = d.ClosedWhy + " (" + s.day(d.ClosedAt) + ", " + d.ClosedBy + ")"
	}
	return l
}

// firmDuties are the calibration of the instruments and the competence of the
// people with an open account, by date.
func (s *Server) firmDuties(c echo.Context, kind records.DutyKind, state records.DutyState,
	today records.Date) ([]dutyRowLine, error) {
	var out []dutyRowLine
	add := func(d records.Duty, subject, href string) {
		if st := d.StateOn(today); state == "" || st == state {
			out = append(out, dutyRowLine{Subject: subject, Href: href, Why: d.Why, Kind: d.Kind, State: st,
				Due: d.Due})
		}
	}
	if kind == "" || kind == records.Calibration {
		list, err := s.store.Settings.Instruments(c.Request().Context())
		if err != nil {
			return nil, err
		}
		for _, i := range list {
			if d, ok := due.Calibration(i); ok {
				add(d, i.Name(), "/instruments/"+i.ID)
			}
		}
	}
	if kind == "" || kind == records.CompetenceExpiry {
		people, err := s.store.People.List(c.Request().Context())
		if err != nil {
			return nil, err
		}
		for _, p := range people {
			href := ""
			if person(c).Role == records.RoleOwner {
				href = "/people/" + p.ID
			}
			if d, ok := due.CompetenceExpiry(records.Engineer{Name: p.Name, CompetenceUntil: p.CompetenceUntil}); ok &&
				p.Active {
				add(d, p.Name, href)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b dutyRowLine) int { return a.Due.Compare(b.Due) })
	return out, nil
}

// sentDuty closes a duty with the reference and the day on which it was sent.
func (s *Server) sentDuty(c echo.Context) error {
	v, err := c.FormParams()
	if err != nil {
		return err
	}
	on, err := dateOf(v, "on", "Sent on")
	if err != nil {
		return err
	}
	today := s.book.Today()
	if on.IsZero() || on.After(today) {
		return &records.Error{Kind: records.Invalid, Field: "on", Label: "Sent on", Value: on.String(),
			Want: "the day on which it was sent, today or before"}
	}
	how := "Sent on " + on.Long()
	if ref := v.Get("reference"); ref != "" {
		how += ", reference " + ref
	}
	if err := s.store.Duties.Finish(c.Request().Context(), actorOf(c), c.Param("duty"), how); err != nil {
		return err
	}
	s.say(c, "Marked as sent.")
	return see(c, localPath(v.Get("back")))
}
