package mail

import (
	"io/fs"
	"reflect"
	"slices"
	"strings"
	"testing"
	texttemplate "text/template"

	"gaugebook/records"
	"gaugebook/templates/templatetest"
)

// Every field that a message uses is there in the type of its data, in every
// branch; and no file is left over.
func TestTemplatesFitTheirData(t *testing.T) {
	known := []string{"reminder-ending.txt"}
	for _, c := range []struct {
		name string
		letter
		data any
	}{{"record", recordLetter, Record{}}, {"account", accountLetter, Account{}},
		{"invitation", invitationLetter, Invitation{}}} {
		for _, part := range []string{"subject", "text"} {
			if err := templatetest.Text(c.text, part, c.data); err != nil {
				t.Errorf("%s, %s: %v", c.name, part, err)
			}
		}
		if _, err := templatetest.HTML(c.html, c.name+".html", c.data); err != nil {
			t.Error(err)
		}
		known = append(known, c.name+".txt", c.name+".html")
	}
	if err := templatetest.Text(reminderEnding, "reminder-ending.txt", ReminderEnding{}); err != nil {
		t.Error(err)
	}
	for name, w := range map[string]Wording{"reminder-ahead": ReminderAhead, "reminder-late": ReminderLate} {
		for _, text := range []string{w.Subject, w.Text} {
			if err := templatetest.Text(texttemplate.Must(texttemplate.New(name).Parse(text)), name,
				Reminder{}); err != nil {
				t.Error(err)
			}
		}
		known = append(known, name+".txt")
	}
	files, err := fs.Glob(sources, "*")
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(known)
	if !slices.Equal(files, known) {
		t.Errorf("files %v, messages %v", files, known)
	}
	broken := texttemplate.Must(texttemplate.New("x").Parse("{{if false}}{{.Nobody}}{{end}}"))
	if err := templatetest.Text(broken, "x", Record{}); err == nil {
		t.Error("a field that does not exist was not found")
	}
}

// What is explained to the owner is what there is.
func TestReminderFields(t *testing.T) {
	for _, c := range []struct {
		of     reflect.Type
		fields []Field
	}{{reflect.TypeFor[Reminder](), ReminderFields}, {reflect.TypeFor[ReminderItem](), ReminderItemFields}} {
		var names, explained []string
		for i := range c.of.NumField() {
			names = append(names, "."+c.of.Field(i).Name)
		}
		for _, f := range c.fields {
			explained = append(explained, f.Name)
		}
		if !slices.Equal(names, explained) {
			t.Errorf("%v has %v, explained are %v", c.of, names, explained)
		}
	}
}

var sample = Record{
	Name: "Ottilie Brackenridge", Purpose: records.Service, Kind: "Combination boiler",
	MakeModel: "Emberline Hearth 24", Address: "3 Quillet Row, Marrowby, AA1 1QR", Street: "3 Quillet Row",
	WorkDate: records.NewDate(2026, 3, 3), Number: "2026-00042", Code: "ABCD-EFGH-JKMN",
	Link: "https://records.example/r/x", Verify: "https://records.example/v/x", Attached: true,
	Duties:    []records.Duty{{Kind: records.AnnualService, Due: records.NewDate(2027, 3, 3)}},
	Emergency: records.EmergencyCall{Number: "0800 0", Do: []string{"Go outside."}, Note: "Day and night."},
	Firm:      records.Firm{Name: "Fernlow Heating", Phone: "01632 960100", Email: "office@fernlow.example"},
}

func TestRecordAsText(t *testing.T) {
	adverse := sample
	adverse.Purpose, adverse.Amends, adverse.LeftOff, adverse.Attached = records.Remedial, "2026-00007", true, false
	adverse.Unsettled = []records.Finding{{Title: "Drop with appliances", Outcome: records.Outside},
		{Title: "Flue", Outcome: records.Missing}}
	adverse.Duties, adverse.Firm.Registration = nil, "000001"
	const ends = `
https://records.example/r/x

Anyone can check that the record is the one we issued:
https://records.example/v/x

IF YOU SMELL GAS, OR A CARBON MONOXIDE ALARM SOUNDS
- Go outside.
Call: 0800 0
Day and night.

Fernlow Heating
01632 960100
office@fernlow.example
%The record says which readings were inside which limits on that day. The
manufacturer's instructions and the judgement of a registered, competent
person come first.
`
	for _, c := range []struct {
		of          Record
		text, extra string
	}{{sample, `Dear Ottilie Brackenridge,

Here is the record of the service of your gas appliance.

Appliance: Combination boiler, Emberline Hearth 24
Address:   3 Quillet Row, Marrowby, AA1 1QR
Date:      3 March 2026
Record:    2026-00042, code ABCD-EFGH-JKMN

All readings taken on the day were inside the limits named in the record.

Due next:
- 3 March 2027: annual service

The full record is attached as a PDF. You can also read it here, together
with your earlier records. The link is private to you:`, "\n"}, {adverse, `Dear Ottilie Brackenridge,

Here is the record of the remedial work on your gas appliance.

Appliance: Combination boiler, Emberline Hearth 24
Address:   3 Quillet Row, Marrowby, AA1 1QR
Date:      3 March 2026
Record:    2026-00042, code ABCD-EFGH-JKMN

It replaces record 2026-00007, which is no longer in force.

Not everything was inside its limit. Please read page one of the record,
which says what was found and what was done:
- Drop with appliances: outside
- Flue: missing
The appliance was left turned off or disconnected. Do not use it until a
registered, competent person has put it right.

The full record holds many photos and is too large for a message. You can
read it and download the PDF here, together with your earlier records. The
link is private to you:`, "Registration 000001\n\n"}} {
		m := c.of.Message()
		if want := c.text + strings.Replace(ends, "%", c.extra, 1); m.Text != want {
			t.Errorf("got\n%s\nwant\n%s", m.Text, want)
		}
		if m.Subject != "Record 2026-00042: Emberline Hearth 24, 3 Quillet Row" {
			t.Errorf("subject %q", m.Subject)
		}
	}
}

// What a customer writes into a name stays text.
func TestMessagesAreEscaped(t *testing.T) {
	bad := sample
	bad.Name = "<b>Ottilie</b>"
	if m := bad.Message(); strings.Contains(m.HTML, "<b>") || !strings.Contains(m.Text, bad.Name) {
		t.Error("the HTML is not escaped, or the text is")
	}
	a := Account{Name: "<b>", What: "Your password was changed", Firm: "F", By: "O", When: "today"}.Message()
	if strings.Contains(a.HTML, "<b>") || !strings.Contains(a.Text, "Your password was changed for Gaugebook") ||
		!strings.Contains(a.Text, "on today, by O.") || !strings.Contains(a.Text, "tell the owner of F") {
		t.Errorf("%+v", a)
	}
	i := Invitation{Name: "<b>", Link: "https://records.example/join/x", Firm: "F", By: "B"}.Message()
	if strings.Contains(i.HTML, "<b>") || !strings.Contains(i.Text, "\nhttps://records.example/join/x\n") {
		t.Errorf("%+v", i)
	}
}
