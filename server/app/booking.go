package app

import (
	"context"
	"slices"

	"gaugebook/records"
	"gaugebook/records/store"
)

// BookableDuty is an open duty that somebody has to go there for.
type BookableDuty struct {
	records.OpenDuty
	Booked string // when the visit is that is booked for it already, or ""
}

// visitKinds are the duties that somebody has to go there for.
var visitKinds = append(slices.Clone(store.ChaseKinds), records.InhibitorRecheck)

// BookableDuties returns what a visit to an appliance may be for. Kinds:
// NotFound.
func (a *App) BookableDuties(ctx context.Context, applianceID string) ([]BookableDuty, error) {
	all, err := a.Store.Duties.OfAppliance(ctx, applianceID)
	if err != nil {
		return nil, err
	}
	bookings, err := a.Store.Bookings.OfAppliance(ctx, applianceID)
	if err != nil {
		return nil, err
	}
	booked := map[string]string{}
	for _, b := range bookings {
		for _, d := range b.Duties {
			if b.State == records.BookingOpen {
				booked[d.ID] = b.Appointment.String()
			}
		}
	}
	var out []BookableDuty
	for _, d := range all {
		if !d.Closed() && slices.Contains(visitKinds, d.Duty.Kind) {
			out = append(out, BookableDuty{d, booked[d.ID]})
		}
	}
	return out, nil
}

// VisitRequest returns a customer's request that waits for an answer. Kinds:
// NotFound.
func (a *App) VisitRequest(ctx context.Context, id string) (store.VisitRequest, error) {
	requests, err := a.Store.Requests.Visits(ctx)
	if err != nil {
		return store.VisitRequest{}, err
	}
	i := slices.IndexFunc(requests, func(r store.VisitRequest) bool { return r.ID == id })
	if i < 0 {
		return store.VisitRequest{}, records.Fail(records.NotFound, "this request has already been dealt with")
	}
	return requests[i], nil
}
