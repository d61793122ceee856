package office

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Register is the register as the office works through it.
type Register struct{ *web.Kit }

// registerPage is the register as the office works through it. Everything
// that chooses what is shown stands in the address, so that back, bookmarks
// and sending it to a colleague work.
type registerPage struct {
	web.Base
	Query       string
	Filters     []*web.Input
	Ticks       []tick
	Columns     []tick
	Filtered    bool
	Caption     string
	Rows        []registerLine
	First, Next string
	PrintHref   string
	CSV, XLSX   string // addresses of the whole view as a list
	Error       string
	Wide        int // columns shown
}

// tick is a box to tick.
type tick struct {
	Name, Code, Label string
	Chosen            bool
}

type registerLine struct {
	web.ApplianceLine
	Contact, Email, Phone string
	Nation                records.Nation
	Last, LastID          string
	Standing              records.Standing
	DraftID, DutyID       string
	Remindable            bool
}

// registerColumns are the columns that can be chosen; the state, the date and
// the appliance are always there.
var registerColumns = []tick{
	{Code: "duty", Label: "Duty"}, {Code: "kind", Label: "Kind"}, {Code: "serial", Label: "Serial"},
	{Code: "address", Label: "Address"}, {Code: "nation", Label: "Nation"},
	{Code: "contact", Label: "Contact"}, {Code: "phone", Label: "Telephone"}, {Code: "last", Label: "Last record"},
}

var columnsAtFirst = []string{"duty", "serial", "address", "contact", "last"}

// registerView is what the address of the page asks for.
type registerView struct {
	v       url.Values
	filters []*web.Input
}

func registerViewOf(v url.Values) registerView { return registerView{v, registerFilters(v)} }

func registerFilters(v url.Values) []*web.Input {
	state := &web.Input{Name: "state", Label: "State", Options: []web.Option{{Label: "All"},
		{Code: string(records.Late),
			Label: "Late"},
		{Code: string(records.Near), Label: "Near, within eight weeks"}, {Code: string(records.Ahead), Label: "Ahead"},
		{Code: string(store.NoDuty), Label: "Nothing on file"}}}
	kind := &web.Input{Name: "kind", Label: "Kind", Options: []web.Option{{Label: "All"}}}
	for _, ch := range records.ApplianceKind.Choices {
		kind.Options = append(kind.Options, web.Option{Code: ch.Code, Label: ch.Label})
	}
	sort := &web.Input{Name: "sort", Label: "Order", Options: []web.Option{{Label: "By date due"},
		{Code: string(store.ByAddress), Label: "By postcode and street"}}}
	all := []*web.Input{state, {Name: "weeks", Label: "Due within weeks", Type: "number", Max: store.MostWeeks},
		web.Select("duty", "Duty", appliancesDuties, "All"), kind, web.Select("nation", "Nation", records.Nations,
			"All"),
		{Name: "draft_days", Label: "Draft open longer than days", Type: "number", Max: mostDraftDays}, sort}
	for _, in := range all {
		in.Set(v.Get(in.Name))
	}
	return all
}

const mostDraftDays = 3650

// appliancesDuties are the duties that appliances have. Those of people and
// instruments stand on their own pages.
var appliancesDuties = []records.DutyKind{records.AnnualService, records.LandlordCheckDue, records.TenantCopy,
	records.BuildingNotice, records.IncidentReport, records.InhibitorRecheck}

// number reads a whole number of the address; blank is 0.
func (r registerView) number(name, label string, most int) (int, error) {
	text := strings.TrimSpace(r.v.Get(name))
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > most {
		return 0, &records.Error{Kind: records.Invalid, Field: name, Label: label, Value: text,
			Want: "a whole number from 1 to " + strconv.Itoa(most)}
	}
	return n, nil
}

// query is what the store is asked, as on a day at a time.
func (r registerView) query(today records.Date, now time.Time) (store.Query, error) {
	v := r.v
	q := store.Query{
		Search: strings.TrimSpace(v.Get("q")), Kind: v.Get("kind"), Nation: records.Nation(v.Get("nation")),
		Duty:  records.DutyKind(v.Get("duty")),
		State: records.DutyState(v.Get("state")), Today: today, Sort: store.Sort(v.Get("sort")), After: v.Get("after"),
		Uncalibrated: v.Get("calibration") == "out",
	}
	var err error
	if q.Weeks, err = r.number("weeks", "Due within weeks", store.MostWeeks); err != nil {
		return q, err
	}
	days, err := r.number("draft_days", "Draft open longer than days", mostDraftDays)
	if days > 0 {
		q.DraftBefore = now.AddDate(0, 0, -days)
	}
	return q, err
}

