package records_test

import (
	"strings"
	"testing"

	"gaugebook/records"
)

// ready asks for issue with one finding and one answer to it.
func ready(f records.Finding, e records.ConditionEntry, edit func(*records.ConditionReport)) error {
	c := &records.ConditionReport{Entries: []records.ConditionEntry{e}, Told: "the tenant", ToldHow: "in person"}
	if edit != nil {
		edit(c)
	}
	f.Rule, f.Title = "rule.a", "Rule A"
	return records.ReadyToIssue([]records.Finding{f}, c)
}

// A grave finding is not made a lesser one without a reason in words: at least
// two words, at least eight letters between them. Common practice, no published
// source.
func TestGraveFindingsAreAnsweredAsSuch(t *testing.T) {
	const id, ar, ob = records.Immediate, records.AtRisk, records.Observation
	for _, c := range []struct {
		suggested, class records.Class
		reason, says     string
	}{
		{"", ob, "", ""}, {"", ar, "", ""},
		{ob, ob, "", ""}, {ob, ar, "", ""},
		{ar, ar, "", ""},
		{ar, ob, "", "is at risk by its rule: to call it “observation”, give the reason"},
		{ar, ob, "sensor replaced", ""},
		{ar, ob, "sen sor", "give the reason in words"},   // six letters
		{ar, ob, "sens or s", "give the reason in words"}, // seven
		{ar, ob, "sens orsn", ""},                         // eight
		{ar, ob, "sensorreplaced", "give the reason in words"},
		{ar, ob, "12345678 90123456", "give the reason in words"},
		{ar, ob, ". . . . . . . . . .", "give the reason in words"},
		{ar, ob, "éééé éééé", ""},
		{id, ar, "", "is immediately dangerous by its rule: to call it “at risk”"},
		{id, ob, "", "to call it “observation”"},
		{id, ar, "valve already capped", ""},
	} {
		err := ready(records.Finding{Outcome: records.Outside, Suggested: c.suggested}, records.ConditionEntry{
			Rule: "rule.a", Class: c.class, Found: "f", Done: "d", Reason: c.reason}, nil)
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%q as %q for %q: %v, want %q", c.suggested, c.class, c.reason, err, c.says)
		}
	}
}

