package rules

import (
	"gaugebook/records"
)

var (
	safetyLimit = words("safety devices and controls work", records.ByRegulation,
		sure(clause(gasSafety, "regulations 26(9)(d) and 33(1)"), records.OneSource))
	instructionsLimit = words("the manufacturer's instructions left with the user", records.ByRegulation,
		sure(clause(gasSafety, "regulation 29"), records.Unconfirmed))
	shownLimit      = words("the user shown how to use and to turn off the appliance", records.ByPractice, practice)
	competenceLimit = words("competence in date on the day of the work", records.ByRegulation,
		clause(gasSafety, "regulation 3"))
	declaredLimit = words("name and signature of the person who checked", records.ByRegulation,
		clause(gasSafety, "regulation 36(3)(c)"))
)

func handoverRules() []Rule {
	id := records.Handover.ID
	return []Rule{
		{ID: "handover.safety_devices", Title: "Safety devices work", Section: id,
			Reads: []*records.Field{records.SafetyDevices.Field}, Limits: []records.Limit{safetyLimit},
			Explains: "The law asks that all gas safety controls be seen to work before the appliance is left.",
			eval: func(v *visit) records.Finding {
				return v.answer(records.SafetyDevices, copyOf(safetyLimit), records.AtRisk,
					"Safety devices and controls were seen to work.", "A safety device or control does not work.")
			}},
		{ID: "handover.controls_shown", Title: "Controls shown", Section: id, Purposes: commissioningOnly,
			Reads: []*records.Field{records.ControlsShown.Field}, Limits: []records.Limit{shownLimit},
			Explains: "A user who knows the controls uses them as the manufacturer means.",
			eval: func(v *visit) records.Finding {
				return v.answer(records.ControlsShown, copyOf(shownLimit), records.Observation,
					"The user was shown the controls.", "The user was not shown the controls.")
			}},
		{ID: "handover.shut_off_shown", Title: "Gas shut-off shown", Section: id, Purposes: commissioningOnly,
			Reads: []*records.Field{records.ShutOffShown.Field}, Limits: []records.Limit{shownLimit},
			Explains: "Whoever smells gas must know where to turn it off.",
			eval: func(v *visit) records.Finding {
				return v.answer(records.ShutOffShown, copyOf(shownLimit), records.Observation,
					"The user was shown how to turn the gas off.", "The user was not shown how to turn the gas off.")
			}},
		{ID: "handover.instructions_left", Title: "Instructions left", Section: id, Purposes: commissioningOnly,
			Reads: []*records.Field{records.InstructionsLeft.Field}, Limits: []records.Limit{instructionsLimit},
			Explains: "The manufacturer's instructions stay with the appliance, for the user and for the next engineer.",
			eval: func(v *visit) records.Finding {
				return v.answer(records.InstructionsLeft, copyOf(instructionsLimit), records.Observation,
					"The instructions were left with the user.", "The instructions were not left with the user.")
			}},
		{ID: "handover.notifiable", Title: "Building control notice answered", Section: id,
			Purposes: commissioningOnly, Reads: []*records.Field{records.Notifiable.Field},
			Explains: "Installing or replacing an appliance has to be notified in most cases; the answer starts the " +
				"date it is due by.",
			eval: func(v *visit) records.Finding {
				yes, ok := v.Values.Flag(records.Notifiable)
				switch {
				case !ok:
					return missing("Not answered: " + nameOf(records.Notifiable.Field) + ".")
				case yes:
					return inside("yes", "To be notified.")
				}
				return inside("no", "Answered as not to be notified.")
			}},
		{ID: "handover.competence", Title: "Engineer's competence in date", Section: id,
			Limits: []records.Limit{competenceLimit},
			Explains: "Reads the engineer's name, licence and the date their competence ends, as on the day of the " +
				"work.",
			eval: competence},
		{ID: "handover.declared", Title: "Engineer's declaration", Section: id,
			Reads:    []*records.Field{records.EngineerName.Field, records.Declared.Field},
			Limits:   []records.Limit{declaredLimit},
			Explains: "The person who took the readings puts their name to them. A typed name counts.",
			eval:     declared},
		{ID: "handover.received", Title: "Received by", Section: id,
			Reads: []*records.Field{records.ReceivedBy.Field, records.ReceivedSignature.Field,
				records.NobodyPresent.Field},
			Explains: "A name or a signature of who received the record. When nobody was there, say so: the record " +
				"is then left on site.",
			eval: received},
	}
}

func copyOf(l records.Limit) *records.Limit { return &l }

func competence(v *visit) records.Finding {
	e := v.Engineer
	switch {
	case e.Name == "":
		return missing("The engineer is not named on the record.")
	case e.Licence == "":
		return missing("The engineer's licence number is not on the record.")
	case v.WorkDate.IsZero():
		return missing("Not entered: date of the work.")
	case e.CompetenceUntil.IsZero():
		return missing("The date on which " + e.Name + "’s competence ends is not on file.")
	}
	f := inside(e.Name+", licence "+e.Licence, "Competence is in date until "+e.CompetenceUntil.Long()+".")
	if e.CompetenceUntil.Before(v.WorkDate) {
		f = outside(records.Observation, f.Reading, "Competence ended on "+e.CompetenceUntil.Long()+
			", before the day of the work.")
	}
	f.AtLimit = e.CompetenceUntil == v.WorkDate
	f.Limit = copyOf(competenceLimit)
	return f
}

func declared(v *visit) records.Finding {
	if f, ok := v.need(records.EngineerName.Field, records.Declared.Field); !ok {
		return f
	}
	if yes, _ := v.Values.Flag(records.Declared); !yes {
		return missing("The engineer has not declared that the readings are true.")
	}
	f := inside(v.Values.Text(records.EngineerName), "The engineer has put their name to the readings.")
	f.Limit = copyOf(declaredLimit)
	return f
}

func received(v *visit) records.Finding {
	name := v.Values.Text(records.ReceivedBy)
	nobody, _ := v.Values.Flag(records.NobodyPresent)
	signed := name != "" || v.Values.Text(records.ReceivedSignature) != ""
	switch {
	case signed && nobody:
		return doubtful(name, "Entered both as received and as nobody there: take one away.")
	case name != "":
		return inside(name, "The record was received.")
	case signed:
		return inside("signed", "The record was received.")
	case nobody:
		return exempt("nobody was there to receive it; it is left on site")
	}
	return missing("Enter who received it, or that nobody was there.")
}
