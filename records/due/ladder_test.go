package due_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaugebook/records"
	"gaugebook/records/due"
)

// The steps are common practice, no published source; the dates below were
// counted on a calendar of 2027.
func TestLadder(t *testing.T) {
	duty := records.MustDate("2027-03-01")
	l := due.DefaultLadder
	for _, c := range []struct {
		name, today string
		sent        []due.Step
		closed      bool
		booked      bool
		stopped     bool
		due, now    string
	}{
		{name: "the day before the first", today: "2027-01-03"},
		{name: "the day of the first", today: "2027-01-04", due: "8 weeks before", now: "8 weeks before"},
		{name: "sent", today: "2027-01-04", sent: []due.Step{-8}},
		{name: "sent, the day before the next", today: "2027-01-31", sent: []due.Step{-8}},
		{name: "the day of the next", today: "2027-02-01", sent: []due.Step{-8}, due: "4 weeks before",
			now: "4 weeks before"},
		{name: "two missed", today: "2027-02-22", due: "8 weeks before, 4 weeks before, 1 week before",
			now: "1 week before"},
		{name: "only the latest was sent", today: "2027-02-23", sent: []due.Step{-1}},
		{name: "on the due date", today: "2027-03-01", sent: []due.Step{-8, -4, -1}},
		{name: "the last day before a week late", today: "2027-03-07", sent: []due.Step{-1}},
		{name: "a week late", today: "2027-03-08", sent: []due.Step{-1}, due: "1 week late", now: "1 week late"},
		{name: "four weeks late", today: "2027-03-29", sent: []due.Step{-1, 1}, due: "4 weeks late",
			now: "4 weeks late"},
		{name: "over", today: "2028-01-01", sent: []due.Step{-8, -4, -1, 1, 4}},
		{name: "a step that is no longer in the ladder was sent", today: "2027-02-22", sent: []due.Step{-2},
			due: "1 week before", now: "1 week before"},
		{name: "service recorded", today: "2027-02-22", closed: true},
		{name: "booked", today: "2027-02-22", booked: true},
		{name: "unsubscribed", today: "2027-02-22", stopped: true},
	} {
		in := due.Chased{Due: duty, Closed: c.closed, Booked: c.booked, Unsubscribed: c.stopped, Sent: c.sent}
		today := records.MustDate(c.today)
		var words []string
		for _, s := range l.StepsDue(in, today) {
			words = append(words, s.String())
		}
		if got := strings.Join(words, ", "); got != c.due {
			t.Errorf("%s: due %q, want %q", c.name, got, c.due)
		}
		now := ""
		if s, ok := l.StepNow(in, today); ok {
			now = s.String()
		}
		if now != c.now {
			t.Errorf("%s: now %q, want %q", c.name, now, c.now)
		}
		if stops := c.closed || c.booked || c.stopped; stops != (in.Stopped() != "") {
			t.Errorf("%s: stopped %q", c.name, in.Stopped())
		}
	}
	if due.Step(0).String() != "on the day" || due.Step(-1).Fresh(duty, records.MustDate("2027-03-23")) ||
		!due.Step(-1).Fresh(duty, records.MustDate("2027-03-22")) {
		t.Error("words of the day itself, or how long a step is fresh")
	}
}

func TestLadderChecked(t *testing.T) {
	for _, c := range []struct {
		in   due.Ladder
		want string
	}{
		{due.Ladder{4, -8, 1}, "[8 weeks before 1 week late 4 weeks late]"},
		{due.Ladder{}, "Steps: “0 steps”"},
		{due.Ladder{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}, "Steps: “11 steps”"},
		{due.Ladder{-4, -4}, "Steps: “4 weeks before”"},
		{due.Ladder{-27}, "Steps: “27 weeks before”"},
		{due.Ladder{27}, "Steps: “27 weeks late”"},
		{due.Ladder{-26, 26}, "[26 weeks before 26 weeks late]"},
	} {
		l, err := c.in.Checked()
		got := fmt.Sprint(l)
		if err != nil {
			got = err.Error()
		}
		if !strings.HasPrefix(got, c.want) {
			t.Errorf("%v: %s, want %s", c.in, got, c.want)
		}
	}
}

