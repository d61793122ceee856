package store_test

import (
	"context"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

var settingChanges = []change{
	{"firm", func(ctx context.Context, w *world) error {
		return w.Settings.SaveFirm(ctx, by, records.Firm{Name: "Applegarth Heating"})
	}, "firm changed", ""},
	{"instrument", func(ctx context.Context, w *world) error {
		return errOf(w.Settings.SaveInstrument(ctx, by, records.Instrument{Kind: "gauge", Serial: "G-9"}))
	}, "instrument saved", ""},
	{"drop bands", func(ctx context.Context, w *world) error {
		return w.Settings.SaveDropBands(ctx, by, records.DropBands{Edition: records.Edition4, Fuel: records.FuelNatural,
			Clause: "table 1", EnteredBy: "Orla", Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 5}}})
	}, "permissible drops entered", ""},
	{"key of the firm", func(ctx context.Context, w *world) error {
		return w.Settings.ChangeKey(ctx, by, storetest.Key, nextKey)
	}, "key of the firm changed", ""},
	{"clock said to be right", func(ctx context.Context, w *world) error {
		return w.Audit.ClockIsRight(ctx, by)
	}, "clock said to be right", ""},
	{"numbers passed over", func(ctx context.Context, w *world) error {
		return w.Records.PassOver(ctx, by, "2026-00040", "restored from a backup")
	}, "numbers passed over", ""},
	{"owner's limit", func(ctx context.Context, w *world) error {
		return w.Settings.SaveOwnerLimit(ctx, by, records.OwnerLimit{Rule: "heat.input", Decision: records.Guarded,
			EnteredBy: "Orla"})
	}, "limit of the owner entered", ""},
	{"owner's limit removed", func(ctx context.Context, w *world) error {
		return w.Settings.RemoveOwnerLimit(ctx, by, "heat.input", "")
	}, "limit of the owner removed", ""},
	{"reminder settings", func(ctx context.Context, w *world) error {
		return w.Settings.SaveReminders(ctx, by, due.ReminderSettings{Steps: due.Ladder{-4, 1}})
	}, "reminding changed", ""},
}

var peopleChanges = []change{
	{"person", func(ctx context.Context, w *world) error {
		return errOf(w.People.Create(ctx, by, records.Person{Name: "Elspeth", Email: "elspeth@tweddle.example",
			Role: records.RoleOffice, Active: true}))
	}, "person added", ""},
	{"person changed", func(ctx context.Context, w *world) error {
		p := w.engineer
		p.Name, p.Email = "Maud Tweddle", "m@tweddle.example" // which ends the invitation
		return errOf(w.People.Update(ctx, by, p))
	}, "person changed", ""},
	{"account closed", func(ctx context.Context, w *world) error {
		p := w.engineer
		p.Active = false
		return errOf(w.People.Update(ctx, by, p))
	}, "person changed", ""},
	{"password", func(ctx context.Context, w *world) error {
		return w.People.SetPassword(ctx, by, w.owner.ID, "another hash")
	}, "password changed", ""},
	{"invitation", func(ctx context.Context, w *world) error {
		return errOf(w.People.Invite(ctx, by, w.engineer.ID, inviteLetter))
	}, "person invited", ""},
	{"invitation taken back", func(ctx context.Context, w *world) error {
		return w.People.RevokeInvitation(ctx, by, w.engineer.ID)
	}, "invitation revoked", ""},
	{"invitation accepted", func(ctx context.Context, w *world) error {
		return errOf(w.People.AcceptInvitation(ctx, w.invite.Token, "a hash of their own"))
	}, "password changed", "Maud"},
	{"key", func(ctx context.Context, w *world) error {
		return errOf(w.People.NewKey(ctx, by, w.engineer.ID, "tablet"))
	}, "key made", ""},
	{"key used", func(ctx context.Context, w *world) error {
		return errOf(w.People.ByKey(ctx, w.key.Token))
	}, "", ""},
	{"key revoked", func(ctx context.Context, w *world) error {
		return w.People.RevokeKey(ctx, by, w.engineer.ID, w.key.ID)
	}, "key revoked", ""},
	{"session", func(ctx context.Context, w *world) error {
		return w.People.Sessions().CommitCtx(ctx, "token", []byte("data"), storetest.Start.AddDate(0, 0, 1))
	}, "", ""},
}

var registerChanges = []change{
	{"property", func(ctx context.Context, w *world) error {
		return errOf(w.Register.CreateProperty(ctx, by, storetest.Property(40)))
	}, "property added", ""},
	{"property changed", func(ctx context.Context, w *world) error {
		p := storetest.Property(41)
		p.ID = w.plain.PropertyID
		return errOf(w.Register.UpdateProperty(ctx, by, p))
	}, "property changed", ""},
	{"appliance", func(ctx context.Context, w *world) error {
		return errOf(w.Register.CreateAppliance(ctx, by, w.plain.PropertyID, storetest.ApplianceValues(40)))
	}, "appliance added", ""},
	{"appliance changed", func(ctx context.Context, w *world) error {
		return errOf(w.Register.UpdateAppliance(ctx, by, w.plain.ID, storetest.ApplianceValues(41)))
	}, "appliance changed", ""},
	{"appliance retired", func(ctx context.Context, w *world) error {
		return w.Register.RetireAppliance(ctx, by, w.plain.ID, "taken out")
	}, "appliance retired", ""},
	{"duty", func(ctx context.Context, w *world) error {
		return errOf(w.Duties.Add(ctx, by, w.plain.ID, duty(records.TenantCopy, "2026-12-09")))
	}, "duty added", ""},
	{"duty lifted", func(ctx context.Context, w *world) error {
		return w.Duties.Lift(ctx, by, w.service.ID, "not used")
	}, "duty lifted", ""},
	{"duty finished", func(ctx context.Context, w *world) error {
		return w.Duties.Finish(ctx, by, w.service.ID, "by somebody else")
	}, "duty done", ""},
	{"list imported", func(ctx context.Context, w *world) error {
		return errOf(w.Bulk.ImportList(ctx, by, store.ListOptions{Source: "list.csv", Update: true},
			listed(4, func(i int, it *store.ListItem) { it.Property.Town = "Elsewhere" })))
	}, "list imported", ""},
}
