package rules

import (
	"strings"

	"gaugebook/records"
)

func missing(reason string) records.Finding {
	return records.Finding{Outcome: records.Missing, Reason: reason}
}

// exempt takes the reason as a clause and makes a sentence of it.
func exempt(reason string) records.Finding {
	return records.Finding{Outcome: records.Exempt, Reason: capital(reason) + "."}
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func doubtful(reading, reason string) records.Finding {
	return records.Finding{Outcome: records.Doubtful, Reading: reading, Reason: reason}
}

func inside(reading, reason string) records.Finding {
	return records.Finding{Outcome: records.Inside, Reading: reading, Reason: reason}
}

func outside(class records.Class, reading, reason string) records.Finding {
	return records.Finding{Outcome: records.Outside, Reading: reading, Reason: reason, Suggested: class}
}

// hold compares x with a limit: inside, which includes the edge, or outside.
func hold(x float64, l records.Limit) records.Finding {
	f := records.Finding{Outcome: records.Inside, Limit: &l}
	if l.Low != nil && below(x, *l.Low) || l.High != nil && above(x, *l.High) {
		f.Outcome = records.Outside
		return f
	}
	f.AtLimit = l.Low != nil && equal(x, *l.Low) || l.High != nil && equal(x, *l.High)
	return f
}

// verdict is hold with the words: what was read, the reason either way, and
// how serious outside would be.
func verdict(x float64, l records.Limit, reading string, class records.Class, in, out string) records.Finding {
	f := hold(x, l)
	f.Reading, f.Reason = reading, in
	switch {
	case f.Outcome == records.Outside:
		f.Reason, f.Suggested = out, class
	case f.AtLimit:
		f.Reason = in + " It is exactly at the limit."
	}
	return f
}

// answer judges a yes-or-no field for which only yes is inside.
func (e *entries) answer(field records.FlagField, l *records.Limit, class records.Class, yes,
	no string) records.Finding {
	said, ok := e.Values.Flag(field)
	if !ok {
		return missing("Not answered: " + nameOf(field.Field) + ".")
	}
	f := inside("yes", yes)
	if !said {
		f = outside(class, "no", no)
	}
	f.Limit = l
	return f
}

// calibration judges the instrument that a section's readings were taken
// with. Every section with an instrument shares it.
func (e *entries) calibration(field records.TextField) records.Finding {
	id := e.Values.Text(field)
	if id == "" {
		return missing("Not entered: " + nameOf(field.Field) + ".")
	}
	in, ok := e.Instrument(id)
	if !ok {
		return missing("The instrument “" + id + "” is not on this record.")
	}
	l := calibrationLimit
	f := records.Finding{Reading: in.Name(), Limit: &l, Outcome: records.Doubtful}
	if e.WorkDate.IsZero() {
		return missing("Not entered: date of the work.")
	}
	switch {
	case !oneOf(in.Kind, field.Wants):
		f.Reason = "This is a " + in.Kind + ", which cannot take these readings."
	case in.CalibrationDue.IsZero():
		f.Outcome = records.Missing
		f.Reason = "Its calibration due date is not on file."
	case in.CalibrationDue.Before(e.WorkDate):
		f.Reason = "Its calibration was due on " + in.CalibrationDue.Long() +
			", before the day of the work: do not rely on it."
	case in.CalibratedOn.After(e.WorkDate):
		f.Reason = "The calibration date on file is " + in.CalibratedOn.Long() + ", after the day of the work."
	default:
		f.Outcome, f.AtLimit = records.Inside, in.CalibrationDue == e.WorkDate
		f.Reason = "In calibration on the day; next due on " + in.CalibrationDue.Long() + "."
	}
	return f
}

func oneOf(s string, list []string) bool {
	for _, t := range list {
		if s == t {
			return true
		}
	}
	return false
}
