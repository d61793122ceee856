package records

import "strings"

// EmergencyCall is the number to call when there is a smell of gas or an alarm
// sounds, and what to do first.
type EmergencyCall struct {
	Number  string   // as printed; "" where only the supplier knows it
	Tel     string   // for a tel: link; "" where Number is
	Instead string   // printed where there is no number
	Do      []string // in this order, each a sentence
	Note    string   // what to know about the number
}

// Numbers of the gas emergency services. Great Britain: Health and Safety
// Executive, Gas safety, emergency contacts; confirmed. Northern Ireland: from
// memory, unconfirmed, so it is never shown without its note. LPG has no
// common number: the supplier's is on the vessel or cylinder store; that a
// person who cannot find it may call the number of Great Britain is from
// memory, unconfirmed.
const (
	emergencyGreatBritain    = "0800 111 999"
	emergencyNorthernIreland = "0800 002 001"
)

// EmergencyNumbers are those that an EmergencyCall may name, for
// typesetting: a number must not break across lines.
var EmergencyNumbers = []string{emergencyGreatBritain, emergencyNorthernIreland}

// Emergency returns the number to call in a nation, for an appliance that burns the
// fuel (FuelNatural, FuelPropane, FuelButane; "" when it is not known).
func Emergency(nation Nation, fuel string) EmergencyCall {
	lpg := fuel == FuelPropane || fuel == FuelButane
	call := EmergencyCall{Do: []string{
		"Turn the gas off at the emergency control valve, usually beside the meter.",
		"Open doors and windows. No flames, no smoking, no sparks: do not touch any switch, plug or bell.",
		"Get everybody out and call from outside. Do not go back in until you are told to.",
		"Headache, sickness, dizziness or sleepiness can be carbon monoxide poisoning, and carbon monoxide has no " +
			"smell: go into the fresh air at once, and call 999 for anyone who is ill.",
	}}
	switch {
	case lpg:
		call.Do[0] = "Turn the gas off at the emergency control valve, and at the vessel or cylinders."
		call.Instead = "Your LPG supplier’s emergency number"
		call.Note = "It is on the storage vessel or the cylinder store."
		if nation != NorthernIreland {
			call.Note += " If you cannot find it, call " + emergencyGreatBritain +
				" and say that it is LPG; check both numbers with your supplier now, before you need them."
		}
	case nation == NorthernIreland:
		call.Number = emergencyNorthernIreland
		call.Note = "Gas emergencies in Northern Ireland, day and night. Compare this number with your gas " +
			"supplier’s now, before you need it."
	default:
		call.Number = emergencyGreatBritain
		call.Note = "Gas emergencies in England, Wales and Scotland, day and night, free of charge."
	}
	if fuel == "" {
		call.Note += " If you burn LPG, call the number on the vessel or cylinder store first."
	}
	call.Tel = strings.ReplaceAll(call.Number, " ", "")
	return call
}

// Call is the number, or what is printed where there is no common one.
func (e EmergencyCall) Call() string {
	if e.Number != "" {
		return e.Number
	}
	return e.Instead
}
