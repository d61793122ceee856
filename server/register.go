package server

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// registerPage is the register as the office works through it. Everything
// that chooses what is shown stands in the address, so that back, bookmarks
// and sending it to a colleague work.
type registerPage struct {
	base
	Query       string
	Filters     []*input
	Filtered    bool
	Caption     string
	Rows        []registerLine
	First, Next string
	CSV, XLSX   string // addresses of the whole view as a list
}

type registerLine struct {
	applianceLine
	Contact, Email string
	Last, LastID   string
	Standing       records.Standing
	DraftID        string
}

func registerFilters(v url.Values) []*input {
	state := &input{Name: "state", Label: "State", Options: []optionForm{{Label: "All"}, {Code: string(records.Late), Label: "Late"},
		{Code: string(records.Near), Label: "Near, within eight weeks"}, {Code: string(records.Ahead), Label: "Ahead"}, {Code: string(store.NoDuty), Label: "Nothing due"}}}
	kind := &input{Name: "kind", Label: "Kind", Options: []optionForm{{Label: "All"}}}
	for _, ch := range records.ApplianceKind.Choices {
		kind.Options = append(kind.Options, optionForm{Code: ch.Code, Label: ch.Label})
	}
	sort := &input{Name: "sort", Label: "Order", Options: []optionForm{{Label: "By date due"}, {Code: string(store.ByAddress), Label: "By postcode and street"}}}
	all := []*input{state, pick("duty", "Duty", appliancesDuties, "All"), kind, pick("nation", "Nation", records.Nations, "All"), sort}
	for _, in := range all {
		in.set(v.Get(in.Name))
	}
	return all
}

// appliancesDuties are the duties that appliances have. Those of people and
// instruments stand on their own pages.
var appliancesDuties = []records.DutyKind{records.AnnualService, records.LandlordsCheck, records.TenantCopy, records.BuildingNotice, records.IncidentReport, records.InhibitorRecheck}

func (s *Server) register(c echo.Context) error {
	v := c.QueryParams()
	data := registerPage{base: s.deskBase(c, "Register"), Query: strings.TrimSpace(v.Get("q")), Filters: registerFilters(v)}
	rows, next, err := s.store.Register(c.Request().Context(), registerQuery(v, data.Today))
	if err != nil {
		return err
	}
	for _, r := range rows {
		data.Rows = append(data.Rows, registerLineOf(r, data.Today))
	}
	kept := url.Values{}
	for _, name := range []string{"q", "state", "duty", "kind", "nation", "sort"} {
		if v.Get(name) != "" {
			kept.Set(name, v.Get(name))
			data.Filtered = true
		}
	}
	data.Caption = registerCaption(len(rows), next != "", v.Get("after") != "", data.Filtered)
	kept.Set("as", "csv")
	data.CSV = "/register/export?" + kept.Encode()
	kept.Set("as", "xlsx")
	data.XLSX = "/register/export?" + kept.Encode()
	kept.Del("as")
	if v.Get("after") != "" {
		data.First = "/register?" + kept.Encode()
	}
	if next != "" {
		kept.Set("after", next)
		data.Next = "/register?" + kept.Encode()
	}
	return s.page(c, http.StatusOK, "register", data)
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
		text += " that fit"
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
	line := registerLine{applianceLine: lineOfRow(r, today), Contact: r.Name, Email: r.Email, DraftID: r.DraftID}
	if last := r.LastRecord; last != nil {
		line.Last, line.LastID, line.Standing = last.Number, last.ID, last.Standing
	}
	return line
}
