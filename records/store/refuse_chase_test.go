package store_test

import (
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
)

// visitOn is a booking of the plain appliance.
func (w *world) visitOn(day string, duties ...string) records.NewBooking {
	return records.NewBooking{ApplianceID: w.plain.ID, EngineerID: w.engineer.ID, DutyIDs: duties, Today: bookingDay,
		Note: "to look", Appointment: records.Appointment{On: records.MustDate(day)}}
}

func book(w *world, change func(*records.NewBooking)) error {
	b := w.visitOn("2026-12-03", w.unbooked.ID)
	change(&b)
	return errOf(w.Bookings.Add(ctx, by, b))
}

func move(w *world, id, why string) error {
	return errOf(w.Bookings.Move(ctx, by, id, records.Appointment{On: records.MustDate("2026-12-05")}, w.engineer.ID,
		why, bookingDay))
}

var chaseRefusals = []refusal{
	{"visit to nothing", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.ApplianceID = "none" })
	}, records.NotFound, absent},
	{"visit to a retired appliance", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.ApplianceID = w.retired.ID })
	}, records.Conflict, "retired"},
	{"visit in the past", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.On = records.MustDate("2026-01-01") })
	}, records.Invalid, ""},
	{"visit by nobody", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.EngineerID = "none" })
	}, records.Invalid, "an engineer of the firm"},
	{"visit by the office", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.EngineerID = w.closed.ID })
	}, records.Invalid, "takes readings"},
	{"visit for a closed duty", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.DutyIDs = []string{w.closedDuty.ID} })
	}, records.Conflict, "is done already"},
	{"visit for a booked duty", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.DutyIDs = []string{w.unbooked.ID, w.service.ID} })
	}, records.Conflict, "booked already, on 1 December 2026"},
	{"visit for another appliance's duty", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.ApplianceID = w.other.ID })
	}, records.NotFound, absent},
	{"visit for a handled request", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.RequestID = w.handled })
	}, records.Conflict, "dealt with by Rhona"},
	{"visit for no request", func(w *world) error {
		return book(w, func(b *records.NewBooking) { b.RequestID = "none" })
	}, records.NotFound, absent},
	{"moved without a reason", func(w *world) error { return move(w, w.booking.ID, "") }, records.Invalid, "Why"},
	{"moved nothing", func(w *world) error { return move(w, "none", "why") }, records.NotFound, absent},
	{"moved what is cancelled", func(w *world) error { return move(w, w.cancelled.ID, "why") },
		records.Conflict, "cancelled already"},
	{"cancelled twice", func(w *world) error { return w.Bookings.Cancel(ctx, by, w.cancelled.ID, "why") },
		records.Conflict, "cancelled already"},
	{"cancelled without a reason", func(w *world) error { return w.Bookings.Cancel(ctx, by, w.booking.ID, "") },
		records.Invalid, "Reason"},
	{"no booking", func(w *world) error { return errOf(w.Bookings.ByID(ctx, "none")) }, records.NotFound, absent},
	{"calendar of nobody", func(w *world) error {
		return errOf(w.Bookings.AddFeed(ctx, records.Actor{ID: w.owner.ID}, "none"))
	}, records.NotFound, absent},
	{"no calendar", func(w *world) error { return errOf(w.Bookings.FeedByToken(ctx, store.NewToken())) },
		records.NotFound, "no such calendar"},
	{"calendar of another", func(w *world) error { return w.Bookings.EndFeed(ctx, by, w.engineer.ID, w.feed.ID) },
		records.NotFound, absent},
	{"attempt without a way", func(w *world) error {
		return errOf(w.Chase.AddContactAttempt(ctx, by, w.plain.ID, "", "", records.Date{}))
	}, records.Invalid, ""},
	{"attempt about nothing", func(w *world) error {
		return errOf(w.Chase.AddContactAttempt(ctx, by, "none", "call", "x", records.Date{}))
	}, records.NotFound, absent},
	{"attempts about nothing", func(w *world) error { return errOf(w.Chase.ContactAttempts(ctx, "none")) },
		records.NotFound, absent},
	{"reminder of nothing", func(w *world) error {
		return errOf(w.Chase.SendReminders(ctx, by, []store.Reminder{{Stop: store.NewToken()}}))
	}, records.Invalid, "at least one duty"},
	{"reminder of no duty", func(w *world) error {
		return errOf(w.Chase.SendReminders(ctx, by, []store.Reminder{reminder(1, 1, records.OpenDuty{ID: "none"})}))
	}, records.NotFound, absent},
	{"reminder that cannot be stopped", func(w *world) error {
		r := reminder(1, 1, w.unbooked)
		r.Stop = "short"
		return errOf(w.Chase.SendReminders(ctx, by, []store.Reminder{r}))
	}, records.Invalid, "NewToken"},
	{"letters of which none is left", func(w *world) error {
		_, _, err := w.Chase.AddLetters(ctx, by, records.Firm{}, []store.Letter{{
			Steps: []store.DutyStep{{DutyID: w.service.ID, Step: 1}}}})
		return err
	}, records.Conflict, "a visit is booked"},
	{"no batch", func(w *world) error { return errOf(w.Chase.LetterBatch(ctx, "none")) }, records.NotFound, absent},
	{"stopped no address", func(w *world) error { return w.Chase.StopReminders(ctx, by, "", "by telephone") },
		records.Invalid, "E-mail"},
	{"resumed without a reason", func(w *world) error { return w.Chase.ResumeReminders(ctx, by, stopped, "") },
		records.Invalid, "Reason"},
	{"resumed what was not stopped", func(w *world) error {
		return w.Chase.ResumeReminders(ctx, by, "a@b.example", "why")
	}, records.NotFound, absent},
	{"no stop link", func(w *world) error { return errOf(w.Chase.StopLink(ctx, store.NewToken())) },
		records.NotFound, "not known here"},
	{"customer of nothing", func(w *world) error { return errOf(w.Chase.Customer(ctx, "none")) },
		records.NotFound, absent},
	{"request without words", func(w *world) error { return errOf(w.Requests.AddVisit(ctx, w.issued.ID, " ")) },
		records.Invalid, "What we can do"},
	{"request about a draft", func(w *world) error { return errOf(w.Requests.AddVisit(ctx, w.draft.ID, "x")) },
		records.NotFound, absent},
	{"request handled twice", func(w *world) error { return w.Requests.HandleVisit(ctx, by, w.handled) },
		records.Conflict, "dealt with by Rhona"},
	{"contact change that changes nothing", func(w *world) error {
		k := w.other.Contact
		return errOf(w.Requests.AskContact(ctx, w.issued.ID, k.Name, k.Phone, k.Email))
	}, records.Invalid, "on file already"},
	{"contact change to no address", func(w *world) error {
		return errOf(w.Requests.AskContact(ctx, w.issued.ID, "A", "", "no address"))
	}, records.Invalid, ""},
	{"contact change about a draft", func(w *world) error {
		return errOf(w.Requests.AskContact(ctx, w.draft.ID, "A", "", "a@b.example"))
	}, records.NotFound, absent},
	{"contact change settled twice", func(w *world) error { return w.Requests.ConfirmContact(ctx, by, w.settled) },
		records.Conflict, "was refused by Rhona"},
	{"contact change that is none", func(w *world) error { return w.Requests.RefuseContact(ctx, by, "none") },
		records.NotFound, absent},
}

