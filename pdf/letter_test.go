package pdf_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"gaugebook/pdf"
	"gaugebook/records"
)

func flat(n int) records.Property {
	return records.Property{Line1: fmt.Sprintf("Flat %d, Kestrel Court", n), Town: "Emberwick", Postcode: "EM4 7QT",
		Nation: records.England}
}

func reminder() pdf.ReminderLetter {
	return pdf.ReminderLetter{
		Firm: record().Firm, Date: records.MustDate("2026-09-01"), Reference: "R-118", Name: "Małgorzata Żółkiewska",
		Address: []string{"Oduya Lettings", "2 Corn Hill", "Emberwick", "EM1 3CC"},
		Due: []pdf.ReminderDuty{
			{Kind: records.LandlordCheckDue, Due: records.MustDate("2026-10-14"), Appliance: "Harrowgate Brassmere 24c",
				Location: "Kitchen", Property: flat(1), Last: records.MustDate("2025-10-14")},
			{Kind: records.AnnualService, Due: records.MustDate("2026-10-14"), Appliance: "Harrowgate Brassmere 24c",
				Location: "Kitchen", Property: flat(1)},
			{Kind: records.LandlordCheckDue, Due: records.MustDate("2026-08-20"), Appliance: "Tarnwick TC 24",
				Property: flat(2)},
		},
		BookURL: "https://records.example/ask/4f9a",
	}
}

func mustReminders(t *testing.T, batch ...pdf.ReminderLetter) string {
	t.Helper()
	file, err := pdf.Reminders(batch)
	if err != nil {
		t.Fatal(err)
	}
	return save(t, file)
}

func TestReminder(t *testing.T) {
	t.Parallel()
	file, err := pdf.Reminders([]pdf.ReminderLetter{reminder()})
	if err != nil {
		t.Fatal(err)
	}
	keep(t, "reminder", file)
	path := save(t, file)
	checkPages(t, path)
	text := words(t, path)
	for _, w := range []string{"Dear Małgorzata Żółkiewska,", "R-118", "1 September 2026", "14 October 2026",
		"20 August 2026, past", "last visit 14 October 2025",
		"Flat 1, Kestrel Court", "Flat 2, Kestrel Court", "Kitchen", "Tarnwick TC 24", "regulation 36", "0800 111 999",
		"01632 960045", "https://records.example/ask/4f9a", "we will put our records right"} {
		if !strings.Contains(text, w) {
			t.Errorf("the letter lacks %q", w)
		}
	}
	for _, w := range []string{"offer", "discount", "save", "special"} {
		if strings.Contains(strings.ToLower(text), w) {
			t.Errorf("a service message says %q", w)
		}
	}
}

// TestAddressInWindow: what shows in the window of the envelope is the sender
// and the address, whole, and nothing else. Window of 20 to 105 mm from the
// left and 45 to 90 mm from the top: common practice, no published source.
func TestAddressInWindow(t *testing.T) {
	t.Parallel()
	const mm = 72 / 25.4
	l := reminder()
	l.Address = []string{strings.Repeat("Very long line ", 6), "Second line", "Third line", "Fourth line",
		"Llanfairpwllgwyngyll", "EM1 3CC"}
	for _, l := range []pdf.ReminderLetter{reminder(), l} {
		var inside []string
		for _, w := range pages(t, mustReminders(t, l))[0].Words {
			if w.XMax > 20*mm && w.XMin < 105*mm && w.YMax > 45*mm && w.YMin < 90*mm {
				inside = append(inside, w.Text)
				if w.XMin < 20*mm || w.XMax > 105*mm || w.YMin < 45*mm || w.YMax > 90*mm {
					t.Errorf("%q is cut by the edge of the window", w.Text)
				}
			}
		}
		got := strings.Join(inside, " ")
		last := l.Address[len(l.Address)-1]
		if !strings.HasPrefix(got, "Copperlea Heating") || !strings.Contains(got, l.Name) ||
			!strings.HasSuffix(got, last) {
			t.Errorf("the window shows %q", got)
		}
	}
}

