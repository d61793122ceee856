package engineer

import (
	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// issuedPage is an issued record as the firm sees it.
type issuedPage struct {
	web.Base
	Record                  *records.Record
	Row                     store.IssuedRow
	IssuedAt, VerifyPath    string
	Standing                records.Standing
	Duties                  []records.Duty
	Report                  *records.ConditionReport
	Sections                []issuedSection
	OldEntries              []labelled
	Photos                  []photoForm
	Messages                []web.MessageView
	Links                   []linkView
	Contact                 records.Contact
	MayAmend, MayWithdraw   bool
	MayResend               bool
	AmendError, WithdrawErr string
	Sending                 sendingForms
}

// labelled is an entry that is no longer asked for, as it was written.
type labelled struct{ Label, Text string }

func oldEntriesOf(r *records.Record) []labelled {
	var out []labelled
	for _, k := range r.OldEntries() {
		label := k.Field.Label
		if s := records.SectionByID(k.Section); s != nil {
			label = s.Title + ": " + label
		}
		out = append(out, labelled{label, plain(k.Field, k.Value)})
	}
	return out
}

type issuedSection struct {
	Title    string
	Open     bool
	Tally    tally
	Findings []records.Finding
}

// issuedErrors is why a form of the page was refused, and what the forms about
// sending show.
type issuedErrors struct {
	amend, withdraw string
	sending         sendingForms
}

func (re Records) showIssued(c echo.Context, status int, r *records.Record, no issuedErrors) error {
	ctx := c.Request().Context()
	row, err := re.Store.Records.Issued(ctx, r.ID)
	if err != nil {
		return err
	}
	doc, err := re.App.Document(ctx, r.ID)
	if err != nil {
		return err
	}
	appliance, err := re.Store.Register.Appliance(ctx, r.ApplianceID)
	if err != nil {
		return err
	}
	role := web.Person(c).Role
	shown := doc.Record
	shown.ID, shown.ApplianceID = r.ID, r.ApplianceID
	data := issuedPage{Base: re.Base(c, row.Number), Record: shown, Row: row, IssuedAt: re.FullClock(row.IssuedAt),
		VerifyPath: "/v/" + row.Number + "/" + row.Seal.Code,
		Standing:   doc.Standing, Duties: doc.Duties, Report: shown.Condition, Sections: issuedSections(doc.Findings),
		OldEntries: oldEntriesOf(shown), Photos: photosOf(shown), Contact: appliance.Contact,
		MayAmend: web.Engineers.Allows(role), MayWithdraw: web.Office.Allows(role),
		MayResend:  row.Stage == records.StageIssued,
		AmendError: no.amend, WithdrawErr: no.withdraw, Sending: no.sending}
	if !data.Sending.resent {
		data.Sending.Email = appliance.Contact.Email
	}
	if data.Messages, data.Links, err = re.sent(ctx, r.ID); err != nil {
		return err
	}
	return re.Page(c, status, "issued", data)
}

// issuedSections groups the findings; a section with something unsettled is
// open from the start.
func issuedSections(fs []records.Finding) []issuedSection {
	var out []issuedSection
	for _, sec := range records.Sections {
		line := issuedSection{Title: sec.Title, Tally: tallyOf(fs, sec.ID)}
		for _, f := range fs {
			if f.Section == sec.ID {
				line.Findings = append(line.Findings, f)
				line.Open = line.Open || !f.Settled()
			}
		}
		if line.Findings != nil {
			out = append(out, line)
		}
	}
	other := issuedSection{Title: "Other checks"} // of sections that there are no longer
	for _, f := range fs {
		if records.SectionByID(f.Section) == nil {
			other.Findings = append(other.Findings, f)
			other.Open = other.Open || !f.Settled()
		}
	}
	if other.Findings != nil {
		other.Tally = tallyOf(other.Findings, "")
		out = append(out, other)
	}
	return out
}

func (re Records) PDF(c echo.Context) error {
	number, file, err := re.App.Printed(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return web.SendPDF(c, app.FileName(number), file)
}

func (re Records) Amend(c echo.Context) error {
	ctx := c.Request().Context()
	next, err := re.App.Amend(ctx, web.Person(c), c.Param("id"), c.FormValue("why"))
	if records.KindOf(err) == records.Invalid && err != nil {
		return re.refuse(c, err, issuedErrors{amend: err.Error()})
	}
	if err != nil {
		return err
	}
	return web.Redirect(c, "/records/"+next.ID)
}

func (re Records) Withdraw(c echo.Context) error {
	err := re.App.Withdraw(c.Request().Context(), web.Person(c), c.Param("id"), c.FormValue("why"))
	if records.KindOf(err) == records.Invalid && err != nil {
		return re.refuse(c, err, issuedErrors{withdraw: err.Error()})
	}
	if err != nil {
		return err
	}
	re.Flash(c, "Withdrawn. Anybody who checks the record is told so.")
	return web.Redirect(c, "/records/"+c.Param("id"))
}

func (re Records) refuse(c echo.Context, cause error, no issuedErrors) error {
	r, err := re.Store.Records.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	if r.Stage == records.Draft {
		return cause
	}
	return re.showIssued(c, web.Refused, r, no)
}

// Notice is the notice to leave on site.
func (re Records) Notice(c echo.Context) error {
	name, file, err := re.App.Notice(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return web.SendPDF(c, name, file)
}
