package customer

import (
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// Record is the page of whoever holds a private link.
type Record struct{ *web.Kit }

// customerPage is the record in plain words, for whoever holds the link.
type customerPage struct {
	web.Base
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
	Contact                web.Form
}

// customerForms is what was typed and refused on the customer's page.
type customerForms struct {
	visitText, visitError string
	contact               *web.Form
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
func (re Record) openLink(c echo.Context) (store.Link, store.IssuedRow, error) {
	web.PrivateHeaders(c)
	ctx := c.Request().Context()
	link, err := re.Store.Links.ByToken(ctx, c.Param("token"))
	if err != nil && records.KindOf(err) == records.NotFound {
		return link, store.IssuedRow{}, &endedLink{}
	}
	if err != nil {
		return link, store.IssuedRow{}, err
	}
	row, err := re.Store.Records.Issued(ctx, link.RecordID)
	if err == nil && !link.Usable(re.App.Now()) {
		return link, store.IssuedRow{}, &endedLink{link: &link}
	}
	return link, row, err
}

func (re Record) Show(c echo.Context) error {
	return re.show(c, web.OK, customerForms{})
}

func (re Record) show(c echo.Context, status int, forms customerForms) error {
	ctx := c.Request().Context()
	link, row, err := re.openLink(c)
	if err != nil {
		return re.showEnded(c, err)
	}
	doc, err := re.App.Document(ctx, row.ID)
	if err != nil {
		return err
	}
	r := doc.Record
	words := customerWords[r.Purpose]
	data := customerPage{Base: re.Base(c, "Record "+row.Number), Token: c.Param("token"), Number: row.Number,
		Code: row.Seal.Code, Heading: words.heading, Did: words.did,
		Kind:   strings.ToLower(records.ApplianceKind.ChoiceLabel(r.Values.Choice(records.ApplianceKind))),
		Where:  r.Values.Text(records.ApplianceLocation),
		Record: r, Replaced: replacedWords(row), InsideCount: insideOf(doc.Findings),
		Unsettled: answered(doc.Findings, r.Condition), Report: r.Condition,
		Duties: customerDuties(doc.Duties), Notes: r.Values.Text(records.ForUser),
		Emergency: records.Emergency(r.Property.Nation, r.Values.Choice(records.ApplianceFuel)),
		VisitText: forms.visitText, VisitError: forms.visitError}
	data.Private = true
	if status == web.OK {
		data.Asked = c.QueryParam("asked")
	}
	if data.History, err = re.history(c, link); err != nil {
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
	return re.Page(c, status, "customer", data)
}

func insideOf(fs []records.Finding) int {
	n := 0
	for _, f := range fs {
		if f.Outcome == records.Inside {
			n++
		}
	}
	return n
}

func replacedWords(row store.IssuedRow) string {
	switch row.Stage {
	case records.Amended:
		return "Record " + row.ReplacedBy + " has replaced it."
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

func (re Record) PDF(c echo.Context) error {
	_, row, err := re.openLink(c)
	if err != nil {
		return re.showEnded(c, err)
	}
	file, err := re.App.PDF(c.Request().Context(), row.ID)
	if err != nil {
		return err
	}
	return web.SendPDF(c, app.FileName(row.Number), file)
}

func (re Record) AskVisit(c echo.Context) error {
	_, row, err := re.openLink(c)
	if err != nil {
		return re.showEnded(c, err)
	}
	text := c.FormValue("text")
	_, err = re.Store.Requests.AddVisit(c.Request().Context(), row.ID, text)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return re.show(c, web.StatusOf(kind), customerForms{visitText: text, visitError: err.Error()})
	}
	if err != nil {
		return err
	}
	return web.Redirect(c, "/r/"+c.Param("token")+"?asked=visit#visit")
}
