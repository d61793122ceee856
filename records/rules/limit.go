package rules

import (
	"gaugebook/records"
)

// Documents that limits come from. Titles and editions are facts; the words
// of the limits are ours.
var (
	gasSafety = records.Source{Document: "Gas Safety (Installation and Use) Regulations 1998",
		Confidence: records.Confirmed}
	bs6891 = records.Source{Document: "BS 6891", Edition: "2015", Confidence: records.Confirmed}
	en437  = records.Source{Document: "EN 437", Edition: "2021", Clause: "test pressures",
		Confidence: records.Unconfirmed}
	tb143 = records.Source{Document: "Technical Bulletin 143, combustion check of condensing boilers at " +
		"commissioning", Edition: "July 2013", Confidence: records.Confirmed}
	bs7967 = records.Source{Document: "BS 7967", Edition: "2015", Confidence: records.Unconfirmed}
	bs5440 = records.Source{Document: "BS 5440-1", Edition: "2023", Confidence: records.Confirmed}
	tb008  = records.Source{Document: "Technical Bulletin 008, flues in voids", Edition: "Edition 3",
		From: records.MustDate("2013-04-01"), Confidence: records.Confirmed}
	practice = records.Source{Document: "Common practice", Confidence: records.Practice}
	physics  = records.Source{Document: "Physics", Confidence: records.Confirmed}
)

// clause returns the source with the place in it.
func clause(s records.Source, where string) records.Source { s.Clause = where; return s }

// sure returns the source with another confidence.
func sure(s records.Source, c records.Confidence) records.Source { s.Confidence = c; return s }

// dated returns the source in force between two dates; "" leaves one open.
func dated(s records.Source, from, until string) records.Source {
	if from != "" {
		s.From = records.MustDate(from)
	}
	if until != "" {
		s.Until = records.MustDate(until)
	}
	return s
}

func most(high float64, unit string, rank records.Rank, s records.Source) records.Limit {
	high = roundTo(high, 9)
	return records.Limit{Text: "at most " + withUnit(show(high, 5), unit), High: &high, Unit: unit, Rank: rank,
		Source: s}
}

func least(low float64, unit string, rank records.Rank, s records.Source) records.Limit {
	low = roundTo(low, 9)
	return records.Limit{Text: "at least " + withUnit(show(low, 5), unit), Low: &low, Unit: unit, Rank: rank, Source: s}
}

func span(low, high float64, unit string, rank records.Rank, s records.Source) records.Limit {
	low, high = roundTo(low, 9), roundTo(high, 9)
	return records.Limit{Text: show(low, 5) + " to " + withUnit(show(high, 5), unit), Low: &low, High: &high,
		Unit: unit, Rank: rank, Source: s}
}

func words(text string, rank records.Rank, s records.Source) records.Limit {
	return records.Limit{Text: text, Rank: rank, Source: s}
}

// inForce picks the limit in force on the day of the work: the first of ls
// that is, else the last one, which is the newest.
func (e *entries) inForce(ls []records.Limit) records.Limit {
	if !e.WorkDate.IsZero() {
		for _, l := range ls {
			if l.Source.InForce(e.WorkDate) {
				return l
			}
		}
	}
	return ls[len(ls)-1]
}

// stated is the source of a limit that the manufacturer states for this
// appliance, as entered from its instructions.
func (e *entries) stated() records.Source {
	doc := e.Values.Text(records.StatedDocument)
	if doc == "" {
		return records.Source{Document: "Manufacturer's instructions, document not named",
			Confidence: records.OneSource}
	}
	return records.Source{Document: doc, Clause: "manufacturer's instructions", Confidence: records.Confirmed}
}

var calibrationLimit = words("in calibration on the day of the work, and calibrated within 12 months before it", records.ByStandard,
	sure(clause(bs7967, "instruments calibrated yearly"), records.OneSource))
