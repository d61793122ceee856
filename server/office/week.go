package office

import (
	"fmt"
	"net/url"
	"strconv"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// Week is the work list: what falls due in a week.
type Week struct{ *web.Kit }

// weekPage is what falls due in a week, by customer. Everything that chooses
// what is shown stands in the address.
type weekPage struct {
	web.Base
	Heading, Caption           string
	From                       records.Date
	Late                       bool
	Filters                    []*web.Input
	Before, After, First, Next string
	Customers                  []chaseCustomer
}

// chaseCustomer is one customer with a line for each duty.
type chaseCustomer struct {
	Key, Name, PropertyID, Phone, Email string
	Reach                               store.Reach
	Lines                               []chaseLine
	Extra                               []chaseLine // all lines but the first, which the table puts beside the name
}

type chaseLine struct {
	DutyID, ApplianceID, Appliance, Address string
	Kind                                    records.DutyKind
	State                                   records.DutyState
	Due                                     records.Date
	LastHow, LastNote, LastWhen             string
	Next                                    records.Date
	NextNow                                 bool // planned for today or before
	Sent                                    string
	BookingID, Booking                      string
	Unattended                              bool // the day is over and no record was issued
}

// weekPageSize is how many duties a page of the work list holds.
const weekPageSize = 100

var weekSpans = []web.Option{{Code: "1", Label: "One week"}, {Code: "4", Label: "Four weeks"},
	{Code: "8", Label: "Eight weeks"}}

func (w Week) Show(c echo.Context) error {
	v := c.QueryParams()
	data := weekPage{Base: w.WideBase(c, "Week")}
	from, err := web.DateOf(v, "from", "From")
	if err != nil {
		return err
	}
	if from.IsZero() {
		from = data.Today
	}
	data.From = monday(from)
	data.Late = v.Get("late") == "yes" || len(v) == 0
	span, _ := strconv.Atoi(v.Get("weeks"))
	if span < 1 || span > 26 {
		span = 1
	}
	until := data.From.AddDays(7*span - 1)
	data.Heading = "Due from " + data.From.Long() + " to " + until.Long()
	data.Filters = append([]*web.Input{web.DateInput("from", "Week of").With(data.From.String())}, weekFilters(v)...)
	q := store.ChaseQuery{Kind: records.DutyKind(v.Get("duty")), Booked: v.Get("booked"),
		Reach:   store.Reach(v.Get("reach")),
		DueFrom: data.From, DueUntil: until, After: v.Get("after"), Limit: weekPageSize}
	if data.Late {
		q.DueFrom = records.Date{}
		data.Heading = "Due by " + until.Long()
	}
	if v.Get("action") == "now" {
		q.ActionBy = data.Today
	}
	rows, next, err := w.Store.Chase.Find(c.Request().Context(), q)
	if err != nil {
		return err
	}
	data.Customers = chaseCustomers(w.Kit, rows, data.Today)
	data.Caption = fmt.Sprintf("%s, %s", records.Counted(len(data.Customers), "customer"),
		records.Counted(len(rows), "visit"))
	data.links(v, next)
	return w.Page(c, web.OK, "week", data)
}

// links fills in the addresses of the weeks beside and of the next page.
func (w *weekPage) links(v url.Values, next string) {
	kept := url.Values{}
	for name := range v {
		if name != "after" && v.Get(name) != "" {
			kept.Set(name, v.Get(name))
		}
	}
	to := func(from records.Date) string {
		kept.Set("from", from.String())
		return "/week?" + kept.Encode()
	}
	w.Before, w.After = to(w.From.AddDays(-7)), to(w.From.AddDays(7))
	if w.Late {
		kept.Set("late", "yes")
	}
	here := to(w.From)
	if v.Get("after") != "" {
		w.First = here
	}
	if next != "" {
		kept.Set("after", next)
		w.Next = to(w.From)
	}
}

func weekFilters(v url.Values) []*web.Input {
	weeks := &web.Input{Name: "weeks", Label: "Period", Options: append([]web.Option{}, weekSpans...)}
	booked := &web.Input{Name: "booked", Label: "Booked", Options: []web.Option{{Label: "Both"}, {Code: "no",
		Label: "Not booked"}, {Code: "yes", Label: "Booked"}}}
	action := &web.Input{Name: "action", Label: "Next action", Options: []web.Option{{Label: "All"}, {Code: "now",
		Label: "Planned for today or before"}}}
	all := []*web.Input{weeks, web.Select("duty", "Duty", store.ChaseKinds, "Both"), booked,
		web.Select("reach", "Contact by", store.Reaches, "Any"), action}
	for _, in := range all {
		in.Set(v.Get(in.Name))
	}
	return all
}

// monday returns the first day of the date's week.
func monday(d records.Date) records.Date {
	return d.AddDays(-(int(d.Time().Weekday()) + 6) % 7)
}

func chaseCustomers(k *web.Kit, rows []store.ChaseRow, today records.Date) []chaseCustomer {
	var out []chaseCustomer
	for _, c := range app.ByCustomer(rows) {
		one := chaseCustomer{Key: c.Key, Name: c.Contact.Name, PropertyID: c.PropertyID, Phone: c.Contact.Phone,
			Email: c.Contact.Email, Reach: c.Reach}
		for _, r := range c.Rows {
			one.Lines = append(one.Lines, chaseLineOf(k, r, today))
		}
		one.Extra = one.Lines[1:]
		out = append(out, one)
	}
	return out
}

func chaseLineOf(k *web.Kit, r store.ChaseRow, today records.Date) chaseLine {
	l := chaseLine{DutyID: r.DutyID, ApplianceID: r.ApplianceID, Appliance: r.Appliance, Address: r.Property.OneLine(),
		Kind:  r.Kind,
		State: records.Duty{Due: r.Due}.StateOn(today), Due: r.Due}
	if r.Last != nil {
		l.LastHow, l.LastNote, l.LastWhen, l.Next = r.Last.How, r.Last.Note, k.Day(r.Last.At), r.Last.NextAction
		l.NextNow = !l.Next.IsZero() && !l.Next.After(today)
	}
	if n := len(r.Sent); n > 0 {
		l.Sent = r.Sent[n-1].String()
	}
	if b := r.Booking; b != nil {
		l.Unattended = b.On.Before(today)
		l.BookingID, l.Booking = b.ID, records.Appointment{On: b.On, From: b.From, Until: b.Until}.String()+", "+
			b.Engineer
	}
	return l
}
