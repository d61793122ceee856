package due

import (
	"fmt"

	"gaugebook/records"
)

// Check is what one completed landlord check does to the deadlines of one
// appliance. The deadlines form a chain: each is counted from the effective
// date of the check before it, not from the day that check was made.
type Check struct {
	Completed records.Date // the day the check of this appliance was completed
	Deadline  records.Date // the last day for it; zero: none known
	Effective records.Date // the day it counts as made on
	Next      records.Date // the next deadline
	Kept      bool         // Effective is the deadline although the check was earlier, or on it
	Late      bool         // completed after the deadline
	// OtherNext is the next deadline by the other reading of the law where
	// there are two; zero where there is one. Next is always the earlier.
	OtherNext records.Date
	Warning   string // what a person should know, "" if nothing
	source    records.Source
}

// Window returns the first and the last day on which a check certainly keeps
// the deadline: two months that end with it. The day before the first is
// read both ways, see LandlordCheck.
//
// Source: Gas Safety (Installation and Use) Regulations 1998, regulation
// 36A(1), in force from 6 April 2018.
func Window(deadline records.Date) (first, last records.Date) {
	return deadline.AddMonths(-EarlyMonths).AddDays(1), deadline
}

// FirstLandlordDeadline returns the last day for the first check of an
// appliance: twelve months after its installation.
//
// Source: the same, regulation 36(3)(a).
func FirstLandlordDeadline(installed records.Date) records.Date {
	return installed.AddMonths(LandlordMonths)
}

// LandlordCheck returns what a check completed on a date does, where the last
// day for it was deadline (zero: not known).
//
//   - inside the window: counts as made on the deadline, next deadline 12
//     months after that
//   - before the window: counts as made when it was, the chain starts again
//   - after the deadline: the same, and it was late; up to two months after it
//     the warning names what regulation 36A(2) and (3) allow a landlord once,
//     for the first check of a new appliance. Whether that was so is on no
//     record, and the next date was read only in paraphrase: no later deadline
//     is assumed.
//   - exactly two months before: the strict words put it outside the window,
//     published guidance inside; the earlier next deadline is returned, the
//     later in OtherNext, with a warning
//
// In Northern Ireland, where we could not confirm that an early check keeps
// its date, an early one starts again and OtherNext holds the other result.
//
// Source: Gas Safety (Installation and Use) Regulations 1998, regulations
// 36(3)(a) and 36A, in force from 6 April 2018.
func LandlordCheck(deadline, completed records.Date, nation records.Nation) Check {
	c := Check{
		Completed: completed, Deadline: deadline, Effective: completed,
		Next: completed.AddMonths(LandlordMonths), source: gasRegulations(nation, "regulations 36(3)(a) and 36A"),
	}
	if deadline.IsZero() {
		return c
	}
	kept := deadline.AddMonths(LandlordMonths)
	first, _ := Window(deadline)
	switch {
	case completed.After(deadline):
		c.Late = true
		c.Warning = fmt.Sprintf("Completed %s after the last day for it, %s.",
			count(completed.DaysSince(deadline), "day"), deadline.Long())
		if !completed.After(deadline.AddMonths(AlignMonths)) && !ownGasLaw(nation) {
			c.Warning += " A landlord may put off the first check of a new appliance by up to two months, once, to " +
				"line it up with another appliance at the property: if so, it was not late; confirm the next date " +
				"with the landlord."
		}
	case completed == deadline:
		c.Kept = true
	case completed == first.AddDays(-1):
		c.OtherNext = kept
		c.Warning = fmt.Sprintf("Completed exactly two months before %s: guidance lets it keep that date (next "+
			"check by %s), the strict wording does not. The earlier date is used.",
			deadline.Long(), kept.Long())
	case completed.Before(first):
	case ownGasLaw(nation):
		c.OtherNext = kept
		c.Warning = fmt.Sprintf("In Great Britain this check would keep the date of %s (next check by %s); whether "+
			"it does in Northern Ireland is unconfirmed. The earlier date is used.",
			deadline.Long(), kept.Long())
	default:
		c.Kept, c.Effective, c.Next = true, deadline, kept
	}
	return c
}

// Duty returns the next check as a duty.
func (c Check) Duty() records.Duty {
	var why string
	switch {
	case c.Kept:
		why = fmt.Sprintf("The check of %s keeps the date: it counts as made on its deadline, %s; the next is due "+
			"within %d months of that.",
			c.Completed.Long(), c.Deadline.Long(), LandlordMonths)
	default:
		why = fmt.Sprintf("Within %d months of the check of %s.", LandlordMonths, c.Completed.Long())
	}
	if c.Warning != "" {
		why += " " + c.Warning
	}
	return records.Duty{Kind: records.LandlordCheckDue, Due: c.Next, Why: why, Source: c.source}
}
