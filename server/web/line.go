package web

import (
	"gaugebook/records"
	"gaugebook/records/store"
)

// ApplianceLine is an appliance as lists show it, with what is due.
type ApplianceLine struct {
	ID, Name, Kind, Serial, Address string
	Duty                            records.DutyKind
	State                           records.DutyState
	Due                             records.Date
	Retired                         bool
}

// ApplianceLineOf writes a row of the register.
func ApplianceLineOf(r store.RegisterRow, today records.Date) ApplianceLine {
	line := ApplianceLine{ID: r.ApplianceID, Name: r.MakeModel, Kind: records.ApplianceKind.ChoiceLabel(r.Kind),
		Serial: r.Serial, Address: r.Address}
	if line.Name == "" {
		line.Name = records.UpperFirst(line.Kind)
	}
	if d := r.NextDuty; d != nil {
		line.Duty, line.State, line.Due = d.Duty.Kind, d.StateOn(today), d.Duty.Due
	}
	return line
}

// ContactLine is an entry of the log of contacts.
type ContactLine struct {
	How, Note, When, Who string
	Next                 records.Date
}

// contactWays are the ways of trying to reach a customer. No access: somebody
// came and was not let in.
var contactWays = []string{"telephone", "e-mail", "letter", "text message", "visit", "no access"}

// ContactForm asks what came of trying to reach the customer of an appliance.
func ContactForm(applianceID string) Form {
	how := Select("how", "How", contactWays, "Choose").Must()
	return Form{Action: "/appliances/" + applianceID + "/contacts", Button: "Add to the log", Inputs: []*Input{
		how, {Name: "note", Label: "What was said", Type: "textarea", Max: 2000}, DateInput("next", "Try again on"),
	}}
}

// BookingShapes are the shapes that stand for how a booking is, as for duties.
var BookingShapes = map[records.BookingState]records.DutyState{records.BookingOpen: records.Ahead,
	records.BookingDone:      records.Done,
	records.BookingCancelled: records.Lifted}