// An immediate danger is left off, or the refusal names who and when. One cannot
// be answered for by another entry: the engineer's own class counts.
func TestImmediateDangerIsLeftOffOrRefused(t *testing.T) {
	refused := func(by, at string) func(*records.ConditionReport) {
		return func(c *records.ConditionReport) { c.Refused, c.RefusedBy, c.RefusedAt = true, by, at }
	}
	for name, c := range map[string]struct {
		class records.Class
		edit  func(*records.ConditionReport)
		ready bool
	}{
		"left on":            {records.Immediate, nil, false},
		"left off":           {records.Immediate, func(c *records.ConditionReport) { c.LeftOff = true }, true},
		"refused":            {records.Immediate, refused("Imogen Farrow", "14:05"), true},
		"refused by nobody":  {records.Immediate, refused("", "14:05"), false},
		"refused at no time": {records.Immediate, refused("Imogen Farrow", ""), false},
		"at risk, left on":   {records.AtRisk, nil, true},
		"names but no refuse": {records.Immediate, func(c *records.ConditionReport) {
			c.RefusedBy, c.RefusedAt = "I",
				"14:05"
		}, false},
	} {
		err := ready(records.Finding{Outcome: records.Outside}, records.ConditionEntry{Rule: "rule.a", Class: c.class,
			Found: "f", Done: "d"}, c.edit)
		if got := fieldsOf(err); c.ready != (err == nil) || err != nil && (len(got) != 1 ||
			got[0] != "condition.left_off" || !strings.Contains(err.Error(), "name of who refused and the time")) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What was done must be something, however it is spelt.
func TestNothingDoneIsNoAnswer(t *testing.T) {
	for done, something := range map[string]bool{"Nothing.": false, "N/A": false, "no action taken": false,
		"NOT DONE": false, "left as found!": false, "-": false, "...": false, "nil": false, "Ignored": false,
		"left as is": false, "Not applicable": false, "none needed now": true, "nothing loose left": true,
		"turned off": true, "0": true, "capped": true} {
		err := ready(records.Finding{Outcome: records.Doubtful}, records.ConditionEntry{Rule: "rule.a",
			Class: records.Observation, Found: "f", Done: done}, nil)
		if something != (err == nil) || err != nil && !strings.Contains(err.Error(), "“"+done+"” says that nothing was") {
			t.Errorf("%q: %v", done, err)
		}
	}
}

// A close reading is settled by a reason alone, or answered like any other.
func TestCloseReadingIsSettledInWords(t *testing.T) {
	for _, c := range []struct {
		name        string
		there       bool
		class       records.Class
		reason      string
		says, taken string
	}{
		{"unanswered", false, "", "", "too close to call: read it again", ""},
		{"no reason", true, "", "", "taking it to keep the limit must be in words", ""},
		{"one word", true, "", "certainly", "must be in words", ""},
		{"reason", true, "", " read three times ", "must be in words", "read three times"},
		{"classed", true, records.AtRisk, "read three times", "", ""},
	} {
		e := records.ConditionEntry{Rule: "rule.a", Class: c.class, Found: "f", Done: "d", Reason: c.reason}
		if got := e.Word(); got != c.taken {
			t.Errorf("%s: word %q", c.name, got)
		}
		if !c.there {
			e.Rule = "rule.b"
		}
		err := ready(records.Finding{Outcome: records.Close}, e, nil)
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%s: %v", c.name, err)
		}
		// with the word on the finding itself, nothing more is asked
		if f := (records.Finding{Outcome: records.Close, Word: c.taken}); f.MustBeAnswered() != (c.taken == "") {
			t.Errorf("%s: must be answered %v", c.name, f.MustBeAnswered())
		}
	}
}

// One entry may answer several rules.
func TestAnEntryAnswersAlso(t *testing.T) {
	report := &records.ConditionReport{Entries: []records.ConditionEntry{
		{Rule: "rule.a", Also: []string{"rule.b", "rule.c"}, Done: "one"}, {Rule: "rule.c", Done: "two"}}}
	for rule, want := range map[string]string{"rule.a": "one", "rule.b": "one", "rule.c": "one", "rule.d": ""} {
		if e, ok := report.Entry(rule); e.Done != want || ok != (want != "") {
			t.Errorf("%s: %+v", rule, e)
		}
	}
}

// Reported is an immediate danger by the rule or by the engineer's class, but
// for wear. Source: Reporting of Injuries, Diseases and Dangerous Occurrences
// Regulations 2013, regulation 11(2): design, construction, manner of
// installation, modification or servicing.
func TestReportable(t *testing.T) {
	const id, ar = records.Immediate, records.AtRisk
	const out, doubt = records.Outside, records.Doubtful
	for _, c := range []struct {
		outcome          records.Outcome
		suggested, class records.Class
		cause            records.Cause
		want             bool
	}{
		{out, id, "", "", true}, {out, id, id, records.CauseWear, false}, {out, id, ar, records.CauseWear, false},
		{out, id, ar, "", true}, {out, id, ar, records.CauseDesign, true}, {out, id, ar, records.CauseServicing, true},
		{out, ar, ar, "", false}, {out, ar, id, "", true}, {out, "", id, records.CauseModification, true},
		{out, "", id, records.CauseWear, false}, {doubt, id, ar, "", false}, {doubt, id, id, "", true},
		{doubt, id, id, records.CauseInstallation, true}, {records.Inside, id, ar, "", false},
	} {
		fs := []records.Finding{{Rule: "rule.a", Outcome: c.outcome, Suggested: c.suggested}}
		report := &records.ConditionReport{Entries: []records.ConditionEntry{{Rule: "rule.a", Class: c.class,
			Cause: c.cause}}}
		if c.class == "" {
			report = nil
		}
		if got := records.Reportable(fs, report); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// What the condition report may hold beside what checked_test.go asks of it.
func TestConditionEntriesChecked(t *testing.T) {
	many := func(n int) []string { return strings.Split(strings.Repeat("rule.b ", n)+"rule.c", " ") }
	entry := records.ConditionEntry{Rule: "rule.a"}
	for name, c := range map[string]struct {
		edit        func(*records.ConditionReport)
		field, says string
	}{
		"200 entries": {func(c *records.ConditionReport) { c.Entries = repeated(entry, 200) }, "", ""},
		"rule of 60":  {func(c *records.ConditionReport) { c.Entries[0].Rule = long(60) }, "", ""},
		"rule of 61": {func(c *records.ConditionReport) { c.Entries[0].Rule = long(61) },
			"condition.entries[0].rule", "60"},
		"also 200": {func(c *records.ConditionReport) { c.Entries[0].Also = many(199) }, "", ""},
		"also 201": {func(c *records.ConditionReport) { c.Entries[0].Also = many(200) },
			"condition.entries[0].also", "201 rules"},
		"also blank": {func(c *records.ConditionReport) { c.Entries[0].Also = []string{"rule.b", " "} },
			"condition.entries[0].also[1]", "blank"},
		"every cause": {func(c *records.ConditionReport) { c.Entries = caused(records.Causes) }, "", ""},
		"a cause not known": {func(c *records.ConditionReport) { c.Entries = caused([]records.Cause{"age"}) },
			"condition.entries[0].cause", "one of design"},
		"reason of 2000": {func(c *records.ConditionReport) { c.Entries[0].Reason = long(2000) }, "", ""},
		"reason of 2001": {func(c *records.ConditionReport) { c.Entries[0].Reason = long(2001) },
			"condition.entries[0].reason", "2000"},
		"refused by 80":    {func(c *records.ConditionReport) { c.RefusedBy = long(80) }, "", ""},
		"refused by 81":    {func(c *records.ConditionReport) { c.RefusedBy = long(81) }, "condition.refused_by", "80"},
		"refused at 23:59": {func(c *records.ConditionReport) { c.RefusedAt = "23:59" }, "", ""},
		"refused at 24:00": {func(c *records.ConditionReport) { c.RefusedAt = "24:00" }, "condition.refused_at", "HH:MM"},
		"told how, 120":    {func(c *records.ConditionReport) { c.ToldHow = long(120) }, "", ""},
		"told how, 121":    {func(c *records.ConditionReport) { c.ToldHow = long(121) }, "condition.told_how", "120"},
	} {
		r := records.ConditionReport{Entries: []records.ConditionEntry{entry}}
		c.edit(&r)
		_, err := r.Checked()
		mustBeAbout(t, name, err, c.field, c.says)
	}
	tidy, err := records.ConditionReport{Entries: []records.ConditionEntry{{Rule: " rule.a ", Also: []string{" rule.b "},
		Done: " off\r\nlabelled "}}, Told: " the tenant "}.Checked()
	if err != nil || tidy.Told != "the tenant" || tidy.Entries[0].Rule != "rule.a" ||
		tidy.Entries[0].Also[0] != "rule.b" ||
		tidy.Entries[0].Done != "off\nlabelled" {
		t.Errorf("not tidied up: %+v, %v", tidy, err)
	}
}

func repeated[T any](one T, n int) []T {
	out := make([]T, n)
	for i := range out {
		out[i] = one
	}
	return out
}

func caused(causes []records.Cause) []records.ConditionEntry {
	out := make([]records.ConditionEntry, len(causes))
	for i, c := range causes {
		out[i] = records.ConditionEntry{Rule: "rule.a", Cause: c}
	}
	return out
}
