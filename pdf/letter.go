package pdf

import (
	"fmt"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/seal"
	"gaugebook/records"
)

// ReminderLetter is one letter to one customer about what falls due on their
// appliances.
type ReminderLetter struct {
	Firm      records.Firm
	Date      records.Date // of the letter
	Reference string       // of the firm, for the answer; may be empty
	Name      string       // of the customer
	Address   []string     // lines under the name
	Due       []ReminderDuty
	BookURL   string // private page to ask for a visit; may be empty
}

// ReminderDuty is one thing that falls due on one appliance.
type ReminderDuty struct {
	Kind      records.DutyKind
	Due       records.Date
	Appliance string // make and model
	Location  string // where in the property; may be empty
	Property  records.Property
	Last      records.Date // of the last visit; zero if none is known
}

// Place of the address for a window envelope DL or C5: 20 to 105 mm from the
// left and 45 to 90 mm from the top edge of the sheet. Common practice, no
// published source.
const (
	windowTop    = 45 * layout.MM
	windowRight  = 105 * layout.MM
	windowBottom = 90 * layout.MM
	addressLines = 7 // most, with the name
)

// Reminders prints letters as one file, each from a page of its own and with
// page numbers of its own. Errors: records.Invalid, naming the field and the
// place of the letter in the batch, if there is no letter, or if one has no
// date, no firm, no name, no address, more lines of address than the window
// shows, or nothing due.
func Reminders(batch []ReminderLetter) ([]byte, error) {
	if len(batch) == 0 {
		return nil, &records.Error{Kind: records.Invalid, Field: "letters", Value: "0 letters",
			Want: "at least one letter"}
	}
	for i, l := range batch {
		if err := l.check(i); err != nil {
			return nil, err
		}
	}
	var starts []int // first pages
	d := layout.New(layout.Options{Footer: func(f *layout.Figure, page, pages int) {
		i := len(starts) - 1
		for starts[i] > page {
			i--
		}
		end := pages + 1
		if i+1 < len(starts) {
			end = starts[i+1]
		}
		letterFooter(f, batch[i], page-starts[i]+1, end-starts[i])
	}})
	for i, l := range batch {
		if i > 0 {
			d.NewPage()
		}
		starts = append(starts, d.Page())
		letter(d, l)
	}
	body, err := d.Bytes()
	if err != nil {
		return nil, err
	}
	first := batch[0]
	title := "Reminder of " + long(first.Date) + " to " + printable(first.Name)
	if len(batch) > 1 {
		title = fmt.Sprintf("%d reminders of %s", len(batch), long(first.Date))
	}
	return seal.Finish(body, seal.Meta{Title: title, Author: first.Firm.Name, Creator: "Gaugebook",
		Created: first.Date.Time()}, nil)
}

func (l ReminderLetter) check(i int) error {
	refuse := func(field, value, want string) error {
		return &records.Error{Kind: records.Invalid, Field: fmt.Sprintf("letters[%d].%s", i, field), Value: value,
			Want: want}
	}
	switch {
	case l.Date.IsZero():
		return refuse("date", "", "the date of the letter")
	case strings.TrimSpace(l.Firm.Name) == "":
		return refuse("firm.name", "", "the name of the firm that writes")
	case strings.TrimSpace(l.Name) == "":
		return refuse("name", "", "the name of the customer")
	case len(l.Address) == 0 || len(l.Address) > addressLines-1:
		return refuse("address", fmt.Sprintf("%d lines", len(l.Address)), fmt.Sprintf("1 to %d lines", addressLines-1))
	case len(l.Due) == 0:
		return refuse("due", "", "at least one thing that falls due")
	}
	for k, due := range l.Due {
		if due.Due.IsZero() {
			return refuse(fmt.Sprintf("due[%d].due", k), "", "the date it falls due")
		}
	}
	return nil
}

// printable makes what people typed printable on one line.
func printable(s string) string {
	out, _ := layout.Printable(strings.Join(strings.Fields(s), " "))
	return out
}

func letterFooter(f *layout.Figure, l ReminderLetter, page, pages int) {
	f.Line(0, 0, f.W, 0, layout.Pen{Colour: layout.Hair, Width: layout.HairWidth})
	right := ""
	if pages > 1 {
		right = fmt.Sprintf("page %d of %d", page, pages)
		f.Text(f.W, 13, 0, 0, layout.Small.Aligned(layout.Right), right)
	}
	left := printable(list(present(l.Firm.Name, l.Firm.Address, l.Firm.Phone, l.Firm.Email,
		before("registration ", l.Firm.Registration)), ", "))
	f.Text(0, 13, 0, 0, layout.Small, shorten(layout.Small, left, f.W-layout.TextWidth(layout.Small, right)-12))
}

var letterStyle = layout.Style{Size: 10.5, Leading: 15}

