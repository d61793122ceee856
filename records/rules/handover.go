package rules

import (
	"strings"

	"gaugebook/records"
)

var (
	safetyLimit = words("safety devices and controls work", records.ByRegulation,
		sure(clause(gasSafety, "regulations 26(9)(d) and 33(1)"), records.OneSource))
	instructionsLimit = words("the manufacturer's instructions left with the user", records.ByRegulation,
		sure(clause(gasSafety, "regulation 29"), records.Unconfirmed))
	shownLimit      = words("the user shown how to use the appliance and turn it off", records.ByPractice, practice)
	competenceLimit = words("competence in date on the day of the work", records.ByRegulation,
		clause(gasSafety, "regulation 3"))
	declaredLimit = words("name and signature of the person who checked", records.ByRegulation,
		clause(gasSafety, "regulation 36(3)(c)"))
)

var handoverTopic = topic{
	rules: handoverRules(),
	sample: map[*records.Field]string{
		records.SafetyDevices.Field: "yes", records.ControlsShown.Field: "yes",
		records.ShutOffShown.Field: "yes", records.InstructionsLeft.Field: "yes",
		records.Notifiable.Field: "yes", records.ServiceMonths.Field: "12",
		records.ForUser.Field: "Radiators bled and balanced. Top up to 1.2 bar when cold if the display asks " +
			"for it.",
		records.EngineerName.Field: "Tamsin Oakhurst", records.Declared.Field: "yes",
		records.ReceivedBy.Field: "Imogen Farrow",
	},
}

func handoverRules() []Rule {
	id := records.Handover.ID
	return []Rule{
		{ID: "handover.safety_devices", Title: "Safety devices work", Section: id,
			Reads: []*records.Field{records.SafetyDevices.Field}, Limits: []records.Limit{safetyLimit},
			Explains: "The law requires all gas safety controls to be seen working before the appliance is left.",
			eval: onAnswer(records.SafetyDevices, safetyLimit, records.AtRisk,
				"Safety devices and controls were seen working.", "A safety device or control does not work.")},
		{ID: "handover.controls_shown", Title: "Controls shown", Section: id, Purposes: commissioningOnly,
			Reads: []*records.Field{records.ControlsShown.Field}, Limits: []records.Limit{shownLimit},
			Explains: "A user who has been shown the controls uses them as the manufacturer intends.",
			eval: onAnswer(records.ControlsShown, shownLimit, records.Observation,
				"The user was shown the controls.", "The user was not shown the controls.")},
		{ID: "handover.shut_off_shown", Title: "Gas shut-off shown", Section: id, Purposes: commissioningOnly,
			Reads: []*records.Field{records.ShutOffShown.Field}, Limits: []records.Limit{shownLimit},
			Explains: "Anyone who smells gas needs to know where to turn it off.",
			eval: onAnswer(records.ShutOffShown, shownLimit, records.Observation,
				"The user was shown how to turn the gas off.", "The user was not shown how to turn the gas off.")},
		{ID: "handover.instructions_left", Title: "Instructions left", Section: id, Purposes: commissioningOnly,
			Reads: []*records.Field{records.InstructionsLeft.Field}, Limits: []records.Limit{instructionsLimit},
			Explains: "The manufacturer's instructions stay with the appliance, for the user and the next engineer.",
			eval: onAnswer(records.InstructionsLeft, instructionsLimit, records.Observation,
				"The instructions were left with the user.", "The instructions were not left with the user.")},
		{ID: "handover.notifiable", Title: "Building control notice answered", Section: id,
			Purposes: commissioningOnly, Reads: []*records.Field{records.Notifiable.Field},
			Explains: "Installing or replacing an appliance must be notified in most cases; the answer sets the " +
				"date it is due by.",
			eval: func(e *entries) records.Finding {
				yes, ok := e.Values.Flag(records.Notifiable)
				switch {
				case !ok:
					return missing("Not answered: " + nameOf(records.Notifiable.Field) + ".")
				case yes:
					return inside("yes", "Notifiable.")
				}
				return inside("no", "Answered as not notifiable.")
			}},
		{ID: "handover.interval", Title: "Next service", Section: id,
			Reads: []*records.Field{records.ServiceMonths.Field, records.StatedDocument.Field,
				records.StatedPage.Field},
			Limits: []records.Limit{intervalLimit},
			Explains: "Yearly, unless the manufacturer states another interval: then its instructions and page are " +
				"named.",
			eval: on(handover.interval)},
		{ID: "handover.competence", Title: "Engineer's competence in date", Section: id,
			Limits: []records.Limit{competenceLimit},
			Explains: "The engineer's name, licence and the date their competence expires, checked for the day of " +
				"the work.",
			eval: on(handover.competence)},
		{ID: "handover.declared", Title: "Engineer's declaration", Section: id,
			Reads:    []*records.Field{records.EngineerName.Field, records.Declared.Field},
			Limits:   []records.Limit{declaredLimit},
			Explains: "The person who took the readings signs for them. A typed name counts.",
			eval:     on(handover.declared)},
		{ID: "handover.received", Title: "Received by", Section: id,
			Reads: []*records.Field{records.ReceivedBy.Field, records.ReceivedSignature.Field,
				records.NobodyPresent.Field},
			Explains: "The name or signature of the person who received the record. If nobody was present, say so: " +
				"the record is then left on site.",
			eval: on(handover.received)},
	}
}

