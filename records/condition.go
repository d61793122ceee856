package records

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// ConditionEntry answers one finding that is not settled, or several at once.
type ConditionEntry struct {
	Rule  string   `json:"rule"` // of the finding it answers
	Also  []string `json:"also,omitempty"`
	Class Class    `json:"class"`
	Found string   `json:"found"`
	Done  string   `json:"done"`
	// Reason is why a grave finding is taken to be less grave than the rule
	// suggests or, in an entry without a class, why a close reading is taken to
	// keep its limit.
	Reason string `json:"reason,omitempty"`
	Cause  Cause  `json:"cause,omitempty"`
}

// Cause is what a dangerous finding comes from, which decides whether the
// enforcing authority is told of it.
type Cause string

// The causes: those that regulation 11(2) of the Reporting of Injuries,
// Diseases and Dangerous Occurrences Regulations 2013 names, and wear, which
// it does not.
const (
	CauseDesign       Cause = "design or manufacture"
	CauseInstallation Cause = "installation"
	CauseModification Cause = "modification"
	CauseServicing    Cause = "servicing"
	CauseWear         Cause = "wear or want of servicing"
)

// Causes lists them.
var Causes = []Cause{CauseDesign, CauseInstallation, CauseModification, CauseServicing, CauseWear}

// ConditionReport says what was found, how serious it is, what was done and
// who was told. A record with a finding that must be answered can be issued
// only with one.
type ConditionReport struct {
	Entries []ConditionEntry `json:"entries"`
	Told    string           `json:"told"`     // who was told
	ToldHow string           `json:"told_how"` // in person with notice left, by telephone …
	LeftOff bool             `json:"left_off"` // appliance turned off or disconnected and labelled
	Refused bool             `json:"refused"`  // permission to make safe was refused

	RefusedBy string `json:"refused_by,omitempty"` // name
	RefusedAt string `json:"refused_at,omitempty"` // time of day, HH:MM
}

// Entry returns the entry that answers a rule.
func (c *ConditionReport) Entry(rule string) (ConditionEntry, bool) {
	if c != nil {
		for _, e := range c.Entries {
			if e.Rule == rule || slices.Contains(e.Also, rule) {
				return e, true
			}
		}
	}
	return ConditionEntry{}, false
}

// Word returns the reason for which the engineer takes a close reading to keep
// its limit: that of an entry without a class.
func (e ConditionEntry) Word() string {
	if e.Class == "" && inWords(e.Reason) {
		return strings.TrimSpace(e.Reason)
	}
	return ""
}

// ReadyToIssue returns nil when every finding is settled or answered by a
// complete entry of the condition report; otherwise a NotReady error for each
// that is not. A grave finding cannot be answered as a lesser one without a
// reason in words, and an immediate danger not without the appliance left off
// or the refusal on record.
func ReadyToIssue(fs []Finding, c *ConditionReport) error {
	if len(fs) == 0 {
		return Fail(NotReady, "nothing has been judged yet")
	}
	var errs Errors
	open, immediate := false, false
	for _, f := range fs {
		if !f.MustBeAnswered() {
			continue
		}
		open = true
		e, ok := c.Entry(f.Rule)
		immediate = immediate || e.Class == Immediate
		if why := lacks(f, e, ok); why != "" {
			errs = append(errs, &Error{Kind: NotReady, Field: f.Rule, Label: f.Title, Msg: why})
		}
	}
	if open && len(errs) == 0 && (strings.TrimSpace(c.Told) == "" || strings.TrimSpace(c.ToldHow) == "") {
		errs = append(errs, &Error{Kind: NotReady, Field: "condition.told", Label: "Who was told, and how",
			Msg: "the condition report must say"})
	}
	if immediate && !c.LeftOff && !(c.Refused && c.RefusedBy != "" && c.RefusedAt != "") {
		errs = append(errs, &Error{Kind: NotReady, Field: "condition.left_off", Label: "Immediately dangerous",
			Msg: "the appliance must be left off, or the refusal recorded with the name of who refused and the time"})
	}
	if len(errs) > 0 {
		return errs
	}
	return nil
}

