package server

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// customerPage is the record in plain words, for whoever holds the link.
type customerPage struct {
	base
	Token, Number, Code    string
	Heading, Did           string
	Kind, Where            string
	Record                 *records.Record
	Replaced, ReplacedHref string
	InsideCount            int
	Unsettled              []answeredFinding
	Report                 *records.ConditionReport
	Duties                 []records.Duty
	Notes                  string
	Emergency              records.EmergencyCall
	Asked                  string // visit or contact, when it was just asked
	VisitText, VisitError  string
	History                []historyLine
	Contact                inputForm
}

// customerForms is what was typed and refused on the customer's page.
type customerForms struct {
	visitText, visitError string
	contact               *inputForm
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

// openLink returns a customer's link that still works, with its record.
func (s *Server) openLink(c echo.Context) (store.Link, store.IssuedRow, error) {
	privateHeaders(c)
	ctx := c.Request().Context()
	link, err := s.store.Links.ByToken(ctx, c.Param("token"))
	if err != nil && records.KindOf(err) == records.NotFound {
		return link, store.IssuedRow{}, &endedLink{}
	}
	if err != nil {
		return link, store.IssuedRow{}, err
	}
	row, err := s.store.Records.Issued(ctx, link.RecordID)
	if err == nil && !link.Usable(s.book.Now()) {
		return link, store.IssuedRow{}, &endedLink{link: &link}
	}
	return link, row, err
}

func (s *Server) customer(c echo.Context) error {
	return s.customerPage(c, http.StatusOK, customerForms{})
}

func (s *Server) customerPage(c echo.Context, status int, forms customerForms) error {
	ctx := c.Request().Context()
	link, row, err := s.openLink(c)
	if err != nil {
		return s.endedPage(c, err)
	}
	doc, err := s.book.Document(ctx, row.ID)
	if err != nil {
		return err
	}
	r := doc.Record
	words := customerWords[r.Purpose]
	data := customerPage{base: s.base(c, "Record "+row.Number), Token: c.Param("token"), Number: row.Number,
		Code: row.Seal.Code, Heading: words.heading, Did: words.did,
		Kind:   strings.ToLower(records.ApplianceKind.ChoiceLabel(r.Values.Choice(records.ApplianceKind))),
		Where:  r.Values.Text(records.ApplianceLocation),
		Record: r, Replaced: replacedWords(row), InsideCount: tallyOf(doc.Findings, "").Inside,
		Unsettled: answered(doc.Findings, r.Condition), Report: r.Condition,
		Duties: customerDuties(doc.Duties), Notes: r.Values.Text(records.ForUser),
		Emergency: records.Emergency(r.Property.Nation, r.Values.Choice(records.ApplianceFuel)),
		VisitText: forms.visitText, VisitError: forms.visitError}
	data.Private = true
	if status == http.StatusOK {
		data.Asked = c.QueryParam("asked")
	}
	if data.History, err = s.historyThrough(c, link); err != nil {
		return err
	}
	for _, line := range data.History {
		if line.Number == row.ReplacedBy && row.ReplacedBy != "" {
			data.ReplacedHref = line.Href
		}
	}
	data.Contact = detailsForm(data.Token, r.Contact)
	if forms.contact != nil {
		data.Contact = *forms.contact
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
		return "Record " + row.ReplacedBy + " has taken its place."
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
		case records.AnnualService, records.LandlordCheckDue, records.InhibitorRecheck:
			out = append(out, d)
		}
	}
	return out
}

func (s *Server) customerPDF(c echo.Context) error {
	_, row, err := s.openLink(c)
	if err != nil {
		return s.endedPage(c, err)
	}
	file, err := s.book.PDF(c.Request().Context(), row.ID)
	if err != nil {
		return err
	}
	return sendPDF(c, FileName(row.Number), file)
}

func (s *Server) askVisit(c echo.Context) error {
	_, row, err := s.openLink(c)
	if err != nil {
		return s.endedPage(c, err)
	}
	text := c.FormValue("text")
	_, err = s.store.Requests.AddVisit(c.Request().Context(), row.ID, text)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return s.customerPage(c, statusOf[kind], customerForms{visitText: text, visitError: err.Error()})
	}
	if err != nil {
		return err
	}
	return see(c, "/r/"+c.Param("token")+"?asked=visit#visit")
}
