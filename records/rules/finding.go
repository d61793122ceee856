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
	switch oldest := e.WorkDate.AddMonths(-calibrationMonths); {
	case !in.Serves(field.Wants):
		f.Reason = "This is " + article(in.Kind) + ", which cannot take these readings."
	case in.CalibrationDue.IsZero():
		f.Outcome = records.Missing
		f.Reason = "Its calibration due date is not on file."
	case in.CalibrationDue.Before(e.WorkDate):
		f.Reason = "Its calibration was due on " + in.CalibrationDue.Long() +
			", before the day of the work: do not rely on it."
	case in.CalibratedOn.After(e.WorkDate):
		f.Reason = "The calibration date on file is " + in.CalibratedOn.Long() + ", after the day of the work."
	case !in.CalibratedOn.IsZero() && in.CalibratedOn.Before(oldest):
		f.Reason = line("It was last calibrated on %s, more than %d months before the day of the work, whatever date is "+
			"given as due.", in.CalibratedOn.Long(), calibrationMonths)
	case in.CalibratedOn.IsZero() && in.CalibrationDue.After(e.WorkDate.AddMonths(calibrationMonths)):
		f.Reason = line("Its calibration is due on %s, more than %d months after the day of the work, and the day it was "+
			"calibrated is not on file.", in.CalibrationDue.Long(), calibrationMonths)
	default:
		f.Outcome, f.AtLimit = records.Inside, in.CalibrationDue == e.WorkDate
		f.Reason = "In calibration on the day; next due on " + in.CalibrationDue.Long() + "."
	}
	return f
}

// calibrationMonths is the longest time between calibrations.
const calibrationMonths = 12

// article puts a or an before a word.
func article(word string) string {
	if word != "" && strings.ContainsRune("aeiou", rune(word[0])) {
		return "an " + word
	}
	return "a " + word
}

func oneOf(s string, list []string) bool {
	for _, t := range list {
		if s == t {
			return true
		}
	}
	return false
}