func TestBatchOfReminders(t *testing.T) {
	t.Parallel()
	short, long := reminder(), reminder()
	short.Name, long.Name = "First Customer", "Second Customer"
	for i := range 60 {
		long.Due = append(long.Due, pdf.ReminderDuty{Kind: records.AnnualService, Due: records.MustDate("2026-10-14"),
			Appliance: fmt.Sprintf("Model %d", i), Property: flat(i)})
	}
	third := reminder()
	third.Name = "Third Customer"
	path := mustReminders(t, short, long, third)
	checkPages(t, path)
	n := len(pages(t, path))
	for i, want := range map[int][]string{1: {"Dear First Customer"}, 2: {"Dear Second Customer",
		fmt.Sprintf("page 1 of %d", n-2)},
		n - 1: {fmt.Sprintf("page %d of %d", n-2, n-2)}, n: {"Dear Third Customer"}} {
		text := words(t, path, "-f", itoa(i), "-l", itoa(i))
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("page %d of %d lacks %q", i, n, w)
			}
		}
	}
	one := words(t, mustReminders(t, third))
	if last := words(t, path, "-f", itoa(n)); last != one {
		t.Errorf("a letter in a batch reads otherwise than alone:\n%s\n%s", last, one)
	}
	all := words(t, path)
	for i := range 60 {
		if !strings.Contains(all, fmt.Sprintf("Model %d ", i)) {
			t.Errorf("appliance %d is missing", i)
		}
	}
}

func TestReminderRefuses(t *testing.T) {
	t.Parallel()
	for field, spoil := range map[string]func(*pdf.ReminderLetter){
		"letters[1].date":       func(l *pdf.ReminderLetter) { l.Date = records.Date{} },
		"letters[1].firm.name":  func(l *pdf.ReminderLetter) { l.Firm.Name = " " },
		"letters[1].name":       func(l *pdf.ReminderLetter) { l.Name = "" },
		"letters[1].address":    func(l *pdf.ReminderLetter) { l.Address = make([]string, 7) },
		"letters[1].due":        func(l *pdf.ReminderLetter) { l.Due = nil },
		"letters[1].due[0].due": func(l *pdf.ReminderLetter) { l.Due = []pdf.ReminderDuty{{}} },
	} {
		bad := reminder()
		spoil(&bad)
		_, err := pdf.Reminders([]pdf.ReminderLetter{reminder(), bad})
		var e *records.Error
		if !errors.As(err, &e) || e.Kind != records.Invalid || e.Field != field || e.Want == "" {
			t.Errorf("%s: %v", field, err)
		}
	}
	if _, err := pdf.Reminders(nil); err == nil {
		t.Error("an empty batch was printed")
	}
}

func TestRegister(t *testing.T) {
	t.Parallel()
	x := pdf.RegisterExtract{Firm: "Copperlea Heating", Made: records.MustDate("2026-09-01"),
		Filter: "due within 8 weeks or late"}
	for i := range 70 {
		x.Rows = append(x.Rows, pdf.RegisterRow{Due: records.MustDate("2026-08-20").AddDays(i), State: records.Near,
			Kind: records.AnnualService, Property: flat(i),
			Appliance: fmt.Sprintf("Model %d", i), Location: "Kitchen", Customer: "Síle Ní Dhomhnaill",
			Phone: "01632 960118", Note: "Letter sent"})
	}
	x.Rows[0].State, x.Rows[69].Due, x.Rows[69].State = records.Late, records.Date{}, ""
	file, err := pdf.Register(x)
	if err != nil {
		t.Fatal(err)
	}
	keep(t, "register", file)
	path := save(t, file)
	checkPages(t, path)
	for i, p := range pages(t, path) {
		if p.Width < p.Height {
			t.Errorf("page %d is upright", i+1)
		}
	}
	text := words(t, path)
	for i := range 70 {
		if !strings.Contains(text, fmt.Sprintf("Flat %d, Kestrel Court", i)) {
			t.Errorf("row %d is missing", i)
		}
	}
	for _, w := range []string{"due within 8 weeks or late", "late", "nothing on file", "For the office only",
		"page 1 of"} {
		if !strings.Contains(text, w) {
			t.Errorf("the register lacks %q", w)
		}
	}
	x.Rows = nil
	if file, err = pdf.Register(x); err != nil || !strings.Contains(words(t, save(t, file)), "No appliance answers") {
		t.Errorf("an empty extract: %v", err)
	}
	if _, err = pdf.Register(pdf.RegisterExtract{}); err == nil {
		t.Error("an extract without a day was printed")
	}
}