var messageRefusals = []refusal{
	{"message to nobody", func(w *world) error {
		return errOf(w.Outbox.Enqueue(ctx, by, records.Message{Kind: "x", Subject: "s", Text: "t"}))
	}, records.Invalid, ""},
	{"messages of which one cannot go", func(w *world) error {
		return errOf(w.Outbox.Enqueue(ctx, by, message("good"), records.Message{Kind: "x"}))
	}, records.Invalid, ""},
	{"no message", func(w *world) error { return errOf(w.Outbox.Message(ctx, "none")) }, records.NotFound, absent},
	{"sent nothing", func(w *world) error { return w.Outbox.MarkSent(ctx, "none", "") }, records.NotFound, absent},
	{"sent what was due", func(w *world) error { return w.Outbox.MarkSent(ctx, w.due, "") },
		records.Conflict, "is due and cannot become sent"},
	{"retried what was sent", func(w *world) error { return w.Outbox.MarkRetry(ctx, w.sent, year, "") },
		records.Conflict, "is sent and cannot become due"},
	{"failed what was sent", func(w *world) error { return w.Outbox.MarkFailed(ctx, w.sent, "") },
		records.Conflict, "cannot become failed"},
	{"unsure of what failed", func(w *world) error { return w.Outbox.MarkUnsure(ctx, w.failed, "") },
		records.Conflict, "cannot become unsure"},
	{"settled what was not unsure", func(w *world) error { return w.Outbox.SettleSent(ctx, by, w.failed, "x") },
		records.Conflict, "is failed"},
	{"requeued what is being sent", func(w *world) error { return w.Outbox.Requeue(ctx, by, w.sending) },
		records.Conflict, "is sending"},
	{"requeued nothing", func(w *world) error { return w.Outbox.Requeue(ctx, by, "none") }, records.NotFound, absent},
	{"bounced without a reason", func(w *world) error { return w.Outbox.Bounce(ctx, by, w.sent, "") },
		records.Invalid, "Why it came back"},
	{"bounced what was never sent", func(w *world) error { return w.Outbox.Bounce(ctx, by, w.due, "x") },
		records.Conflict, "is due"},
	{"messages after nothing", func(w *world) error {
		_, _, err := w.Outbox.Find(ctx, store.OutboxQuery{After: store.Cursor("duty", "", 1)})
		return err
	}, records.Invalid, "cursor"},
	{"webhook in the clear", func(w *world) error {
		return errOf(w.Webhooks.Add(ctx, by, "http://office.example/", records.WebhookEvents, today, true))
	}, records.Invalid, ""},
	{"webhook for nothing", func(w *world) error {
		return errOf(w.Webhooks.Add(ctx, by, "https://office.example/", nil, today, false))
	}, records.Invalid, ""},
	{"no webhook", func(w *world) error { return errOf(w.Webhooks.ByID(ctx, "none")) }, records.NotFound, absent},
	{"ended no webhook", func(w *world) error { return w.Webhooks.End(ctx, by, "none") }, records.NotFound, absent},
	{"delivered what was delivered", func(w *world) error { return w.Webhooks.MarkDelivered(ctx, w.delivered, 200) },
		records.Conflict, "is delivered"},
	{"delivered nothing", func(w *world) error { return w.Webhooks.MarkDelivered(ctx, "none", 200) },
		records.NotFound, absent},
	{"failed what was delivered", func(w *world) error {
		return w.Webhooks.MarkUndelivered(ctx, w.delivered, 500, "x", time.Time{})
	}, records.Conflict, "is delivered"},
	{"resent what is on its way", func(w *world) error { return w.Webhooks.Resend(ctx, by, w.hook.ID, w.flying) },
		records.Conflict, "on its way"},
	{"resent for another webhook", func(w *world) error {
		return w.Webhooks.Resend(ctx, by, w.endedHook.ID, w.delivered)
	}, records.NotFound, absent},
	{"resent for no webhook", func(w *world) error { return w.Webhooks.Resend(ctx, by, "none", w.delivered) },
		records.NotFound, absent},
	{"deliveries of no webhook", func(w *world) error {
		_, _, err := w.Webhooks.Deliveries(ctx, "none", "", 5)
		return err
	}, records.NotFound, absent},
	{"deliveries after nothing", func(w *world) error {
		_, _, err := w.Webhooks.Deliveries(ctx, w.hook.ID, "!", 5)
		return err
	}, records.Invalid, "cursor"},
	{"backup over a file", func(w *world) error { return w.Backup(ctx, w.path) }, records.Conflict, "never overwrites"},
}
