package mail

import "gaugebook/records"

// Record is the message that brings the customer a record: attached, or
// behind the link when it is too large for a message.
type Record struct {
	Name      string // the customer's
	Purpose   records.Purpose
	Kind      string // of the appliance, as a label
	MakeModel string
	Address   string // in one line
	Street    string // its first line
	WorkDate  records.Date
	Number    string
	Code      string
	Amends    string // number of the record that this one replaces, or ""
	Link      string // the customer's own
	Verify    string // where anybody can check the record
	Attached  bool
	Unsettled []records.Finding
	LeftOff   bool           // turned off or disconnected
	Duties    []records.Duty // those that the customer has to see to
	Emergency records.EmergencyCall
	Firm      records.Firm
}

// Fact is one line of the table in the message.
type Fact struct {
	Label, Value string
	Strong       string // stands before the value, or ""
}

var recordLetter = parse("record")

// Message fills the message in.
func (r Record) Message() Message { return recordLetter.fill(r) }

// Work is what was done, up to the words "your gas appliance".
func (r Record) Work() string {
	if r.Purpose == records.Remedial {
		return "remedial work on"
	}
	return string(r.Purpose) + " of"
}

// Facts are the appliance and the record in short.
func (r Record) Facts() []Fact {
	facts := []Fact{
		{Label: "Appliance", Value: r.Kind + ", " + r.MakeModel},
		{Label: "Address", Value: r.Address},
		{Label: "Date", Value: r.WorkDate.Long()},
		{Label: "Record", Value: r.Number + ", code " + r.Code},
	}
	for _, d := range r.Duties {
		facts = append(facts, Fact{Label: "Due next", Strong: d.Due.Long(), Value: string(d.Kind)})
	}
	return facts
}
