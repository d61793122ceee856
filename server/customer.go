package server

import (
	"context"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// customerPage is the record in plain words, for whoever holds the link.
type customerPage struct {
	base
	Token, Number, Code       string
	Heading, Did, Kind, Where string
	Record                    *records.Record
	Replaced                  string
	InsideCount               int
	Unsettled                 []answeredFinding
	Report                    *records.ConditionReport
	Duties                    []records.Duty
	Notes                     string
	Emergency                 records.EmergencyCall
	Asked                     bool
	VisitText, VisitError     string
}

type answeredFinding struct {
	Finding records.Finding
	Answer  *records.ConditionEntry
}

// customerWords say what was done, for somebody who knows nothing of gas.
var customerWords = map[records.Purpose]struct{ heading, did string }{
	records.Commissioning: {"What was measured when your appliance was put into use", "put into use your"},
	records.Service:       {"What was measured when your appliance was serviced", "serviced your"},
	records.LandlordCheck: {"What was measured when the appliance was checked", "checked the"},
	records.Remedial:      {"What was measured after the work on your appliance", "worked on your"},
}

// openLink returns the record behind a customer's link that still works.
func (s *Server) openLink(ctx context.Context, token string) (store.IssuedRow, error) {
	link, err := s.store.Link(ctx, token)
	if err == nil && !link.Usable(s.book.Now()) || records.KindOf(err) == records.NotFound && err != nil {
		return store.IssuedRow{}, records.Fail(records.NotFound, "this link is not known here, or no longer works. The firm that did the work can send you a new one")
	}
	if err != nil {
		return store.IssuedRow{}, err
	}
	return s.store.Issued(ctx, link.RecordID)
}

func (s *Server) customer(c echo.Context) error {
	return s.customerPage(c, http.StatusOK, c.QueryParam("asked") == "1", "", nil)
}

func (s *Server) customerPage(c echo.Context, status int, asked bool, text string, refused error) error {
	ctx := c.Request().Context()
	privateHeaders(c)
	row, err := s.openLink(ctx, c.Param("token"))
	if err != nil {
		return err
	}
	doc, err := s.book.Document(ctx, row.ID)
	if err != nil {
		return err
	}
	r := doc.Record
	words := customerWords[r.Purpose]
	data := customerPage{base: s.base(c, "Record "+row.Number), Token: c.Param("token"), Number: row.Number, Code: row.Seal.Code, Heading: words.heading, Did: words.did,
		Kind: strings.ToLower(records.ApplianceKind.ChoiceLabel(r.Values.Choice(records.ApplianceKind))), Where: r.Values.Text(records.ApplianceLocation),
		Record: r, Replaced: replacedWords(row), InsideCount: tallyOf(doc.Findings, "").Inside, Unsettled: answered(doc.Findings, r.Condition), Report: r.Condition,
		Duties: customerDuties(doc.Duties), Notes: r.Values.Text(records.ForUser),
		Emergency: records.Emergency(r.Property.Nation, r.Values.Choice(records.ApplianceFuel)), Asked: asked, VisitText: text}
	data.Private = true
	if refused != nil {
		data.VisitError = refused.Error()
	}
	return s.page(c, status, "customer", data)
}

// privateHeaders keep the address of the page, which is the key to it, out of
// search engines and of other sites' logs.
func privateHeaders(c echo.Context) {
	h := c.Response().Header()
	h.Set("X-Robots-Tag", "noindex, nofollow")
	h.Set("Referrer-Policy", "no-referrer")
}

func replacedWords(row store.IssuedRow) string {
	switch row.Stage {
	case records.Amended:
		return "Record " + row.ReplacedBy + " has taken its place; the message with it has the link."
	case records.Withdrawn:
		return "It was withdrawn: " + row.WithdrawnWhy
	}
	return ""
}

func answered(fs []records.Finding, report *records.ConditionReport) []answeredFinding {
	var out []answeredFinding
	for _, f := range records.Unsettled(fs) {
		a := answeredFinding{Finding: f}
		if e, ok := report.Entry(f.Rule); ok {
			a.Answer = &e
		}
		out = append(out, a)
	}
	return out
}

// customerDuties are those that the customer has to see to.
func customerDuties(all []records.Duty) []records.Duty {
	var out []records.Duty
	for _, d := range all {
		switch d.Kind {
		case records.AnnualService, records.LandlordsCheck, records.InhibitorRecheck:
			out = append(out, d)
		}
	}
	return out
}

func (s *Server) customerPDF(c echo.Context) error {
	ctx := c.Request().Context()
	privateHeaders(c)
	row, err := s.openLink(ctx, c.Param("token"))
	if err != nil {
		return err
	}
	file, err := s.store.PDF(ctx, row.ID)
	if err != nil {
		return err
	}
	return sendPDF(c, row.Number, file)
}

func (s *Server) askVisit(c echo.Context) error {
	ctx := c.Request().Context()
	row, err := s.openLink(ctx, c.Param("token"))
	if err != nil {
		return err
	}
	text := c.FormValue("text")
	_, err = s.store.AddVisitRequest(ctx, row.ID, text)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return s.customerPage(c, statusOf[kind], false, text, err)
	}
	if err != nil {
		return err
	}
	return see(c, "/r/"+c.Param("token")+"?asked=1#visit")
}