// Day after day, however many days are missed, each step is sent once at the
// most, never more than one a day, never backwards, and the last one reached
// is never missed for ever.
func TestLadderProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, err := due.Ladder(rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) due.Step {
			return due.Step(rapid.IntRange(-due.MostWeeks, due.MostWeeks).Draw(t, "step"))
		}), 1, due.MostSteps, func(s due.Step) due.Step { return s }).Draw(t, "ladder")).Checked()
		if err != nil {
			t.Fatal(err)
		}
		c := due.Chased{Due: anyDate.Draw(t, "due")}
		day := c.Due.AddDays(-7 * 30)
		for day.Before(c.Due.AddDays(7 * 30)) {
			if s, ok := l.StepNow(c, day); ok {
				if n := len(c.Sent); n > 0 && s <= c.Sent[n-1] {
					t.Fatalf("%s after %s", s, c.Sent[n-1])
				}
				if s.On(c.Due).After(day) {
					t.Fatalf("%s sent early, on %s", s, day)
				}
				c.Sent = append(c.Sent, s)
			}
			day = day.AddDays(rapid.IntRange(1, 40).Draw(t, "days"))
		}
		if day = c.Due.AddDays(7 * 40); len(l.StepsDue(c, day)) > 0 {
			if s, _ := l.StepNow(c, day); s != l[len(l)-1] {
				t.Fatalf("left over: %s", s)
			}
		}
	})
}

// What stops a reminder stops every step of it.
func TestStoppedRemindersHaveNoSteps(t *testing.T) {
	day := records.MustDate("2027-03-01")
	for _, c := range []struct {
		chased due.Chased
		why    string
	}{
		{due.Chased{Due: day}, ""},
		{due.Chased{Due: day, Closed: true}, "no longer due"},
		{due.Chased{Due: day, Booked: true}, "a visit is booked"},
		{due.Chased{Due: day, Unsubscribed: true}, "the customer asked for no reminders"},
		{due.Chased{Due: day, Closed: true, Booked: true, Unsubscribed: true}, "no longer due"},
		{due.Chased{Due: day, Booked: true, Unsubscribed: true}, "a visit is booked"},
	} {
		if got := c.chased.Stopped(); got != c.why {
			t.Errorf("%+v: %q, want %q", c.chased, got, c.why)
		}
		for shift := -100; shift <= 100; shift++ {
			steps := due.DefaultLadder.StepsDue(c.chased, day.AddDays(shift))
			if c.why != "" && steps != nil || c.why == "" && shift >= -56 && len(steps) == 0 {
				t.Fatalf("%+v on day %d: %v", c.chased, shift, steps)
			}
		}
	}
	if steps := due.DefaultLadder.StepsDue(due.Chased{}, day); steps != nil {
		t.Errorf("steps without a due date: %v", steps)
	}
}

// A later day never has fewer steps due, and no step is due again once it or a
// later one was sent.
func TestStepsDueAreMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := due.DefaultLadder
		c := due.Chased{Due: anyDate.Draw(t, "due")}
		today := c.Due.AddDays(rapid.IntRange(-80, 60).Draw(t, "today"))
		later := today.AddDays(rapid.IntRange(0, 60).Draw(t, "later"))
		now, then := l.StepsDue(c, today), l.StepsDue(c, later)
		if len(then) < len(now) {
			t.Fatalf("%v on %s, %v on %s", now, today, then, later)
		}
		for _, s := range now {
			if s.On(c.Due).After(today) {
				t.Fatalf("%s on %s is not reached on %s", s, s.On(c.Due), today)
			}
		}
		c.Sent = append(c.Sent, rapid.SampledFrom(l).Draw(t, "sent"))
		for _, s := range l.StepsDue(c, later) {
			if s <= c.Sent[0] {
				t.Fatalf("%s is due though %s was sent", s, c.Sent[0])
			}
		}
	})
}

// A step is fresh from its own day for four weeks, whatever the step.
func TestStepsAreFreshForFourWeeks(t *testing.T) {
	day := records.MustDate("2028-02-29")
	for _, s := range due.DefaultLadder {
		for n, want := range map[int]bool{0: true, 1: true, 27: true, 28: true, 29: false, 365: false} {
			if got := s.Fresh(day, s.On(day).AddDays(n)); got != want {
				t.Errorf("%s, %d days after: fresh %v", s, n, got)
			}
		}
		if weeks := s.On(day).DaysSince(day); weeks != 7*int(s) {
			t.Errorf("%s is %d days from the due date", s, weeks)
		}
	}
}

func TestStepsInWords(t *testing.T) {
	for s, want := range map[due.Step]string{-26: "26 weeks before", -2: "2 weeks before", -1: "1 week before",
		0: "on the day", 1: "1 week late", 2: "2 weeks late", 26: "26 weeks late"} {
		if s.String() != want {
			t.Errorf("%d: %q, want %q", int(s), s, want)
		}
	}
}
