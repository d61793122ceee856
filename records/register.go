package records

import "time"

// PropertyEntry is a property in the register, with whom to write to.
type PropertyEntry struct {
	ID string
	Property
	Contact Contact
}

// Checked tidies both parts. A property may be entered before anybody knows
// whom to write to: then the contact is blank in every part.
func (p PropertyEntry) Checked() (PropertyEntry, error) {
	var err error
	if p.Property, err = p.Property.Checked(); err != nil {
		return p, err
	}
	if p.Contact != (Contact{}) {
		p.Contact, err = p.Contact.Checked()
	}
	return p, err
}

// OpenDuty is a duty of an appliance, with how it came and how it ended.
type OpenDuty struct {
	ID          string
	ApplianceID string
	Duty        Duty
	State       DutyState // Done, Lifted, or "" while it is open
	RecordID    string    // that it follows from; "" when a person added it
	CreatedAt   time.Time

	ClosedAt       time.Time
	ClosedBy       string // name
	ClosedWhy      string
	ClosedRecordID string // the record that fulfilled it, if one did

	Appliance string // make and model
	Address   string
}

// Closed reports whether it is done or lifted.
func (d OpenDuty) Closed() bool { return d.State != "" }

// StateOn returns how the duty stands on a day.
func (d OpenDuty) StateOn(today Date) DutyState {
	if d.Closed() {
		return d.State
	}
	return d.Duty.StateOn(today)
}

// ContactAttempt is one entry of the log of contacts.
type ContactAttempt struct {
	ID         string
	At         time.Time
	By         Actor
	How        string // e-mail, call, letter, visit …
	Note       string
	NextAction Date // zero: none planned
}

// Checked returns the attempt tidied up, or every error in it.
func (a ContactAttempt) Checked() (ContactAttempt, error) {
	var c check
	a.How = c.line("how", "How", a.How, 1, 40)
	a.Note = c.note("note", "Note", a.Note, 2000)
	return a, c.err()
}
