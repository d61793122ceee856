package store_test

import (
	"context"
	"errors"
	"fmt"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

var recordChanges = []change{
	{"draft", func(ctx context.Context, w *world) error {
		return errOf(w.Records.StartDraft(ctx, by, storetest.Draft(w.other.ID, records.Service, "2026-11-20")))
	}, "draft started", ""},
	{"draft saved", func(ctx context.Context, w *world) error {
		r := *w.spare
		r.Values = r.Values.Clone()
		r.Values.Put(records.StandingMbar.Field, "21.5")
		return errOf(w.Records.SaveDraft(ctx, by, &r, r.Revision))
	}, "draft saved", ""},
	{"draft saved too late", func(ctx context.Context, w *world) error {
		r := *w.spare
		r.Values = r.Values.Clone()
		r.Values.Put(records.StandingMbar.Field, "22.5")
		_, err := w.Records.SaveDraft(ctx, by, &r, r.Revision+7)
		if stale := (*store.StaleError)(nil); errors.As(err, &stale) && stale.KeptID != "" {
			return nil
		}
		return fmt.Errorf("not kept: %w", err)
	}, "draft version kept", ""},
	{"draft taken over", func(ctx context.Context, w *world) error {
		return errOf(w.Records.TakeOver(ctx, w.engineer.Actor(), w.spare, w.spare.Revision,
			records.Signatory{ID: by.ID, Name: by.Name}))
	}, "draft taken over", "Maud"},
	{"draft discarded", func(ctx context.Context, w *world) error {
		return w.Records.DiscardDraft(ctx, by, w.spare.ID, "begun twice")
	}, "draft discarded", ""},
	{"issue", func(ctx context.Context, w *world) error {
		who := storetest.Issuer(storetest.ServiceDue("2027-11-20"))
		who.Post = func(p store.Plan, _ int) ([]records.Message, []store.Link) {
			return []records.Message{message("issue")}, []store.Link{{Token: store.NewToken(),
				ExpiresAt: p.Issued.IssuedAt.AddDate(1, 0, 0)}}
		}
		_, _, err := w.Records.Issue(ctx, by, w.draft.ID, w.draft.Revision, who)
		return err
	}, "record issued", ""},
	{"amendment issued", func(ctx context.Context, w *world) error {
		d := storetest.Draft(w.other.ID, records.Service, "2024-11-20")
		d.Replaces, d.AmendReason, d.ID = w.issued.Number, "a slip", "amendment"
		if _, err := w.Records.Record(ctx, d.ID); err != nil {
			if _, err := w.Records.StartDraft(context.Background(), by, d); err != nil {
				return err
			}
		}
		_, _, err := w.Records.Issue(ctx, by, d.ID, 1, storetest.Issuer(storetest.ServiceDue("2025-10-20")))
		return err
	}, "record issued", ""},
	{"withdrawal", func(ctx context.Context, w *world) error {
		return w.Records.Withdraw(ctx, by, w.issued.ID, "wrong house")
	}, "record withdrawn", ""},
	{"print", func(ctx context.Context, w *world) error {
		return errOf(w.Records.KeepPDF(ctx, by, w.unprinted.ID, []byte("%PDF-1.7 later")))
	}, "record printed", ""},
	{"photo", func(ctx context.Context, w *world) error {
		return errOf(w.Photos.Add(ctx, by, w.draft.ID, w.loose))
	}, "photo added", ""},
	{"caption", func(ctx context.Context, w *world) error {
		return errOf(w.Photos.Caption(ctx, by, w.draft.ID, w.photo.SHA256, w.photo.Caption, "Terminal"))
	}, "photo captioned", ""},
	{"photo removed", func(ctx context.Context, w *world) error {
		return errOf(w.Photos.Remove(ctx, by, w.draft.ID, w.photo.SHA256))
	}, "photo removed", ""},
	{"link", func(ctx context.Context, w *world) error {
		return errOf(w.Links.Add(ctx, by, w.issued.ID, "Tenant", storetest.Start.AddDate(1, 0, 0)))
	}, "link made", ""},
	{"link ended", func(ctx context.Context, w *world) error {
		return w.Links.End(ctx, by, w.link.ID, "sent to the wrong address")
	}, "link revoked", ""},
}

var chaseChanges = []change{
	{"booking", func(ctx context.Context, w *world) error {
		return errOf(w.Bookings.Add(ctx, by, records.NewBooking{ApplianceID: w.plain.ID, EngineerID: w.engineer.ID,
			DutyIDs: []string{w.unbooked.ID}, RequestID: w.visit, Today: bookingDay,
			Appointment: records.Appointment{On: records.MustDate("2026-12-03")}}))
	}, "visit booked", ""},
	{"booking moved", func(ctx context.Context, w *world) error {
		return errOf(w.Bookings.Move(ctx, by, w.booking.ID, records.Appointment{On: records.MustDate("2026-12-04")},
			w.owner.ID, "van broke down", bookingDay))
	}, "visit moved", ""},
	{"booking cancelled", func(ctx context.Context, w *world) error {
		return w.Bookings.Cancel(ctx, by, w.booking.ID, "customer away")
	}, "visit cancelled", ""},
	{"calendar", func(ctx context.Context, w *world) error {
		return errOf(w.Bookings.AddFeed(ctx, records.Actor{ID: w.engineer.ID, Name: "Maud"}, w.engineer.ID))
	}, "calendar address made", "Maud"},
	{"calendar ended", func(ctx context.Context, w *world) error {
		return w.Bookings.EndFeed(ctx, by, w.owner.ID, w.feed.ID)
	}, "calendar address ended", ""},
	{"contact attempt", func(ctx context.Context, w *world) error {
		return errOf(w.Chase.AddContactAttempt(ctx, by, w.plain.ID, "call", "no answer", records.Date{}))
	}, "contact attempt", ""},
	{"reminders", func(ctx context.Context, w *world) error {
		why, err := w.Chase.SendReminders(ctx, by, []store.Reminder{reminder(1, 1, w.unbooked)})
		if err == nil && why[0] != "" {
			err = errors.New(why[0])
		}
		return err
	}, "contact attempt", ""},
	{"letters", func(ctx context.Context, w *world) error {
		_, _, err := w.Chase.AddLetters(ctx, by, records.Firm{}, []store.Letter{{Name: "C",
			Steps: []store.DutyStep{{DutyID: w.unbooked.ID, Step: 1}}}})
		return err
	}, "contact attempt", ""},
	{"reminders stopped", func(ctx context.Context, w *world) error {
		return w.Chase.StopReminders(ctx, by, "customer1@home.example", "by telephone")
	}, "reminders stopped", ""},
	{"reminders resumed", func(ctx context.Context, w *world) error {
		return w.Chase.ResumeReminders(ctx, by, stopped, "asked by telephone")
	}, "reminders resumed", ""},
	{"visit asked for", func(ctx context.Context, w *world) error {
		return errOf(w.Requests.AddVisit(ctx, w.issued.ID, "Please come."))
	}, "visit requested", "customer"},
	{"visit request handled", func(ctx context.Context, w *world) error {
		return w.Requests.HandleVisit(ctx, by, w.visit)
	}, "visit request handled", ""},
	{"contact change asked for", func(ctx context.Context, w *world) error {
		return errOf(w.Requests.AskContact(ctx, w.issued.ID, "Third Wish", "", "third@home.example"))
	}, "contact change requested", "customer"},
	{"contact change confirmed", func(ctx context.Context, w *world) error {
		return w.Requests.ConfirmContact(ctx, by, w.contact)
	}, "contact change confirmed", ""},
	{"contact change refused", func(ctx context.Context, w *world) error {
		return w.Requests.RefuseContact(ctx, by, w.contact)
	}, "contact change refused", ""},
}

var messageChanges = []change{
	{"message", func(ctx context.Context, w *world) error {
		return errOf(w.Outbox.Enqueue(ctx, by, message("new"), message("newer")))
	}, "message queued", ""},
	{"message claimed", func(ctx context.Context, w *world) error {
		m, err := w.Outbox.ClaimDue(ctx, storetest.Start.Add(time.Hour), time.Minute)
		if err == nil && (m == nil || m.ID != w.due) {
			err = fmt.Errorf("claimed %+v", m)
		}
		return err
	}, "", ""},
	{"token put in", func(ctx context.Context, w *world) error {
		all, _, err := w.Outbox.Find(context.Background(), store.OutboxQuery{Limit: 100})
		for _, m := range all {
			if err == nil && m.Kind == records.InvitationKind {
				return errOf(w.Outbox.PutIn(ctx, m.ID))
			}
		}
		return fmt.Errorf("no invitation: %w", err)
	}, "", ""},
	{"messages recovered", func(ctx context.Context, w *world) error {
		n, err := w.Outbox.RecoverSending(ctx)
		if err == nil && n != 1 {
			err = fmt.Errorf("recovered %d", n)
		}
		return err
	}, "message unsure", "system"},
	{"message sent", func(ctx context.Context, w *world) error {
		return w.Outbox.MarkSent(ctx, w.sending, "250 ok")
	}, "message sent", "system"},
	{"message retried", func(ctx context.Context, w *world) error {
		return w.Outbox.MarkRetry(ctx, w.sending, storetest.Start.Add(2*time.Hour), "451 later")
	}, "message due", "system"},
	{"message failed", func(ctx context.Context, w *world) error {
		return w.Outbox.MarkFailed(ctx, w.sending, "550 no")
	}, "message failed", "system"},
	{"message unsure", func(ctx context.Context, w *world) error {
		return w.Outbox.MarkUnsure(ctx, w.sending, "the line broke")
	}, "message unsure", "system"},
	{"message settled", func(ctx context.Context, w *world) error {
		return w.Outbox.SettleSent(ctx, by, w.unsure, "the customer has it")
	}, "message sent", ""},
	{"message requeued", func(ctx context.Context, w *world) error {
		return w.Outbox.Requeue(ctx, by, w.failed)
	}, "message due", ""},
	{"message bounced", func(ctx context.Context, w *world) error {
		return w.Outbox.Bounce(ctx, by, w.sent, "no such box")
	}, "message failed", ""},
	{"webhook", func(ctx context.Context, w *world) error {
		return errOf(w.Webhooks.Add(ctx, by, "https://other.example/", records.WebhookEvents, today, false))
	}, "webhook added", ""},
	{"webhook ended", func(ctx context.Context, w *world) error {
		return w.Webhooks.End(ctx, by, w.hook.ID)
	}, "webhook ended", ""},
	{"late duties announced", func(ctx context.Context, w *world) error {
		n, err := w.Webhooks.AnnounceLate(ctx, today.AddDays(30))
		if err == nil && n != 1 {
			err = fmt.Errorf("announced %d", n)
		}
		return err
	}, "", ""},
	{"deliveries recovered", func(ctx context.Context, w *world) error {
		return w.Webhooks.RecoverDeliveries(ctx)
	}, "", ""},
	{"delivery made", func(ctx context.Context, w *world) error {
		return w.Webhooks.MarkDelivered(ctx, w.flying, 204)
	}, "", ""},
	{"delivery failed", func(ctx context.Context, w *world) error {
		return w.Webhooks.MarkUndelivered(ctx, w.flying, 500, "no", storetest.Start.Add(time.Hour))
	}, "", ""},
	{"delivery sent again", func(ctx context.Context, w *world) error {
		return w.Webhooks.Resend(ctx, by, w.hook.ID, w.delivered)
	}, "webhook event sent again", ""},
}

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
