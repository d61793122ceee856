package due_test

import (
	"testing"

	"gaugebook/records"
	"gaugebook/records/due"

	"pgregory.net/rapid"
)

var (
	anyDate = rapid.Custom(func(t *rapid.T) records.Date {
		return records.MustDate("2018-04-06").AddDays(rapid.IntRange(0, 30000).Draw(t, "days"))
	})
	anyNation = rapid.SampledFrom(records.Nations)
	// Around the deadline, where the cases meet.
	anyShift = rapid.IntRange(-500, 500)
)

// What must hold of any check, whatever its date: it never moves the next
// deadline to before itself, never gives more than twelve months from the day
// it counts as made, nor more than fourteen from the day it was made.
func TestCheckProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deadline, nation := anyDate.Draw(t, "deadline"), anyNation.Draw(t, "nation")
		done := deadline.AddDays(anyShift.Draw(t, "shift"))
		c := due.LandlordCheck(deadline, done, nation)
		first, _ := due.Window(deadline)
		switch {
		case !c.Next.After(done):
			t.Fatalf("next %s not after the check of %s", c.Next, done)
		case c.Next != c.Effective.AddMonths(12):
			t.Fatalf("next %s, effective %s", c.Next, c.Effective)
		case c.Next.After(done.AddMonths(14)):
			t.Fatalf("more than 14 months from %s to %s", done, c.Next)
		case c.Effective.Before(done):
			t.Fatalf("counts as made on %s before it was, %s", c.Effective, done)
		case c.Kept && (done.Before(first) || done.After(deadline)):
			t.Fatalf("kept %s outside %s to %s", done, first, deadline)
		case c.Late != done.After(deadline):
			t.Fatalf("late %v: %s for %s", c.Late, done, deadline)
		case !c.OtherNext.IsZero() && !c.OtherNext.After(c.Next):
			t.Fatalf("the other next %s is not the later one: %s", c.OtherNext, c.Next)
		case c.Late && c.Kept:
			t.Fatal("late and kept")
		}
	})
}

// Checking later never brings the next deadline forward while the check
// stays on the same side of the deadline; nor does a later deadline bring the
// window's first day forward.
func TestChainIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deadline, nation := anyDate.Draw(t, "deadline"), anyNation.Draw(t, "nation")
		a := deadline.AddDays(rapid.IntRange(-500, 0).Draw(t, "a"))
		b := a.AddDays(rapid.IntRange(0, deadline.DaysSince(a)).Draw(t, "b"))
		if first, second := due.LandlordCheck(deadline, a, nation), due.LandlordCheck(deadline, b,
			nation); second.Next.Before(first.Next) {
			t.Fatalf("for %s: check %s gives %s, the later %s gives %s", deadline, a, first.Next, b, second.Next)
		}
		later := deadline.AddDays(rapid.IntRange(0, 400).Draw(t, "later"))
		opens, _ := due.Window(deadline)
		opensLater, _ := due.Window(later)
		if opensLater.Before(opens) {
			t.Fatalf("window of %s opens %s, of %s %s", deadline, opens, later, opensLater)
		}
	})
}

// Exactly one day of any deadline is read both ways in Great Britain: the one
// before the window.
func TestOneAmbiguousDay(t *testing.T) {
	nation := records.England
	for d := records.MustDate("2027-01-01"); d.Before(records.MustDate("2029-01-01")); d = d.AddDays(1) {
		ambiguous := 0
		for done := d.AddDays(-100); !done.After(d.AddDays(100)); done = done.AddDays(1) {
			if c := due.LandlordCheck(d, done, nation); !c.OtherNext.IsZero() {
				ambiguous++
				if done != d.AddMonths(-2) || c.Kept {
					t.Errorf("deadline %s: %s read both ways", d, done)
				}
			}
		}
		if ambiguous != 1 {
			t.Errorf("deadline %s: %d days read both ways", d, ambiguous)
		}
	}
}

func TestDutiesNeverBeforeTheWork(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := &records.Record{
			Purpose: rapid.SampledFrom(records.Purposes).Draw(t, "purpose"), WorkDate: anyDate.Draw(t, "work"),
			Property: records.Property{Nation: anyNation.Draw(t, "nation")},
			Contact:  records.Contact{Tenure: rapid.SampledFrom(records.Tenures).Draw(t, "tenure")},
			Values:   records.Values{},
			Condition: &records.ConditionReport{Entries: []records.ConditionEntry{
				{Class: rapid.SampledFrom(records.Classes).Draw(t, "class")}}},
		}
		r.Values.Put(records.Notifiable.Field, rapid.SampledFrom([]string{"yes", "no"}).Draw(t, "notifiable"))
		rank := map[records.DutyKind]int{}
		for i, k := range records.DutyKinds {
			rank[k] = i
		}
		last := -1
		for _, d := range due.ForIssue(r, r.WorkDate.AddDays(anyShift.Draw(t, "deadline"))) {
			if d.Due.Before(r.WorkDate) {
				t.Fatalf("%s due %s before the work of %s", d.Kind, d.Due, r.WorkDate)
			}
			if rank[d.Kind] <= last {
				t.Fatalf("%s out of order or twice", d.Kind)
			}
			last = rank[d.Kind]
		}
	})
}
