package due

import "gaugebook/records"

// ReminderSettings is how the firm reminds its customers. The texts are
// templates; blank ones stand for the program's own.
type ReminderSettings struct {
	Steps        Ladder `json:"steps"`
	Automatic    bool   `json:"automatic"` // each morning, without a person
	AheadSubject string `json:"ahead_subject"`
	AheadText    string `json:"ahead_text"`
	LateSubject  string `json:"late_subject"`
	LateText     string `json:"late_text"`
}

// Checked returns the settings tidied up, or every error in them. That the
// texts are templates which can be filled in is for the caller to prove.
func (s ReminderSettings) Checked() (ReminderSettings, error) {
	var errs records.Errors
	take := func(key, label string, most int, lines bool, s *string) {
		kind := records.TextKind
		if lines {
			kind = records.NotesKind
		}
		v, err := (&records.Field{Key: key, Label: label, Kind: kind, MaxLen: most}).Parse(*s)
		if e, ok := err.(*records.Error); ok {
			errs = append(errs, e)
			return
		}
		*s = v.Text()
	}
	take("ahead_subject", "Subject", 150, false, &s.AheadSubject)
	take("late_subject", "Subject when late", 150, false, &s.LateSubject)
	take("ahead_text", "Text", 4000, true, &s.AheadText)
	take("late_text", "Text when late", 4000, true, &s.LateText)
	steps, err := s.Steps.Checked()
	if e, ok := err.(*records.Error); ok {
		errs = append(errs, e)
	}
	if len(errs) > 0 {
		return s, errs
	}
	s.Steps = steps
	return s, nil
}
