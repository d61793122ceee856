package app

import (
	"context"

	"gaugebook/records"
	"gaugebook/records/due"
)

// FirmDuty is a duty of an instrument or a person rather than of an appliance.
type FirmDuty struct {
	records.Duty
	Subject                string
	InstrumentID, PersonID string // one of them
}

// FirmDuties returns the calibration of the instruments and the competence of
// the people with an open account.
func (a *App) FirmDuties(ctx context.Context) ([]FirmDuty, error) {
	var out []FirmDuty
	instruments, err := a.Store.Settings.Instruments(ctx)
	if err != nil {
		return nil, err
	}
	for _, i := range instruments {
		if d, ok := due.Calibration(i); ok {
			out = append(out, FirmDuty{Duty: d, Subject: i.Name(), InstrumentID: i.ID})
		}
	}
	people, err := a.Store.People.List(ctx)
	if err != nil {
		return nil, err
	}
	for _, p := range people {
		d, ok := due.CompetenceExpiry(records.Engineer{Name: p.Name, CompetenceUntil: p.CompetenceUntil})
		if ok && p.Active {
			out = append(out, FirmDuty{Duty: d, Subject: p.Name, PersonID: p.ID})
		}
	}
	return out, nil
}

// NoteSent closes a duty to tell somebody, with the day on which that was sent
// and its reference. Kinds: NotFound; Conflict; Invalid for a day to come.
func (a *App) NoteSent(ctx context.Context, who records.Person, dutyID string, on records.Date, ref string) error {
	if on.IsZero() || on.After(a.Today()) {
		return &records.Error{Kind: records.Invalid, Field: "on", Label: "Sent on", Value: on.String(),
			Want: "the day on which it was sent, today or before"}
	}
	how := "Sent on " + on.Long()
	if ref != "" {
		how += ", reference " + ref
	}
	return a.Store.Duties.Finish(ctx, who.Actor(), dutyID, how)
}
