package server

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
)

// issuedPage is an issued record as the firm sees it.
type issuedPage struct {
	base
	Record                  *records.Record
	Row                     store.IssuedRow
	IssuedAt, VerifyPath    string
	Standing                records.Standing
	Duties                  []records.Duty
	Report                  *records.ConditionReport
	Sections                []issuedSection
	OldEntries              []labelled
	Photos                  []photoForm
	Messages                []messageView
	Links                   []linkView
	Contact                 records.Contact
	MayAmend, MayWithdraw   bool
	MayResend               bool
	AmendError, WithdrawErr string
	Delivery                deliveryForms
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
// delivery show.
type issuedErrors struct {
	amend, withdraw string
	delivery        deliveryForms
}

func (s *Server) issuedPage(c echo.Context, status int, r *records.Record, no issuedErrors) error {
	ctx := c.Request().Context()
	row, err := s.store.Records.Issued(ctx, r.ID)
	if err != nil {
		return err
	}
	doc, err := s.book.Document(ctx, r.ID)
	if err != nil {
		return err
	}
	appliance, err := s.store.Register.Appliance(ctx, r.ApplianceID)
	if err != nil {
		return err
	}
	role := person(c).Role
	shown := doc.Record
	shown.ID, shown.ApplianceID = r.ID, r.ApplianceID
	data := issuedPage{base: s.base(c, row.Number), Record: shown, Row: row, IssuedAt: s.fullClock(row.IssuedAt),
		VerifyPath: "/v/" + row.Number + "/" + row.Seal.Code,
		Standing:   doc.Standing, Duties: doc.Duties, Report: shown.Condition, Sections: issuedSections(doc.Findings),
		OldEntries: oldEntriesOf(shown), Photos: photosOf(shown), Contact: appliance.Contact,
		MayAmend: engineers.allows(role), MayWithdraw: desk.allows(role), MayResend: row.Stage == records.StageIssued,
		AmendError: no.amend, WithdrawErr: no.withdraw, Delivery: no.delivery}
	if !data.Delivery.resent {
		data.Delivery.Email = appliance.Contact.Email
	}
	if data.Messages, data.Links, err = s.deliveryOf(ctx, r.ID); err != nil {
		return err
	}
	return s.page(c, status, "issued", data)
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

func (s *Server) recordPDF(c echo.Context) error {
	number, file, err := s.printed(c)
	if err != nil {
		return err
	}
	return sendPDF(c, FileName(number), file)
}

// printed returns the PDF of the record that the address names.
func (s *Server) printed(c echo.Context) (number string, file []byte, err error) {
	ctx := c.Request().Context()
	row, err := s.store.Records.Issued(ctx, c.Param("id"))
	if err != nil {
		return "", nil, err
	}
	file, err = s.book.PDF(ctx, row.ID)
	return row.Number, file, err
}

// sendPDF shows a PDF in the browser under a name to save it by.
func sendPDF(c echo.Context, name string, file []byte) error {
	h := c.Response().Header()
	h.Set(echo.HeaderContentDisposition, `inline; filename="`+name+`"`)
	h.Set("Cache-Control", "private, no-store")
	return c.Blob(http.StatusOK, "application/pdf", file)
}

func (s *Server) amend(c echo.Context) error {
	ctx := c.Request().Context()
	next, err := s.book.Amend(ctx, person(c), c.Param("id"), c.FormValue("why"))
	if records.KindOf(err) == records.Invalid && err != nil {
		return s.refuseIssued(c, err, issuedErrors{amend: err.Error()})
	}
	if err != nil {
		return err
	}
	return see(c, "/records/"+next.ID)
}

func (s *Server) withdraw(c echo.Context) error {
	err := s.book.Withdraw(c.Request().Context(), person(c), c.Param("id"), c.FormValue("why"))
	if records.KindOf(err) == records.Invalid && err != nil {
		return s.refuseIssued(c, err, issuedErrors{withdraw: err.Error()})
	}
	if err != nil {
		return err
	}
	s.say(c, "Withdrawn. Anybody who checks the record is told so.")
	return see(c, "/records/"+c.Param("id"))
}

func (s *Server) refuseIssued(c echo.Context, cause error, no issuedErrors) error {
	r, err := s.store.Records.Record(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	if r.Stage == records.Draft {
		return cause
	}
	return s.issuedPage(c, http.StatusUnprocessableEntity, r, no)
}
