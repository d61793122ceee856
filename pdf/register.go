package pdf

import (
	"fmt"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/seal"
	"gaugebook/records"
)

// RegisterExtract is a part of the register of appliances, for the office.
type RegisterExtract struct {
	Firm   string
	Made   records.Date // the day it was drawn up
	Filter string       // what was asked for, in words; may be empty
	Rows   []RegisterRow
}

// RegisterRow is one thing that falls due on one appliance.
type RegisterRow struct {
	Due       records.Date // zero if nothing is due
	State     records.DutyState
	Kind      records.DutyKind
	Property  records.Property
	Appliance string
	Location  string
	Customer  string
	Phone     string
	Note      string // last contact, booking; may be empty
}

// Register prints the extract on landscape pages. It holds customers'
// telephone numbers and is for the office only, and says so on every page.
// Error: records.Invalid if the day is missing.
func Register(x RegisterExtract) ([]byte, error) {
	if x.Made.IsZero() {
		return nil, &records.Error{Kind: records.Invalid, Field: "made", Want: "the day that the extract was drawn up"}
	}
	d := layout.New(layout.Options{Landscape: true,
		Header: layout.Header(printable(x.Firm), "Register of "+long(x.Made)),
		Footer: layout.Footer("For the office only: holds customers' addresses and telephone numbers")})
	d.Bookmark("Register")
	d.Paragraph(layout.Style{Face: layout.Bold, Size: 18, Leading: 23}, "Appliances and what falls due")
	about := count(len(x.Rows), "line") + ", as on " + long(x.Made) + "."
	if x.Filter != "" {
		about = "Asked for: " + stop(printable(x.Filter)) + " " + about
	}
	d.Paragraph(layout.Body, about)
	d.Space(8)
	style := layout.Style{Size: 8.7, Leading: 11.5}
	t := layout.Table{PadY: 2.5, Zebra: true, Style: style, Columns: []layout.Column{{Head: "Due", Weight: 3},
		{Head: "State", Weight: 1.4}, {Head: "What", Weight: 3},
		{Head: "Appliance", Weight: 4.2}, {Head: "Address", Weight: 5.6}, {Head: "Customer", Weight: 4},
		{Head: "Last contact", Weight: 3.6}}}
	for _, r := range x.Rows {
		due, what := long(r.Due), dutyWord(r.Kind)
		if r.Due.IsZero() {
			due, what = "nothing on file", ""
		}
		state := layout.Cell{Text: string(r.State), Style: style}
		if r.State == records.Late {
			state.Style.Face = layout.Bold
		}
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{{Text: due}, state, {Text: what},
			{Text: printable(r.Appliance), Note: printable(r.Location)}, {Text: printable(address(r.Property))},
			{Text: printable(r.Customer), Note: printable(r.Phone)}, {Text: printable(r.Note)}}})
	}
	if len(t.Rows) == 0 {
		d.Paragraph(layout.Body, "No appliance answers to what was asked for.")
	} else {
		d.Table(t)
	}
	body, err := d.Bytes()
	if err != nil {
		return nil, err
	}
	return seal.Finish(body, seal.Meta{Title: fmt.Sprintf("Register of %s", x.Made.Long()), Author: x.Firm,
		Creator: "Gaugebook", Created: x.Made.Time()}, nil)
}
