package app

import (
	"context"
	"io"
	"strings"

	"gaugebook/pdf"
	"gaugebook/records"
	"gaugebook/records/exchange"
	"gaugebook/records/store"
)

// AddProperty adds an address with its contact. A second entry of the same first
// lines at the same postcode is a Conflict.
func (a *App) AddProperty(ctx context.Context, who records.Person, p records.PropertyEntry) (records.PropertyEntry,
	error) {
	near, err := a.Store.Register.PropertiesIn(ctx, p.Postcode)
	if err != nil {
		return p, err
	}
	for _, n := range near {
		if strings.EqualFold(n.Line1, p.Line1) && strings.EqualFold(n.Line2, p.Line2) {
			return p, &records.Error{Kind: records.Conflict, Field: "line1",
				Label: "First line of the address", Msg: "this address is on file already"}
		}
	}
	return a.Store.Register.CreateProperty(ctx, who.Actor(), p)
}

// printMost is the most lines of the register that go into one PDF.
const printMost = 2000

// PrintRegister prints the register as it is filtered; filter says how, in
// words. Kinds: Invalid for a filter that leaves more than 2,000 lines.
func (a *App) PrintRegister(ctx context.Context, q store.Query, filter string) ([]byte, error) {
	firm, err := a.Store.Settings.Firm(ctx)
	if err != nil {
		return nil, err
	}
	x := pdf.RegisterExtract{Firm: firm.Name, Made: q.Today, Filter: filter}
	q.After = ""
	for q.Limit = 500; ; {
		rows, next, err := a.Store.Register.Find(ctx, q)
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			x.Rows = append(x.Rows, printedRow(r, x.Made))
		}
		if next == "" {
			return pdf.Register(x)
		}
		if len(x.Rows) >= printMost {
			return nil, &records.Error{Kind: records.Invalid, Field: "filter", Label: "Print",
				Msg: "more than 2,000 lines fit", Want: "a filter that leaves at most 2,000"}
		}
		q.After = next
	}
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

// ListFormat is a form that a register can be had in as a list.
type ListFormat struct {
	Type string // of the content
	open func(io.Writer) (exchange.LineWriter, error)
}

// ListFormats are the formats by the ending of the file's name.
var ListFormats = map[string]ListFormat{
	"csv":  {"text/csv; charset=utf-8", exchange.NewCSV},
	"xlsx": {"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", exchange.NewWorkbook},
}

// WriteRegister writes every page of a view of the register as one list, row by
// row.
func (a *App) WriteRegister(ctx context.Context, out io.Writer, format ListFormat, q store.Query) error {
	list, err := format.open(out)
	if err != nil {
		return err
	}
	q.After = "" // a list holds every page
	err = a.Store.Bulk.EachInView(ctx, q, func(r store.ViewRow) error {
		l := exchange.Line{Property: r.Property, Contact: r.Contact, Values: r.Values, Number: r.Number,
			WorkDate: r.WorkDate, Standing: r.Standing}
		if r.Duty != nil {
			l.Duty, l.Due, l.State = r.Duty.Kind, r.Duty.Due, r.Duty.StateOn(q.Today)
		}
		return list.Write(l)
	})
	if err != nil {
		return err
	}
	return list.Close()
}