var intervalLimit = most(12, "months", records.ByPractice, clause(practice, "yearly service"))

// mostMonths is the longest interval that a manufacturer is believed to state.
const mostMonths = 24.0

func (e handover) interval() records.Finding {
	months, ok := e.Values.Float(records.ServiceMonths)
	if !ok {
		return exempt("no interval is entered; twelve months are taken")
	}
	reading := e.entered(records.ServiceMonths.Field)
	named := e.Values.Text(records.StatedDocument) != "" && e.Values.Text(records.StatedPage) != ""
	switch {
	case !above(months, *intervalLimit.High):
		return sound(reading, "The next service is due within a year.", intervalLimit)
	case above(months, mostMonths):
		return odd(reading, "No manufacturer is known to allow so long without a service.", intervalLimit)
	case !named:
		return odd(reading,
			"Longer than a year only where the manufacturer states it: name the instructions and the page.",
			intervalLimit)
	}
	f := inside(reading, "The manufacturer's instructions allow "+reading+" where 12 months are general.")
	f.Limit, f.Outranked, f.Looser = copyOf(most(months, "months", records.ByManufacturer, e.stated())),
		copyOf(intervalLimit), true
	return f
}

func copyOf(l records.Limit) *records.Limit { return &l }

func (e handover) competence() records.Finding {
	engineer := e.Engineer
	switch {
	case engineer.Name == "":
		return missing("The engineer is not named on the record.")
	case engineer.Licence == "":
		return missing("The engineer's licence number is not on the record.")
	case e.WorkDate.IsZero():
		return missing("Not entered: date of the work.")
	case engineer.CompetenceUntil.IsZero():
		return missing("The date on which " + engineer.Name + "’s competence expires is not on file.")
	}
	f := inside(engineer.Name+", licence "+engineer.Licence, "Competence is valid until "+
		engineer.CompetenceUntil.Long()+".")
	if engineer.CompetenceUntil.Before(e.WorkDate) {
		f = outside(records.Observation, f.Reading, "Competence expired on "+engineer.CompetenceUntil.Long()+
			", before the day of the work.")
	}
	f.AtLimit = engineer.CompetenceUntil == e.WorkDate
	f.Limit = copyOf(competenceLimit)
	return f
}

func (e handover) declared() records.Finding {
	if f, ok := e.need(records.EngineerName.Field, records.Declared.Field); !ok {
		return f
	}
	if yes, _ := e.Values.Flag(records.Declared); !yes {
		return missing("The engineer has not declared that the readings are true.")
	}
	if by := e.Values.Text(records.EngineerName); e.Engineer.Name != "" && !samePerson(by, e.Engineer.Name) {
		return odd(by, "“"+by+"” declares, yet the competence that was judged is that of "+e.Engineer.Name+
			": only the person who took the readings signs for them.", declaredLimit)
	}
	f := inside(e.Values.Text(records.EngineerName), "The engineer has signed for the readings.")
	f.Limit = copyOf(declaredLimit)
	return f
}

// samePerson reports whether two names can be of one person: the same words, or
// the same last one with first names that begin alike where one is an initial.
func samePerson(a, b string) bool {
	as, bs := nameWords(a), nameWords(b)
	if len(as) == 0 || len(bs) == 0 {
		return false
	}
	if strings.Join(as, " ") == strings.Join(bs, " ") {
		return true
	}
	lastA, lastB := as[len(as)-1], bs[len(bs)-1]
	if lastA != lastB || len(as) == 1 || len(bs) == 1 {
		return false
	}
	firstA, firstB := []rune(as[0]), []rune(bs[0])
	initial := len(firstA) == 1 || len(firstB) == 1
	return as[0] == bs[0] || initial && firstA[0] == firstB[0]
}

// nameWords splits a name, without regard to capitals and stops.
func nameWords(name string) []string {
	return strings.Fields(strings.NewReplacer(".", " ", ",", " ", "'", "", "’", "").Replace(strings.ToLower(name)))
}

func (e handover) received() records.Finding {
	name := e.Values.Text(records.ReceivedBy)
	nobody, _ := e.Values.Flag(records.NobodyPresent)
	signed := name != "" || e.Values.Text(records.ReceivedSignature) != ""
	switch {
	case signed && nobody:
		return doubtful(name, "Entered both as received and as nobody present: remove one.")
	case name != "":
		return inside(name, "The record was received.")
	case signed:
		return inside("signed", "The record was received.")
	case nobody:
		return exempt("nobody was present to receive it; it is left on site")
	}
	return missing("Enter who received it, or that nobody was present.")
}
