package exchange

import (
	"encoding/csv"
	"fmt"
	"io"
	"time"

	"github.com/xuri/excelize/v2"

	"gaugebook/records"
)

// Line is one appliance of a register view.
type Line struct {
	Property records.Property
	Contact  records.Contact
	Values   records.Values // of the appliance section
	Duty     records.DutyKind
	Due      records.Date
	State    records.DutyState
	Number   string // of the last record
	WorkDate records.Date
	Standing records.Standing
}

// column is one column of an exported list. Either text or date is set.
type column struct {
	head  string
	width float64 // in characters, for a workbook
	text  func(Line) string
	date  func(Line) records.Date
}

// columns are those of every exported list, in order. Guess knows their
// heads, so that an exported list can be read in again.
var columns = []column{
	{head: "Address line 1", width: 30, text: func(l Line) string { return l.Property.Line1 }},
	{head: "Address line 2", width: 20, text: func(l Line) string { return l.Property.Line2 }},
	{head: "Town", width: 18, text: func(l Line) string { return l.Property.Town }},
	{head: "Postcode", width: 10, text: func(l Line) string { return l.Property.Postcode }},
	{head: "Nation", width: 16, text: func(l Line) string { return string(l.Property.Nation) }},
	{head: "Contact", width: 24, text: func(l Line) string { return l.Contact.Name }},
	{head: "E-mail", width: 28, text: func(l Line) string { return l.Contact.Email }},
	{head: "Telephone", width: 16, text: func(l Line) string { return l.Contact.Phone }},
	{head: "Tenure", width: 15, text: func(l Line) string { return string(l.Contact.Tenure) }},
	{head: "Kind of appliance", width: 24, text: func(l Line) string { return label(records.ApplianceKind, l.Values) }},
	{head: "Make", width: 16, text: func(l Line) string { return l.Values.Text(records.ApplianceMake) }},
	{head: "Model", width: 18, text: func(l Line) string { return l.Values.Text(records.ApplianceModel) }},
	{head: "Serial number", width: 18, text: func(l Line) string { return l.Values.Text(records.ApplianceSerial) }},
	{head: "Location", width: 20, text: func(l Line) string { return l.Values.Text(records.ApplianceLocation) }},
	{head: "Fuel", width: 15, text: func(l Line) string { return label(records.ApplianceFuel, l.Values) }},
	{head: "Next duty", width: 20, text: func(l Line) string { return string(l.Duty) }},
	{head: "Due", width: 12, date: func(l Line) records.Date { return l.Due }},
	{head: "State", width: 9, text: func(l Line) string { return string(l.State) }},
	{head: "Last record", width: 13, text: func(l Line) string { return l.Number }},
	{head: "Work date", width: 12, date: func(l Line) records.Date { return l.WorkDate }},
	{head: "Standing", width: 11, text: func(l Line) string { return string(l.Standing) }},
}

func label(f records.ChoiceField, vs records.Values) string { return f.ChoiceLabel(vs.Choice(f)) }

// LineWriter writes lines one after another; nothing is whole until Close.
type LineWriter interface {
	Write(Line) error
	Close() error
}

type csvWriter struct {
	w     *csv.Writer
	cells []string
}

// NewCSV writes lines as comma-separated UTF-8 with a byte order mark, which
// spreadsheet programs need to take it for UTF-8, and lines ended by CR LF.
func NewCSV(w io.Writer) (LineWriter, error) {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return nil, err
	}
	c := &csvWriter{w: csv.NewWriter(w), cells: make([]string, len(columns))}
	c.w.UseCRLF = true
	for i, col := range columns {
		c.cells[i] = col.head
	}
	return c, c.w.Write(c.cells)
}

func (c *csvWriter) Write(l Line) error {
	for i, col := range columns {
		if col.date != nil {
			c.cells[i] = col.date(l).String()
			continue
		}
		c.cells[i] = Guard(col.text(l))
	}
	return c.w.Write(c.cells)
}

func (c *csvWriter) Close() error {
	c.w.Flush()
	return c.w.Error()
}

// WorkbookRows is the most lines that one sheet of a workbook takes, its
// heading apart: the format ends at 1,048,576 rows.
// Source: ECMA-376, Office Open XML File Formats, as spreadsheet programs
// apply it.
const WorkbookRows = 1<<20 - 1

type workbook struct {
	out   io.Writer
	file  *excelize.File
	sheet *excelize.StreamWriter
	date  int // style
	row   int
	cells []any
}

// NewWorkbook writes lines as one sheet of an XLSX workbook. Rows wait in a
// temporary file, not in memory, until Close sends the workbook.
func NewWorkbook(w io.Writer) (LineWriter, error) {
	b := &workbook{out: w, file: excelize.NewFile(), row: 1, cells: make([]any, len(columns))}
	if err := b.begin(); err != nil {
		b.file.Close()
		return nil, fmt.Errorf("beginning the workbook: %w", err)
	}
	return b, nil
}

func (b *workbook) begin() (err error) {
	if err = b.file.SetSheetName("Sheet1", "Register"); err != nil {
		return err
	}
	format := "yyyy-mm-dd"
	if b.date, err = b.file.NewStyle(&excelize.Style{CustomNumFmt: &format}); err != nil {
		return err
	}
	bold, err := b.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	if b.sheet, err = b.file.NewStreamWriter("Register"); err != nil {
		return err
	}
	if err := b.sheet.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2",
		ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	for i, col := range columns {
		if err := b.sheet.SetColWidth(i+1, i+1, col.width); err != nil {
			return err
		}
		b.cells[i] = excelize.Cell{StyleID: bold, Value: col.head}
	}
	return b.sheet.SetRow("A1", b.cells)
}

// Write adds a line. Texts are guarded although a text cell runs no formula:
// somebody may save the sheet as CSV.
func (b *workbook) Write(l Line) error {
	if b.row > WorkbookRows {
		return &records.Error{Kind: records.Invalid, Field: "format", Label: "Workbook",
			Msg:  fmt.Sprintf("more than %d lines, which is all that a sheet takes", WorkbookRows),
			Want: "a narrower view, or CSV"}
	}
	b.row++
	for i, col := range columns {
		b.cells[i] = nil
		if col.date == nil {
			if s := Guard(col.text(l)); s != "" {
				b.cells[i] = s
			}
			continue
		}
		if d := col.date(l); !d.IsZero() {
			b.cells[i] = excelize.Cell{StyleID: b.date, Value: serialDay(d)}
		}
	}
	at, err := excelize.CoordinatesToCellName(1, b.row)
	if err != nil {
		return err
	}
	return b.sheet.SetRow(at, b.cells)
}

// serialDay is a date as a workbook counts it: days since 30 December 1899,
// right from 1 March 1900 on. Source: ECMA-376 part 1, 18.17.4.1.
func serialDay(d records.Date) int {
	return d.DaysSince(records.NewDate(1899, time.December, 30))
}

func (b *workbook) Close() error {
	err := b.sheet.Flush()
	if err == nil {
		_, err = b.file.WriteTo(b.out)
	}
	if cerr := b.file.Close(); err == nil {
		err = cerr
	}
	return err
}
