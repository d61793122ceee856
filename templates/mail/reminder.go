package mail

import (
	"strings"
	texttemplate "text/template"

	"gaugebook/records"
)

// Reminder is all that the wording of a reminder may name: a firm may write
// its own.
type Reminder struct {
	Name  string
	What  string
	Due   string
	Count int
	Items []ReminderItem
	Firm  string
	Phone string
	Email string
}

// ReminderItem is one of the duties that a reminder is about.
type ReminderItem struct {
	What      string
	Appliance string
	Address   string
	When      string
	Due       string
}

// Field explains a field of a wording to the owner.
type Field struct{ Name, Means string }

// The fields of Reminder and of its items. A test holds them to the types.
var (
	ReminderFields = []Field{
		{".Name", "the customer"},
		{".What", "what is due, in short: annual service, or 3 services or checks"},
		{".Due", "the earliest date"},
		{".Count", "how many are due"},
		{".Items", "each of them, between {{range .Items}} and {{end}}"},
		{".Firm", "your firm"},
		{".Phone", "its telephone"},
		{".Email", "its e-mail address"},
	}
	ReminderItemFields = []Field{
		{".What", "annual service or landlord check"},
		{".Appliance", "make and model"},
		{".Address", "where it is"},
		{".When", "falls due on …, or was due on …"},
		{".Due", "the date"},
	}
)

// The wording that a firm begins with: facts and nothing else.
var (
	ReminderAhead = read("reminder-ahead")
	ReminderLate  = read("reminder-late")
)

// ReminderEnding is what each reminder says last, whatever the firm's wording:
// what it is, how to get no more, who sent it.
type ReminderEnding struct {
	Link string // the customer's own, or what stands for it
	Firm records.Firm
}

var reminderEnding = texttemplate.Must(texttemplate.ParseFS(sources, "reminder-ending.txt"))

// Text fills the last lines in.
func (e ReminderEnding) Text() string {
	var b strings.Builder
	if err := reminderEnding.Execute(&b, e); err != nil {
		panic(err) // as with a letter, a test has checked the template
	}
	return b.String()
}

// SampleReminders are what a wording is tried on: one duty, and several.
var SampleReminders = []Reminder{sampleReminder("annual service", service), sampleReminder("2 services or checks",
	service, ReminderItem{What: "landlord check", Appliance: "Brindlow Glow 2",
		Address: "5 Quillet Row, Marrowby, AA1 1QR", When: "was due on 5 March 2027", Due: "5 March 2027"})}

var service = ReminderItem{What: "annual service", Appliance: "Emberline Hearth 24",
	Address: "3 Quillet Row, Marrowby, AA1 1QR", When: "falls due on 3 March 2027", Due: "3 March 2027"}

func sampleReminder(what string, items ...ReminderItem) Reminder {
	return Reminder{Name: "Ottilie Brackenridge", What: what, Due: items[0].Due, Count: len(items), Items: items,
		Firm: "Fernlow Heating", Phone: "01632 960100", Email: "office@fernlow.example"}
}
