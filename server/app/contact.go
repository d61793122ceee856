package app

import (
	"context"

	"gaugebook/records"
)

// LogContact notes a try to reach a customer, about one of their appliances or,
// without one, about all. The customer is named by a property of theirs. Kinds:
// NotFound; Invalid; Conflict for a customer without an appliance in use.
func (a *App) LogContact(ctx context.Context, who records.Person, propertyID, applianceID, how, note string,
	next records.Date) error {
	k, err := a.Store.Chase.Customer(ctx, propertyID)
	if err != nil {
		return err
	}
	var about []string
	for _, appliance := range k.Appliances {
		if applianceID == "" || applianceID == appliance.ID {
			about = append(about, appliance.ID)
		}
	}
	switch {
	case len(about) == 0 && applianceID != "":
		return &records.Error{Kind: records.Invalid, Field: "appliance", Label: "About",
			Want: "an appliance of this customer"}
	case len(about) == 0:
		return records.Fail(records.Conflict, "this customer has no appliance in use")
	}
	for _, id := range about {
		if _, err := a.Store.Chase.AddContactAttempt(ctx, who.Actor(), id, how, note, next); err != nil {
			return err
		}
	}
	return nil
}