// kept is the address without the place in the list.
func (r registerView) kept() url.Values {
	kept := url.Values{}
	for _, name := range []string{"q", "state", "weeks", "duty", "kind", "nation", "draft_days", "calibration",
		"sort"} {
		if r.v.Get(name) != "" {
			kept.Set(name, r.v.Get(name))
		}
	}
	if cols := r.v["col"]; cols != nil {
		kept["col"] = cols
	}
	return kept
}

// filtered reports whether anything narrows or orders the list.
func (r registerView) filtered() bool {
	kept := r.kept()
	kept.Del("col")
	return len(kept) > 0
}

// words says what is asked for, for paper.
func (r registerView) words() string {
	var out []string
	if q := strings.TrimSpace(r.v.Get("q")); q != "" {
		out = append(out, "search “"+q+"”")
	}
	for _, in := range r.filters {
		if in.Value == "" {
			continue
		}
		text := in.Value
		for _, o := range in.Options {
			if o.Chosen {
				text = o.Label
			}
		}
		out = append(out, records.LowerFirst(in.Label)+": "+records.LowerFirst(text))
	}
	if r.v.Get("calibration") == "out" {
		out = append(out, "instrument out of calibration on the last record")
	}
	return strings.Join(out, "; ")
}

func (r registerView) columns() []tick {
	chosen := r.v["col"]
	if chosen == nil {
		chosen = columnsAtFirst
	}
	out := slices.Clone(registerColumns)
	for i := range out {
		out[i].Name, out[i].Chosen = "col", slices.Contains(chosen, out[i].Code)
	}
	return out
}

// Shows reports whether a column is shown.
func (r registerPage) Shows(code string) bool {
	return slices.ContainsFunc(r.Columns, func(t tick) bool { return t.Code == code && t.Chosen })
}

func (re Register) Show(c echo.Context) error {
	view := registerViewOf(c.QueryParams())
	data := registerPage{Base: re.WideBase(c, "Register"), Query: strings.TrimSpace(view.v.Get("q")),
		Filters: view.filters, Columns: view.columns(), Filtered: view.filtered(),
		Ticks: []tick{{Name: "calibration", Code: "out", Label: "Instrument out of calibration on the last record",
			Chosen: view.v.Get("calibration") == "out"}}, Wide: 4}
	for _, t := range data.Columns {
		if t.Chosen {
			data.Wide++
		}
	}
	q, err := view.query(data.Today, re.App.Now())
	var rows []store.RegisterRow
	next := ""
	if err == nil {
		rows, next, err = re.Store.Register.Find(c.Request().Context(), q)
	}
	status := web.OK
	if err != nil {
		if records.KindOf(err) != records.Invalid {
			return err
		}
		data.Error, status = err.Error(), web.StatusOf(records.Invalid)
	}
	for _, r := range rows {
		data.Rows = append(data.Rows, registerLineOf(r, data.Today))
	}
	kept := view.kept()
	data.PrintHref = "/register/print.pdf?" + kept.Encode()
	kept.Set("as", "csv")
	data.CSV = "/register/export?" + kept.Encode()
	kept.Set("as", "xlsx")
	data.XLSX = "/register/export?" + kept.Encode()
	kept.Del("as")
	data.Caption = registerCaption(len(rows), next != "", q.After != "", data.Filtered)
	if q.After != "" {
		data.First = "/register?" + kept.Encode()
	}
	if next != "" {
		kept.Set("after", next)
		data.Next = "/register?" + kept.Encode()
	}
	return re.Page(c, status, "register", data)
}

// registerCaption says what is in the table. How many there are in all is not
// counted: it would mean reading the whole register.
func registerCaption(n int, more, later, filtered bool) string {
	text := "appliances in use"
	if n == 1 {
		text = "appliance in use"
	}
	text = records.FormatNumber(float64(n), 0) + " " + text
	if filtered {
		text += " that match your search"
	}
	switch {
	case more:
		return text + " on this page; more follow"
	case later:
		return text + " on this last page"
	}
	return text
}

func registerLineOf(r store.RegisterRow, today records.Date) registerLine {
	line := registerLine{ApplianceLine: web.ApplianceLineOf(r, today), Contact: r.Name, Email: r.Email, Phone: r.Phone,
		Nation: r.Nation, DraftID: r.DraftID}
	if last := r.LastRecord; last != nil {
		line.Last, line.LastID, line.Standing = last.Number, last.ID, last.Standing
	}
	if d := r.NextDuty; d != nil {
		line.DutyID, line.Remindable = d.ID, slices.Contains(store.ChaseKinds, d.Duty.Kind)
	}
	return line
}

// PDF prints the register as it is filtered.
func (re Register) PDF(c echo.Context) error {
	view, today := registerViewOf(c.QueryParams()), re.App.Today()
	q, err := view.query(today, re.App.Now())
	if err != nil {
		return err
	}
	file, err := re.App.PrintRegister(c.Request().Context(), q, view.words())
	if err != nil {
		return err
	}
	return web.SendPDF(c, "register-"+today.String()+".pdf", file)
}
