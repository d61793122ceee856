package rules

import (
	"strings"

	"gaugebook/records"
)

// answer is an answer that takes rules off a record: which one, the readings
// and answers that it rules out, what supports it, and which answers it
// contradicts. Each is a rule of its own. An answer takes nothing away unless a
// fact supports it or a reason in words does, and never a reading that stands
// on the record: that one is judged by its own rule, and here the two are named.
type answer struct {
	field *records.Field
	title string
	codes []string // that take something away

	rulesOut []*records.Field // beside the fields that are asked for with other answers only
	// supported says which fact supports it, or "". nil: it is what was seen on
	// the day, which what it rules out would contradict.
	supported func(e *entries, code string) string
	reads     []*records.Field // for that
	// reason is where its reason and the document are entered. Without a fact it
	// is asked for; with it a conflict that may be excused is.
	reason    *records.Field
	conflicts []conflict
}

// conflict is another answer that does not go with one.
type conflict struct {
	reads   []*records.Field
	codes   []string // of the answer; nil: all that take something away
	says    func(e *entries) string
	excused bool // by a reason in words
}

// id is that of the answer's rule.
func (a *answer) id() string { return a.field.Key + "_fits" }

// takesAway reports whether a code takes something away.
func (a *answer) takesAway(code string) bool { return oneOf(code, a.codes) }

// switches are the fields with an answer of the table, by key.
var switches = func() map[string]bool {
	out := map[string]bool{}
	for i := range answers {
		out[answers[i].field.Key] = true
	}
	return out
}()

// unasked are the fields that are asked for with other answers only.
func unasked(field *records.Field, code string) []*records.Field {
	var out []*records.Field
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			if f.When != nil && f.When.Key == field.Key && !oneOf(code, f.When.In) && holdsReading(f) {
				out = append(out, f)
			}
		}
	}
	return out
}

// holdsReading reports whether a field's value is a reading or an answer, not
// words about one.
func holdsReading(f *records.Field) bool {
	switch f.Kind {
	case records.NumberKind, records.ChoiceKind, records.FlagKind, records.DateKind, records.RowsKind:
		return true
	}
	return false
}

// ruledOutBy lists, for each answer and code, what cannot stand beside it.
var ruledOutBy = func() map[string][]*records.Field {
	out := map[string][]*records.Field{}
	for i := range answers {
		a := &answers[i]
		for _, code := range codesOf(a.field) {
			out[a.field.Key+"="+code] = unasked(a.field, code)
			if a.takesAway(code) {
				out[a.field.Key+"="+code] = with(out[a.field.Key+"="+code], a.rulesOut...)
			}
		}
	}
	return out
}()

func codesOf(f *records.Field) []string {
	if f.Kind == records.FlagKind {
		return []string{"yes", "no"}
	}
	var out []string
	for _, c := range f.Choices {
		out = append(out, c.Code)
	}
	return out
}

var answerLimit = words(
	"an answer that takes checks away needs a fact or a reason, and no reading or answer against it",
	records.ByPractice, clause(practice, "answers and readings of one record agree"))

// answerRules are the rules of the table.
func answerRules() []Rule {
	var out []Rule
	for i := range answers {
		a := &answers[i]
		reads := with([]*records.Field{a.field}, a.reads...)
		for _, code := range codesOf(a.field) {
			reads = with(reads, ruledOutBy[a.field.Key+"="+code]...)
		}
		for _, c := range a.conflicts {
			reads = with(reads, c.reads...)
		}
		if a.reason != nil {
			reads = with(reads, a.reason)
		}
		out = append(out, Rule{ID: a.id(), Title: a.title, Section: a.field.Section(), Reads: distinct(reads),
			Limits: []records.Limit{answerLimit}, always: true,
			Explains: "Takes checks off the record where it is answered so; then the other answers and the readings " +
				"must bear it out.",
			eval: a.judge})
	}
	return out
}

func distinct(fs []*records.Field) []*records.Field {
	seen := map[string]bool{}
	var out []*records.Field
	for _, f := range fs {
		if !seen[f.Key] {
			seen[f.Key] = true
			out = append(out, f)
		}
	}
	return out
}

func (a *answer) judge(e *entries) records.Finding {
	code := e.Values[a.field.Key].Text()
	if code == "" || e.Values[a.field.Key].Old() {
		return exempt("not answered")
	}
	reading := a.said(e)
	reason := ""
	if a.reason != nil {
		reason = e.Values[a.reason.Key].Text()
	}
	var against []string
	for _, f := range ruledOutBy[a.field.Key+"="+code] {
		if e.Values[f.Key].Present() {
			against = append(against, "“"+nameOf(f)+"” is entered"+e.withValue(f))
		}
	}
	for _, c := range a.conflicts {
		codes := c.codes
		if codes == nil {
			codes = a.codes
		}
		if oneOf(code, codes) && !(c.excused && reason != "") {
			if other := c.says(e); other != "" {
				against = append(against, other)
			}
		}
	}
	if against != nil {
		return odd(reading, "“"+nameOf(a.field)+"” is “"+reading+"”, yet "+strings.Join(against, ", and ")+
			": one of the two is wrong.", answerLimit)
	}
	if !a.takesAway(code) && ruledOutBy[a.field.Key+"="+code] == nil {
		return exempt("this answer takes no check off the record")
	}
	why := "seen on the day, and nothing else on the record contradicts it"
	if a.supported != nil && a.takesAway(code) {
		why = a.supported(e, code)
	}
	switch {
	case reason != "":
		why = reason
	case why == "" && a.reason != nil:
		f := missing("“" + nameOf(a.field) + "” takes checks off the record: give the reason, and the document it is " +
			"from, under “" + nameOf(a.reason) + "”.")
		f.Reading = reading
		return f
	case why == "":
		return odd(reading, "“"+nameOf(a.field)+"” takes checks off the record, and nothing on it bears that out.",
			answerLimit)
	}
	return sound(reading, capital(why)+".", answerLimit)
}

// said is the answer in words.
func (a *answer) said(e *entries) string { return e.entered(a.field) }

// withValue is a value behind its name, where it can be said in a few words.
func (e *entries) withValue(f *records.Field) string {
	if f.Kind == records.RowsKind {
		return ""
	}
	return ", " + e.entered(f)
}

// also makes a method of contradiction what an answer of the table asks.
func also(says func(contradiction) string) func(*entries) string {
	return func(e *entries) string { return says(contradiction{e}) }
}
