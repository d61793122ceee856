package server

import (
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/pdf"
	"gaugebook/records"
	"gaugebook/records/store"
)

// notice is the notice to leave on site: of an issued record as it was
// issued, of a draft as it stands, since it is left before the engineer
// leaves.
func (s *Server) notice(c echo.Context) error {
	ctx := c.Request().Context()
	r, err := s.store.Records.Record(ctx, c.Param("id"))
	if records.KindOf(err) == records.NotFound && err != nil {
		row, byNumber := s.store.Records.Issued(ctx, c.Param("id"))
		if byNumber != nil {
			return err
		}
		r, err = s.store.Records.Record(ctx, row.ID)
	}
	if err != nil {
		return err
	}
	doc, name := records.Document{Issued: records.Issued{Record: r, Findings: r.Findings,
		Standing: records.StandingOf(r.Findings)}}, "notice-draft.pdf"
	if r.Stage != records.Draft {
		if doc, err = s.book.Document(ctx, r.ID); err != nil {
			return err
		}
		name = "notice-" + doc.Number + ".pdf"
	}
	file, err := pdf.ConditionReport(doc)
	if err != nil {
		return err
	}
	return sendPDF(c, name, file)
}

// printMost is the most lines of the register that go into one PDF.
const printMost = 2000

// registerPDF prints the register as it is filtered.
func (s *Server) registerPDF(c echo.Context) error {
	ctx, view := c.Request().Context(), registerViewOf(c.QueryParams())
	firm, err := s.store.Settings.Firm(ctx)
	if err != nil {
		return err
	}
	x := pdf.RegisterExtract{Firm: firm.Name, Made: s.book.Today(), Filter: view.words()}
	q, err := view.query(x.Made, s.book.Now())
	if err != nil {
		return err
	}
	q.After = ""
	for q.Limit = 500; ; {
		rows, next, err := s.store.Register.Find(ctx, q)
		if err != nil {
			return err
		}
		for _, r := range rows {
			x.Rows = append(x.Rows, printedRow(r, x.Made))
		}
		if next == "" {
			break
		}
		if len(x.Rows) >= printMost {
			return &records.Error{Kind: records.Invalid, Field: "filter", Label: "Print",
				Msg: "more than 2,000 lines fit", Want: "a filter that leaves at most 2,000"}
		}
		q.After = next
	}
	file, err := pdf.Register(x)
	if err != nil {
		return err
	}
	return sendPDF(c, "register-"+x.Made.String()+".pdf", file)
}

func printedRow(r store.RegisterRow, today records.Date) pdf.RegisterRow {
	out := pdf.RegisterRow{Property: r.Property, Appliance: r.MakeModel, Customer: r.Name, Phone: r.Phone}
	if out.Appliance = strings.TrimSpace(out.Appliance); out.Appliance == "" {
		out.Appliance = records.ApplianceKind.ChoiceLabel(r.Kind)
	}
	if d := r.NextDuty; d != nil {
		out.Due, out.Kind, out.State = d.Duty.Due, d.Duty.Kind, d.StateOn(today)
	}
	if r.LastRecord != nil {
		out.Note = "Record " + r.LastRecord.Number
	}
	return out
}
