package pdf

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gaugebook/records"
)

// What a record says to its customer on page one, before any of it is drawn.
// The words are for somebody who knows nothing of gas.

// verdict is what page one says first. It speaks of readings and of what was
// done, and never says that an appliance is safe.
type verdict struct {
	kind  verdictKind
	title string
	text  string
}

// verdictKind decides the form of the band, which tells the three apart in
// grey and at arm's length.
type verdictKind uint8

const (
	allInside verdictKind = iota
	attention
	doNotUse
)

// alert is one finding that is not settled.
type alert struct {
	finding records.Finding
	head    string // what was looked at, what was found, and the limit
	wrong   string
	done    string
	todo    string // what the customer must do
}

// mostAlerts is how many findings page one spells out.
const mostAlerts = 3

// nouns are what a customer calls an appliance.
var nouns = map[string]string{
	records.KindCombination: "boiler", records.KindSystem: "boiler", records.KindRegular: "boiler",
	records.KindWaterHeater: "water heater", records.KindWarmAir: "warm-air unit", records.KindFire: "gas fire",
	records.KindRange: "range cooker", records.KindCooker: "cooker", records.KindSpaceHeater: "heater",
}

func noun(vs records.Values) string {
	return cmp.Or(nouns[vs.Choice(records.ApplianceKind)], "gas appliance")
}

func dangerous(c records.Class) bool { return c == records.Immediate || c == records.AtRisk }

// gravestOpen is the gravest class that the engineer has given to anything
// that is not settled; empty if none is given.
func gravestOpen(doc records.Document) records.Class {
	var classes []records.Class
	for _, f := range records.Unsettled(doc.Findings) {
		if e, ok := doc.Record.Condition.Entry(f.Rule); ok {
			classes = append(classes, e.Class)
		}
	}
	for _, c := range records.Classes {
		if slices.Contains(classes, c) {
			return c
		}
	}
	return ""
}

// verdictOf sums a record up.
func verdictOf(doc records.Document) verdict {
	r, day := doc.Record, long(doc.Record.WorkDate)
	off := r.Condition != nil && r.Condition.LeftOff
	head, rest := summary(doc.Findings, r.WorkDate)
	open := len(records.Unsettled(doc.Findings)) > 0
	if off || open && dangerous(gravestOpen(doc)) {
		text := "It was found " + string(cmp.Or(gravestOpen(doc), "in need of attention")) + " on " + day + ". "
		if off {
			text = "It was left turned off or disconnected, with a label, on " + day + ". "
		}
		return verdict{doNotUse, "Do not use this " + noun(r.Values),
			text + "Only a registered, competent person may put it right and turn it on again. " + head}
	}
	if open || len(doc.Findings) == 0 {
		title := "Something needs attention"
		if records.StandingOf(doc.Findings) == records.Open {
			title = "Not everything could be judged"
		}
		return verdict{attention, title, head + " " + rest}
	}
	return verdict{allInside, head, rest}
}

// summary counts the findings in plain words.
func summary(fs []records.Finding, on records.Date) (head, rest string) {
	n := tally(fs)
	apply := len(fs) - n[records.Exempt]
	rest = "On " + long(on) + ", the day of the visit. It says nothing of what was not measured, or of any other day."
	if k := looser(fs); k > 0 {
		rest += fmt.Sprintf(" %s looser than the general one, and named where it is used.",
			map[bool]string{true: "1 limit is the manufacturer's, which is",
				false: fmt.Sprintf("%d limits are the manufacturer's, each of them", k)}[k == 1])
	}
	switch {
	case apply == 0:
		return "No reading has been held against a limit.", "Nothing can be said from this record about the appliance."
	case n[records.Inside] == apply && apply == 1:
		return "The one check was inside its limit.", rest
	case n[records.Inside] == apply:
		return fmt.Sprintf("All %d checks were inside their limits.", apply), rest
	}
	var parts []string
	for _, o := range []struct {
		outcome records.Outcome
		one     string
		many    string
	}{
		{records.Outside, "1 was outside its limit", "%d were outside their limits"},
		{records.Missing, "1 could not be judged because something is missing",
			"%d could not be judged because something is missing"},
		{records.Doubtful, "1 is doubtful", "%d are doubtful"},
		{records.Close, "1 is too close to its limit to decide", "%d are too close to their limits to decide"},
		{records.Attention, "1 needs attention", "%d need attention"},
	} {
		switch k := n[o.outcome]; k {
		case 0:
		case 1:
			parts = append(parts, o.one)
		default:
			parts = append(parts, fmt.Sprintf(o.many, k))
		}
	}
	return fmt.Sprintf("Of %s, %s; %d inside.", count(apply, "check"), list(parts, ", ", " and "), n[records.Inside]),
		rest
}

// looser counts limits of the manufacturer that are looser than the general
// ones.
func looser(fs []records.Finding) int {
	n := 0
	for _, f := range fs {
		if f.Looser {
			n++
		}
	}
	return n
}

// tally counts findings by outcome.
func tally(fs []records.Finding) map[records.Outcome]int {
	n := map[records.Outcome]int{}
	for _, f := range fs {
		n[f.Outcome]++
	}
	return n
}