func letter(d *layout.Document, l ReminderLetter) {
	d.Bookmark(printable(l.Name))
	letterHead(d, l)
	d.Paragraph(letterStyle.Aligned(layout.Right), long(l.Date))
	if l.Reference != "" {
		d.Paragraph(layout.Small.Aligned(layout.Right), printable("Our reference "+l.Reference))
	}
	d.Space(10)
	d.Paragraph(layout.Style{Face: layout.Bold, Size: 13, Leading: 18}, subject(l))
	d.Space(8)
	d.Paragraph(letterStyle, "Dear "+printable(l.Name)+",")
	d.Space(6)
	d.Paragraph(letterStyle,
		"according to our records the following falls due on gas appliances that we have worked on for you:")
	d.Space(6)
	dueTable(d, l)
	d.Space(8)
	for _, text := range reasons(l) {
		d.Paragraph(letterStyle, text)
		d.Space(6)
	}
	d.Paragraph(letterStyle, "To agree a day, "+printable(contactBy(l))+". If the work has been done already, or "+
		"the appliance is no longer yours or no longer there, tell us, and we will put our records right and not "+
		"write about it again.")
	if l.BookURL != "" {
		d.Space(4)
		d.Rich(layout.Span{Text: "Ask for a day online: ", Style: letterStyle},
			layout.Span{Text: printable(l.BookURL), Style: letterStyle, Link: l.BookURL})
	}
	d.Space(6)
	number, note := emergencyCall(l.Due[0].Property.Nation, "")
	d.Paragraph(letterStyle,
		"If you smell gas or a carbon monoxide alarm sounds, do not wait for a visit: get everybody out and call "+
			number+". "+note)
	d.Space(14)
	d.KeepTogether(func() {
		d.Paragraph(letterStyle, "Yours sincerely")
		d.Space(6)
		d.Paragraph(letterStyle, printable(l.Firm.Name))
	})
}

// letterHead sets the firm at the top, and the address in the window.
func letterHead(d *layout.Document, l ReminderLetter) {
	const below = windowBottom - layout.MarginTop
	d.Figure(below+10, func(f *layout.Figure) {
		head := layout.Style{Face: layout.Bold, Size: 13, Leading: 18}
		f.Text(f.W, 10, 0, 0, head.Aligned(layout.Right), shorten(head, printable(l.Firm.Name), f.W))
		y, room := windowTop-f.Y+10, windowRight-f.X-6
		sender := layout.Style{Size: 6.5, Leading: 9, Colour: layout.Slate}
		f.Text(0, y, 0, 0, sender, shorten(sender, printable(list(present(l.Firm.Name, l.Firm.Address), ", ")), room))
		y += 22
		for _, text := range append([]string{l.Name}, l.Address...) {
			style := letterStyle
			for style.Size > 7 && layout.TextWidth(style, printable(text)) > room {
				style.Size -= 0.5
			}
			f.Text(0, y, 0, 0, style, shorten(style, printable(text), room))
			y += 13
		}
	})
}

func subject(l ReminderLetter) string {
	kinds, seen := []string{}, map[records.DutyKind]bool{}
	for _, due := range l.Due {
		if !seen[due.Kind] {
			seen[due.Kind] = true
			kinds = append(kinds, strings.TrimPrefix(lower(dutyWord(due.Kind)), "next "))
		}
	}
	return "Falling due: " + list(kinds, ", ", " and ")
}

func dueTable(d *layout.Document, l ReminderLetter) {
	style := layout.Style{Size: 9.5, Leading: 13}
	t := layout.Table{PadY: 3, Style: style, Columns: []layout.Column{{Head: "What", Weight: 2.6}, {Head: "Appliance",
		Weight: 3}, {Head: "Where", Weight: 3.4}, {Head: "Due on", Weight: 2.8}}}
	for _, due := range l.Due {
		when := long(due.Due)
		if due.Due.Before(l.Date) {
			when += ", past"
		}
		last := ""
		if !due.Last.IsZero() {
			last = "last visit " + long(due.Last)
		}
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{{Text: dutyWord(due.Kind), Style: style},
			{Text: printable(due.Appliance), Note: printable(due.Location)}, {Text: printable(address(due.Property))},
			{Text: when, Note: last}}})
	}
	d.Table(t)
}

// reasons says once of each kind of duty why it falls due.
func reasons(l ReminderLetter) (out []string) {
	seen := map[records.DutyKind]bool{}
	for _, due := range l.Due {
		if seen[due.Kind] {
			continue
		}
		seen[due.Kind] = true
		switch due.Kind {
		case records.AnnualService:
			out = append(out, "The service: the manufacturer's instructions say how often the appliance is to be "+
				"serviced, commonly once a year, and may make a guarantee depend on it.")
		case records.LandlordCheckDue:
			out = append(out, "The landlord's gas check: whoever lets the property has to have each gas appliance "+
				"and flue that they provide checked at intervals of not more than twelve months (Gas Safety "+
				"(Installation and Use) Regulations "+landlordLaw(due.Property.Nation)+", regulation 36).")
		case records.InhibitorRecheck:
			out = append(out, "The heating water: its inhibitor is checked from time to time, so that pipes and "+
				"appliance do not corrode.")
		}
	}
	return out
}

func contactBy(l ReminderLetter) string {
	ways := list(present(before("call ", l.Firm.Phone), before("write to ", l.Firm.Email)), ", ", " or ")
	if ways == "" {
		return "please answer this letter"
	}
	return ways
}
