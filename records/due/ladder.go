package due

import (
	"fmt"
	"slices"

	"gaugebook/records"
)

// Step is one reminder of a duty, in whole weeks from its due date: -8 is
// eight weeks before, 1 is one week late.
type Step int

// On returns the day on which the step is reached.
func (s Step) On(due records.Date) records.Date { return due.AddDays(7 * int(s)) }

// String returns the step in words.
func (s Step) String() string {
	switch {
	case s < 0:
		return count(-int(s), "week") + " before"
	case s > 0:
		return count(int(s), "week") + " late"
	}
	return "on the day"
}

// Ladder is the steps at which reminders are sent, earliest first.
type Ladder []Step

// DefaultLadder is what a firm begins with. Common practice, no published
// source.
var DefaultLadder = Ladder{-8, -4, -1, 1, 4}

// The bounds of a ladder.
const (
	MostSteps = 10
	MostWeeks = 26
)

// FreshDays is how long after it was reached a step may still be sent without
// a person asking for it. Without it a register
// imported with old duties would write to every customer in it.
const FreshDays = 28

// Checked returns the ladder in order, or an Invalid error that says what is
// wrong: no step or more than MostSteps, a step twice, or one more than
// MostWeeks away from the due date.
func (l Ladder) Checked() (Ladder, error) {
	refuse := func(value, want string) (Ladder, error) {
		return nil, &records.Error{Kind: records.Invalid, Field: "steps", Label: "Steps", Value: value, Want: want}
	}
	if len(l) == 0 || len(l) > MostSteps {
		return refuse(fmt.Sprintf("%d steps", len(l)), fmt.Sprintf("1 to %d steps", MostSteps))
	}
	out := slices.Clone(l)
	slices.Sort(out)
	for i, s := range out {
		if s < -MostWeeks || s > MostWeeks {
			return refuse(s.String(), fmt.Sprintf("steps from %d weeks before to %d weeks late", MostWeeks, MostWeeks))
		}
		if i > 0 && s == out[i-1] {
			return refuse(s.String(), "each step once")
		}
	}
	return out, nil
}

// Chased is what a reminder needs to know of a duty.
type Chased struct {
	Due          records.Date
	Closed       bool // done, by a record or otherwise, or lifted
	Booked       bool
	Unsubscribed bool // the contact asked for no reminders
	Sent         []Step
}

// Stopped returns why no reminder is sent, or "".
func (c Chased) Stopped() string {
	switch {
	case c.Closed:
		return "no longer due"
	case c.Booked:
		return "a visit is booked"
	case c.Unsubscribed:
		return "the customer asked for no reminders"
	}
	return ""
}

// StepsDue returns the steps that have been reached by today and not sent,
// earliest first. A step before the latest one sent is over. A duty whose
// reminders have stopped has no steps.
func (l Ladder) StepsDue(c Chased, today records.Date) []Step {
	if c.Stopped() != "" || c.Due.IsZero() {
		return nil
	}
	sent := Step(-MostWeeks - 1)
	for _, s := range c.Sent {
		sent = max(sent, s)
	}
	var out []Step
	for _, s := range l {
		if s > sent && !s.On(c.Due).After(today) {
			out = append(out, s)
		}
	}
	slices.Sort(out)
	return out
}

// StepNow returns the one step to send today: the latest that is due. Steps
// missed before it are skipped.
func (l Ladder) StepNow(c Chased, today records.Date) (s Step, ok bool) {
	steps := l.StepsDue(c, today)
	if len(steps) == 0 {
		return 0, false
	}
	return steps[len(steps)-1], true
}

// Fresh reports whether a step of a duty was reached so recently that it may
// be sent without a person asking for it.
func (s Step) Fresh(due, today records.Date) bool {
	return today.DaysSince(s.On(due)) <= FreshDays
}
