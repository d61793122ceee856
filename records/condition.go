package records

import (
	"fmt"
	"strings"
)

// ConditionEntry answers one finding that is not settled.
type ConditionEntry struct {
	Rule  string `json:"rule"` // of the finding it answers
	Class Class  `json:"class"`
	Found string `json:"found"`
	Done  string `json:"done"`
}

// ConditionReport says what was found, how serious it is, what was done and
// who was told. A record that is not clear can be issued only with one.
type ConditionReport struct {
	Entries []ConditionEntry `json:"entries"`
	Told    string           `json:"told"`     // who was told
	ToldHow string           `json:"told_how"` // in person with notice left, by telephone …
	LeftOff bool             `json:"left_off"` // appliance turned off or disconnected and labelled
	Refused bool             `json:"refused"`  // permission to make safe was refused
}

// Entry returns the entry for a rule.
func (c *ConditionReport) Entry(rule string) (ConditionEntry, bool) {
	if c != nil {
		for _, e := range c.Entries {
			if e.Rule == rule {
				return e, true
			}
		}
	}
	return ConditionEntry{}, false
}

// ReadyToIssue returns nil when every finding is settled or answered by a
// complete entry of the condition report; otherwise a NotReady error for each
// that is not.
func ReadyToIssue(fs []Finding, c *ConditionReport) error {
	if len(fs) == 0 {
		return Fail(NotReady, "nothing has been judged yet")
	}
	var errs Errors
	open := Unsettled(fs)
	for _, f := range open {
		e, ok := c.Entry(f.Rule)
		switch {
		case !ok:
			errs = append(errs, &Error{Kind: NotReady, Field: f.Rule, Label: f.Title,
				Msg: "is " + string(f.Outcome) + ": put it right, or answer it in the condition report"})
		case strings.TrimSpace(e.Found) == "" || strings.TrimSpace(e.Done) == "" || !validClass(e.Class):
			errs = append(errs, &Error{Kind: NotReady, Field: f.Rule, Label: f.Title,
				Msg: "the condition report must say how serious it is, what was found and what was done"})
		}
	}
	if len(open) > 0 && len(errs) == 0 && (strings.TrimSpace(c.Told) == "" || strings.TrimSpace(c.ToldHow) == "") {
		errs = append(errs, &Error{Kind: NotReady, Field: "condition.told", Label: "Who was told, and how",
			Msg: "the condition report must say"})
	}
	if len(errs) > 0 {
		return errs
	}
	return nil
}

func validClass(c Class) bool {
	for _, k := range Classes {
		if k == c {
			return true
		}
	}
	return false
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
		at := fmt.Sprintf("condition.entries[%d].", i)
		e.Rule = k.line(at+"rule", "Rule", e.Rule, 1, maxRule)
		e.Found = k.note(at+"found", "What was found", e.Found, maxNote)
		e.Done = k.note(at+"done", "What was done", e.Done, maxNote)
		if e.Class != "" {
			oneOf(&k, at+"class", "How serious", e.Class, Classes)
		}
		entries[i] = e
	}
	c.Entries = entries
	c.Told = k.line("condition.told", "Who was told", c.Told, 0, maxTold)
	c.ToldHow = k.line("condition.told_how", "How", c.ToldHow, 0, maxTold)
	return &c, k.err()
}

func (c *check) note(field, label, s string, most int) string {
	v, err := (&Field{Key: field, Label: label, Kind: NotesKind, MaxLen: most}).Parse(s)
	if err != nil {
		c.errs = append(c.errs, err.(*Error))
		return s
	}
	return v.Text()
}
