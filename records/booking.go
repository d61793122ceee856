package records

import (
	"strings"
	"time"
)

// BookingState is how a booking stands.
type BookingState string

// The states of a booking.
const (
	BookingOpen      BookingState = "booked"
	BookingDone      BookingState = "done"
	BookingCancelled BookingState = "cancelled"
)

// Appointment is the day of a visit and, if the customer was told one, the
// window in which the engineer arrives. Times are HH:MM where the firm works;
// both or neither are given.
type Appointment struct {
	On    Date
	From  string
	Until string
}

// String returns it as people say it.
func (a Appointment) String() string {
	if a.From == "" {
		return a.On.Long()
	}
	return a.On.Long() + ", " + a.From + " to " + a.Until
}

// check asks for a day that is not over and a window that is one.
func (a Appointment) check(c *check, today Date) {
	switch {
	case a.On.IsZero():
		c.add("on", "Day", "", "a date as YYYY-MM-DD")
	case a.On.Before(today):
		c.add("on", "Day", a.On.String(), "today or a day to come")
	case a.On.After(today.AddMonths(24)):
		c.add("on", "Day", a.On.String(), "a day within two years")
	}
	if a.From == "" && a.Until == "" {
		return
	}
	if !validClock(a.From) {
		c.add("from", "Arrives from", a.From, "a time as HH:MM, or neither time")
	}
	if !validClock(a.Until) || validClock(a.From) && a.Until <= a.From {
		c.add("until", "and until", a.Until, "a time as HH:MM, later than the first, or neither time")
	}
}

// Booking is an engineer's visit to an appliance on a day.
type Booking struct {
	ID string
	Appointment
	EngineerID string
	Engineer   string
	Note       string
	State      BookingState
	Why        string // it was last moved or cancelled
	RecordID   string // that fulfilled it, if one did
	Sequence   int    // raised whenever it is moved or cancelled
	CreatedAt  time.Time
	UpdatedAt  time.Time

	ApplianceID string
	Appliance   string // make and model, or kind
	Location    string // in the property
	PropertyID  string
	Property    Property
	Contact     Contact
	Duties      []OpenDuty // that the visit is for
	DraftID     string     // of the newest draft, if any
}

// tidy takes the white space off.
func (a Appointment) tidy() Appointment {
	a.From, a.Until = strings.TrimSpace(a.From), strings.TrimSpace(a.Until)
	return a
}

// NewBooking is what a visit is booked from.
type NewBooking struct {
	ApplianceID string
	DutyIDs     []string // that the visit is for; none for another reason, which Note says
	EngineerID  string
	Appointment
	Note      string
	RequestID string // of the customer's request that it answers, or ""
	Today     Date
}

// Checked returns the booking tidied up, or every error in what can be told
// without the register.
func (b NewBooking) Checked() (NewBooking, error) {
	var c check
	b.Appointment = b.tidy()
	b.check(&c, b.Today)
	b.Note = c.note("note", "Note", b.Note, 1000)
	return b, c.err()
}

// Checked returns the appointment tidied up, or every error in it.
func (a Appointment) Checked(today Date) (Appointment, error) {
	var c check
	a = a.tidy()
	a.check(&c, today)
	return a, c.err()
}