// lacks returns what an answer to a finding lacks, or "".
func lacks(f Finding, e ConditionEntry, there bool) string {
	switch {
	case !there && f.Outcome == Close:
		return "is too close to call: read it again as its working says, or give your reason in the condition report"
	case !there:
		return "is " + string(f.Outcome) + ": put it right, or answer it in the condition report"
	case f.Outcome == Close && e.Class == "":
		return "is too close to call: the reason for taking it to keep the limit must be in words"
	case strings.TrimSpace(e.Found) == "" || strings.TrimSpace(e.Done) == "" || !slices.Contains(Classes, e.Class):
		return "the condition report must say how serious it is, what was found and what was done"
	case saysNothing(e.Done):
		return "the condition report must say what was done; “" + clip(e.Done) + "” says that nothing was"
	case lesser(e.Class, f.Suggested) && !inWords(e.Reason):
		return "is " + string(f.Suggested) + " by its rule: to call it “" + string(e.Class) +
			"”, give the reason in words"
	}
	return ""
}

// lesser reports whether a class is less grave than the one suggested, of a
// finding that is grave.
func lesser(class, suggested Class) bool {
	return (suggested == Immediate || suggested == AtRisk) &&
		slices.Index(Classes, class) > slices.Index(Classes, suggested)
}

// inWords reports whether a reason is one: two words at least, and more than
// a sound.
func inWords(s string) bool {
	letters := 0
	for _, r := range s {
		if unicode.IsLetter(r) {
			letters++
		}
	}
	return letters >= 8 && len(strings.Fields(s)) >= 2
}

// nothings are answers that say that nothing was done.
var nothings = []string{"", "nothing", "none", "no", "nil", "na", "nothingdone", "notdone", "noaction",
	"noactiontaken", "nothingtaken", "notapplicable", "nothingneeded", "leftasfound", "leftasis", "ignored"}

func saysNothing(done string) bool {
	plain := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, done)
	return slices.Contains(nothings, plain)
}

// Reportable reports whether a record's findings have to be considered for the
// report of a dangerous gas fitting: an immediate danger by its rule, or by the
// engineer's own class, unless its cause is one that the duty does not cover.
// What class somebody chose takes nothing away.
func Reportable(fs []Finding, c *ConditionReport) bool {
	for _, f := range fs {
		e, _ := c.Entry(f.Rule)
		if f.Outcome == Outside && f.Suggested == Immediate && e.Cause != CauseWear {
			return true
		}
	}
	return c != nil && slices.ContainsFunc(c.Entries, func(e ConditionEntry) bool {
		return e.Class == Immediate && e.Cause != CauseWear
	})
}

// Checked returns the report tidied up, or every error in it.
func (c ConditionReport) Checked() (*ConditionReport, error) {
	var k check
	if len(c.Entries) > maxEntries {
		k.add("condition.entries", "Condition report", fmt.Sprintf("%d entries", len(c.Entries)),
			fmt.Sprintf("at most %d entries", maxEntries))
		return nil, k.err()
	}
	entries := make([]ConditionEntry, len(c.Entries))
	for i, e := range c.Entries {
		entries[i] = k.conditionEntry(fmt.Sprintf("condition.entries[%d].", i), e)
	}
	c.Entries = entries
	c.Told = k.line("condition.told", "Who was told", c.Told, 0, maxTold)
	c.ToldHow = k.line("condition.told_how", "How", c.ToldHow, 0, maxTold)
	c.RefusedBy = k.line("condition.refused_by", "Who refused", c.RefusedBy, 0, maxName)
	c.RefusedAt = k.line("condition.refused_at", "When it was refused", c.RefusedAt, 0, len("14:05"))
	if c.RefusedAt != "" && !validClock(c.RefusedAt) {
		k.add("condition.refused_at", "When it was refused", c.RefusedAt, "a time of day as HH:MM, for example 14:05")
	}
	return &c, k.err()
}

func (c *check) conditionEntry(at string, e ConditionEntry) ConditionEntry {
	e.Rule = c.line(at+"rule", "Rule", e.Rule, 1, maxRule)
	if len(e.Also) > maxEntries {
		c.add(at+"also", "Rules answered together", fmt.Sprintf("%d rules", len(e.Also)),
			fmt.Sprintf("at most %d rules", maxEntries))
		return e
	}
	also := slices.Clone(e.Also)
	for i := range also {
		also[i] = c.line(fmt.Sprintf("%salso[%d]", at, i), "Rule answered together", also[i], 1, maxRule)
	}
	e.Also = also
	e.Found = c.note(at+"found", "What was found", e.Found, maxNote)
	e.Done = c.note(at+"done", "What was done", e.Done, maxNote)
	e.Reason = c.note(at+"reason", "Reason", e.Reason, maxNote)
	if e.Class != "" {
		oneOf(c, at+"class", "How serious", e.Class, Classes)
	}
	if e.Cause != "" {
		oneOf(c, at+"cause", "What it comes from", e.Cause, Causes)
	}
	return e
}