// alertsOf returns what is not settled, gravest first.
func alertsOf(doc records.Document) []alert {
	var out []alert
	for _, f := range records.Unsettled(doc.Findings) {
		e, answered := doc.Record.Condition.Entry(f.Rule)
		a := alert{finding: f, head: headOf(f), wrong: e.Found, done: e.Done, todo: whatToDoAbout(doc, e.Class)}
		if a.wrong == "" {
			a.wrong = cmp.Or(f.Reason, "It is "+outcomeWord(f)+".")
		}
		switch {
		case !answered && f.MustBeAnswered():
			a.done, a.todo = "", "No answer to this is on record yet."
		case !answered: // it says itself what it needs
			a.todo = ""
		case f.Word != "":
			a.wrong, a.done, a.todo = joined(stop(f.Reason), "Taken to keep its limit by the engineer's word:", f.Word),
				"", ""
		case e.Reason != "":
			a.wrong = joined(stop(a.wrong), "Why not more serious:", e.Reason)
		}
		out = append(out, a)
	}
	rank := func(a alert) int {
		e, _ := doc.Record.Condition.Entry(a.finding.Rule)
		class := slices.Index(records.Classes, e.Class)
		if class < 0 {
			class = len(records.Classes)
		}
		return len(records.Outcomes)*class + slices.Index(records.Outcomes, a.finding.Outcome)
	}
	slices.SortStableFunc(out, func(a, b alert) int { return rank(a) - rank(b) })
	return out
}

// headOf names a finding in one line.
func headOf(f records.Finding) string {
	out := f.Title
	if f.Reading != "" {
		out += ": " + f.Reading
	}
	out += ", " + outcomeWord(f) + "."
	if f.Limit != nil {
		out += " Limit: " + stop(f.Limit.Text)
	}
	return out
}

// whatToDoAbout says what a class asks of the customer. Common practice, no
// published source.
func whatToDoAbout(doc records.Document, c records.Class) string {
	what := "the " + noun(doc.Record.Values)
	switch c {
	case records.Immediate:
		return "Do not use " + what + ", and do not turn it on again, until it has been put right: it is " +
			"immediately dangerous."
	case records.AtRisk:
		return "Do not use " + what + " until it has been put right: it is at risk, which means that it may become " +
			"a danger."
	case records.Observation:
		return "Have it looked into by a registered, competent person. This is an observation."
	}
	return "Ask the firm what is to be done."
}

// plainReading is one of the readings that page one shows.
type plainReading struct {
	name, note string
	finding    records.Finding
}

// plainReadings are the headline readings with the rules that judge them: the
// first of the rules that applies to the record is shown.
var plainReadings = []struct {
	name, note string
	rules      []string
}{
	{"Gas leak test", "pressure lost in the test", []string{"tightness.drop"}},
	{"Gas pressure", "at the appliance, at full rate", []string{"pressure.appliance", "pressure.meter"}},
	{"Heat input", "against the data plate", []string{"heat.input"}},
	{"How cleanly it burns", "CO to CO₂, at full rate", []string{"combustion.max_ratio", "combustion.max_co"}},
	{"Carbon monoxide in the room", "", []string{"combustion.ambient_co"}},
	{"Flue", "", []string{"flue.spillage", "flue.joints", "flue.flow"}},
	{"Carbon monoxide alarm", "", []string{"ventilation.alarm_tested", "ventilation.alarm"}},
}

// plainReadingsOf picks the headline readings of a record.
func plainReadingsOf(fs []records.Finding) []plainReading {
	byRule := map[string]records.Finding{}
	for _, f := range fs {
		byRule[f.Rule] = f
	}
	var out []plainReading
	for _, k := range plainReadings {
		var found records.Finding
		for _, rule := range k.rules {
			f, ok := byRule[rule]
			if ok && (found.Rule == "" || found.Outcome == records.Exempt && f.Outcome != records.Exempt) {
				found = f
			}
		}
		if found.Rule != "" {
			out = append(out, plainReading{k.name, k.note, found})
		}
	}
	return out
}

// nextDuties are what falls due, soonest first, with who has to act.
func nextDuties(doc records.Document) []records.Duty {
	out := slices.Clone(doc.Duties)
	slices.SortStableFunc(out, func(a, b records.Duty) int { return a.Due.Compare(b.Due) })
	return out
}

// whoActs says who has to see to a duty. Common practice, no published source,
// but for what the duty's own source says.
func whoActs(k records.DutyKind) string {
	switch k {
	case records.AnnualService:
		return "the owner has it done"
	case records.LandlordCheckDue, records.TenantCopy:
		return "the landlord sees to it"
	case records.BuildingNotice, records.IncidentReport:
		return "the firm sees to it"
	case records.InhibitorRecheck:
		return "at the next service"
	}
	return ""
}

// handedOver names what the user was shown and left, as far as the record says.
func handedOver(vs records.Values) string {
	var out []string
	for _, e := range []struct {
		field records.FlagField
		words string
	}{
		{records.ControlsShown, "how the controls work"}, {records.ShutOffShown, "how to turn the gas off"},
	} {
		if yes, _ := vs.Flag(e.field); yes {
			out = append(out, e.words)
		}
	}
	text := ""
	if len(out) > 0 {
		text = "You were shown " + list(out, ", ", " and ") + "."
	}
	if yes, _ := vs.Flag(records.InstructionsLeft); yes {
		text = joined(text, "The manufacturer's instructions were left with you.")
	}
	return strings.TrimSpace(text)
}
