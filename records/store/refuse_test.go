package store_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// refusal is a call that is refused, and how.
type refusal struct {
	name string
	do   func(*world) error
	kind records.Kind
	says string // a part of the message, so that it is refused for that reason
}

var (
	year   = storetest.Start.AddDate(1, 0, 0)
	absent = "there is no"
)

var refusals = slices.Concat(settingRefusals, peopleRefusals, registerRefusals, recordRefusals, photoRefusals,
	chaseRefusals, messageRefusals)

var settingRefusals = []refusal{
	{"firm without a name", func(w *world) error { return w.Settings.SaveFirm(ctx, by, records.Firm{}) },
		records.Invalid, "Name of the firm"},
	{"firm with two lines", func(w *world) error {
		return w.Settings.SaveFirm(ctx, by, records.Firm{Name: "A", Address: "1\n2"})
	}, records.Invalid, "one line"},
	{"instrument of no kind", func(w *world) error {
		return errOf(w.Settings.SaveInstrument(ctx, by, records.Instrument{Kind: "hammer", Serial: "1"}))
	}, records.Invalid, "Kind"},
	{"instrument without a serial number", func(w *world) error {
		return errOf(w.Settings.SaveInstrument(ctx, by, records.Instrument{Kind: "gauge"}))
	}, records.Invalid, "Serial number"},
	{"instrument due before it was calibrated", func(w *world) error {
		return errOf(w.Settings.SaveInstrument(ctx, by, records.Instrument{Kind: "gauge", Serial: "1",
			CalibratedOn: records.MustDate("2026-01-01"), CalibrationDue: records.MustDate("2025-12-31")}))
	}, records.Invalid, "a date after"},
	{"drop bands that are no numbers", func(w *world) error {
		return w.Settings.SaveDropBands(ctx, by, records.DropBands{Edition: records.Edition4, Fuel: records.FuelNatural,
			Clause: "1", EnteredBy: "O", Bands: []records.DropBand{{UpToM3: math.NaN(), DropMbar: 1}}})
	}, records.Invalid, "volume up to"},
	{"ladder out of reach", func(w *world) error {
		return w.Settings.SaveReminders(ctx, by, due.ReminderSettings{Steps: due.Ladder{99}})
	}, records.Invalid, ""},
}

var peopleRefusals = []refusal{
	{"person without a name", func(w *world) error {
		return errOf(w.People.Create(ctx, by, records.Person{Email: "a@b.example", Role: records.RoleOffice}))
	}, records.Invalid, "Name"},
	{"address of somebody else", func(w *world) error {
		return errOf(w.People.Create(ctx, by, records.Person{Name: "A", Email: "MAUD@tweddle.example",
			Role: records.RoleOffice}))
	}, records.Conflict, "somebody else"},
	{"address of somebody else, later", func(w *world) error {
		p := w.engineer
		p.Email = w.owner.Email
		return errOf(w.People.Update(ctx, by, p))
	}, records.Conflict, "somebody else"},
	{"last owner", func(w *world) error {
		p := w.owner
		p.Active = false
		return errOf(w.People.Update(ctx, by, p))
	}, records.Conflict, "last active owner"},
	{"nobody", func(w *world) error {
		return errOf(w.People.Update(ctx, by, records.Person{ID: "none", Name: "A", Email: "a@b.example",
			Role: records.RoleOffice}))
	}, records.NotFound, absent},
	{"nobody's password", func(w *world) error { return w.People.SetPassword(ctx, by, "none", "hash") },
		records.NotFound, absent},
	{"nobody by id", func(w *world) error { return errOf(w.People.ByID(ctx, "none")) }, records.NotFound, absent},
	{"nobody by address", func(w *world) error { return errOf(w.People.ByEmail(ctx, "x@y.example")) },
		records.NotFound, absent},
	{"invitation of nobody", func(w *world) error { return errOf(w.People.Invite(ctx, by, "none", inviteLetter)) },
		records.NotFound, absent},
	{"invitation of a closed account", func(w *world) error {
		return errOf(w.People.Invite(ctx, by, w.closed.ID, inviteLetter))
	}, records.Conflict, "closed"},
	{"invitation whose letter cannot go", func(w *world) error {
		return errOf(w.People.Invite(ctx, by, w.engineer.ID, func(records.Person, records.Invitation) records.Message {
			return records.Message{}
		}))
	}, records.Invalid, ""},
	{"no invitation to take back", func(w *world) error { return w.People.RevokeInvitation(ctx, by, w.owner.ID) },
		records.NotFound, "no invitation"},
	{"invitation of another", func(w *world) error { return errOf(w.People.Invited(ctx, w.link.Token)) },
		records.NotFound, "does not work"},
	{"invitation accepted with no token", func(w *world) error {
		return errOf(w.People.AcceptInvitation(ctx, "", "hash"))
	}, records.NotFound, "does not work"},
	{"key without a label", func(w *world) error { return errOf(w.People.NewKey(ctx, by, w.engineer.ID, " ")) },
		records.Invalid, "What it is for"},
	{"key of nobody", func(w *world) error { return errOf(w.People.NewKey(ctx, by, "none", "van")) },
		records.NotFound, absent},
	{"key that was revoked", func(w *world) error { return errOf(w.People.ByKey(ctx, w.ended.Token)) },
		records.NotFound, absent},
	{"key of another", func(w *world) error { return w.People.RevokeKey(ctx, by, w.owner.ID, w.key.ID) },
		records.NotFound, absent},
	{"short key of a request", func(w *world) error {
		return errOf(w.Once(ctx, "p", "short", "f", func() (store.Answer, error) { return store.Answer{}, nil }))
	}, records.Invalid, "Idempotency-Key"},
}

var registerRefusals = []refusal{
	{"property without a town", func(w *world) error {
		p := storetest.Property(1)
		p.Town = ""
		return errOf(w.Register.CreateProperty(ctx, by, p))
	}, records.Invalid, "Town"},
	{"property that is none", func(w *world) error {
		p := storetest.Property(1)
		p.ID = "none"
		return errOf(w.Register.UpdateProperty(ctx, by, p))
	}, records.NotFound, absent},
	{"property changed to nothing", func(w *world) error {
		return errOf(w.Register.UpdateProperty(ctx, by, records.PropertyEntry{ID: w.plain.PropertyID}))
	}, records.Invalid, ""},
	{"no property", func(w *world) error { return errOf(w.Register.Property(ctx, "none")) }, records.NotFound, absent},
	{"no postcode", func(w *world) error { return errOf(w.Register.PropertiesIn(ctx, "here")) }, records.Invalid, ""},
	{"appliance nowhere", func(w *world) error {
		return errOf(w.Register.CreateAppliance(ctx, by, "none", nil))
	}, records.NotFound, absent},
	{"appliance that is none", func(w *world) error {
		return errOf(w.Register.UpdateAppliance(ctx, by, "none", nil))
	}, records.NotFound, absent},
	{"no appliance", func(w *world) error { return errOf(w.Register.Appliance(ctx, "none")) },
		records.NotFound, absent},
	{"appliances nowhere", func(w *world) error { return errOf(w.Register.AppliancesAt(ctx, "none")) },
		records.NotFound, absent},
	{"no visits", func(w *world) error { return errOf(w.Register.Followed(ctx, "none", 3)) },
		records.NotFound, absent},
	{"retired without a reason", func(w *world) error { return w.Register.RetireAppliance(ctx, by, w.plain.ID, "") },
		records.Invalid, "Reason"},
	{"retired twice", func(w *world) error { return w.Register.RetireAppliance(ctx, by, w.retired.ID, "again") },
		records.Conflict, "retired already: taken out"},
	{"retired nothing", func(w *world) error { return w.Register.RetireAppliance(ctx, by, "none", "why") },
		records.NotFound, absent},
	{"duty of no kind", func(w *world) error {
		return errOf(w.Duties.Add(ctx, by, w.plain.ID, duty("party", "2027-01-01")))
	}, records.Invalid, "one of"},
	{"duty without a date", func(w *world) error {
		return errOf(w.Duties.Add(ctx, by, w.plain.ID, records.Duty{Kind: records.TenantCopy}))
	}, records.Invalid, "YYYY-MM-DD"},
	{"duty of nothing", func(w *world) error {
		return errOf(w.Duties.Add(ctx, by, "none", duty(records.TenantCopy, "2027-01-01")))
	}, records.NotFound, absent},
	{"duty of a retired appliance", func(w *world) error {
		return errOf(w.Duties.Add(ctx, by, w.retired.ID, duty(records.TenantCopy, "2027-01-01")))
	}, records.Conflict, "retired"},
	{"duties of nothing", func(w *world) error { return errOf(w.Duties.OfAppliance(ctx, "none")) },
		records.NotFound, absent},
	{"lifted without a reason", func(w *world) error { return w.Duties.Lift(ctx, by, w.service.ID, " ") },
		records.Invalid, "Reason"},
	{"lifted twice", func(w *world) error { return w.Duties.Lift(ctx, by, w.closedDuty.ID, "why") },
		records.Conflict, "already done: reference 12"},
	{"lifted nothing", func(w *world) error { return w.Duties.Lift(ctx, by, "none", "why") }, records.NotFound, absent},
	{"finished nothing", func(w *world) error { return w.Duties.Finish(ctx, by, "none", "how") },
		records.NotFound, absent},
	{"duties in no state", func(w *world) error {
		_, _, err := w.Duties.List(ctx, store.DutyListQuery{State: "soon", Today: today})
		return err
	}, records.Invalid, "one of late"},
	{"closed duties of any kind", func(w *world) error {
		_, _, err := w.Duties.List(ctx, store.DutyListQuery{State: records.Lifted, Today: today})
		return err
	}, records.Invalid, "a kind of duty"},
	{"closed duties after something else", func(w *world) error {
		_, _, err := w.Duties.List(ctx, store.DutyListQuery{Kind: records.TenantCopy, State: records.Done,
			After: store.Cursor("duty", "x", 1)})
		return err
	}, records.Invalid, "cursor"},
	{"duties after nothing", func(w *world) error {
		_, _, err := w.Duties.Find(ctx, store.DutyQuery{After: "!"})
		return err
	}, records.Invalid, "cursor"},
	{"list with a contact of its own", func(w *world) error {
		return errOf(w.Bulk.ImportList(ctx, by, store.ListOptions{}, listed(2, func(i int, it *store.ListItem) {
			it.Property = storetest.Property(77).Property
		})))
	}, records.Conflict, "another contact"},
	{"view of nothing", func(w *world) error {
		return w.Bulk.EachInView(ctx, store.Query{Sort: "size"}, func(store.ViewRow) error { return nil })
	}, records.Invalid, "due or address"},
	{"register over a register", func(w *world) error {
		return errOf(w.Bulk.Restore(ctx, by, store.RestoreOptions{}, strings.NewReader("")))
	}, records.Conflict, "not empty"},
	{"filled over a register", func(w *world) error {
		return errOf(w.Bulk.Fill(ctx, by, 1, generated, nil))
	}, records.Conflict, "holds appliances already"},
}

var recordRefusals = []refusal{
	{"draft of nothing", func(w *world) error {
		return errOf(w.Records.StartDraft(ctx, by, storetest.Draft("none", records.Service, "2026-11-20")))
	}, records.NotFound, absent},
	{"draft of a retired appliance", func(w *world) error {
		return errOf(w.Records.StartDraft(ctx, by, storetest.Draft(w.retired.ID, records.Service, "2026-11-20")))
	}, records.Conflict, "retired"},
	{"draft with the id of a record of another", func(w *world) error {
		d := storetest.Draft(w.plain.ID, records.Service, "2026-11-20")
		d.ID = w.issued.ID
		return errOf(w.Records.StartDraft(ctx, by, d))
	}, records.Conflict, "another record"},
	{"draft with a path for an id", func(w *world) error {
		d := storetest.Draft(w.plain.ID, records.Service, "2026-11-20")
		d.ID = "a/b"
		return errOf(w.Records.StartDraft(ctx, by, d))
	}, records.Invalid, "letters, digits"},
	{"draft that amends an amended record", func(w *world) error { return startAmending(w, w.amended.Number) },
		records.Conflict, "amended already, by " + records.NumberOf(2026, 2)},
	{"draft that amends a withdrawn record", func(w *world) error { return startAmending(w, w.withdrawn.Number) },
		records.Conflict, "withdrawn: wrong house"},
	{"draft that amends nothing", func(w *world) error { return startAmending(w, "2020-00001") },
		records.NotFound, absent},
	{"draft that amends another appliance's record", func(w *world) error {
		d := storetest.Draft(w.plain.ID, records.Service, "2026-11-20")
		d.Replaces = w.issued.Number
		return errOf(w.Records.StartDraft(ctx, by, d))
	}, records.Conflict, "another appliance"},
	{"no record", func(w *world) error { return errOf(w.Records.Record(ctx, "none")) }, records.NotFound, absent},
	{"save of nothing", func(w *world) error {
		return errOf(w.Records.SaveDraft(ctx, by, &records.Record{ID: "none"}, 1))
	}, records.NotFound, absent},
	{"save that is too long", func(w *world) error {
		r := *w.draft
		r.AmendReason = strings.Repeat("x", records.MaxDocument)
		return errOf(w.Records.SaveDraft(ctx, by, &r, r.Revision))
	}, records.Invalid, ""},
	{"refused entries that are too long", func(w *world) error {
		r := *w.draft
		r.Rejected = map[string]records.Rejection{"a": {Entry: strings.Repeat("x", records.MaxDocument)}}
		return errOf(w.Records.SaveDraft(ctx, by, &r, r.Revision))
	}, records.Invalid, "Entries not accepted"},
	{"discarded without a reason", func(w *world) error { return w.Records.DiscardDraft(ctx, by, w.draft.ID, "") },
		records.Invalid, "Reason"},
	{"discarded nothing", func(w *world) error { return w.Records.DiscardDraft(ctx, by, "none", "why") },
		records.NotFound, absent},
	{"discarded an issued record", func(w *world) error { return w.Records.DiscardDraft(ctx, by, w.issued.ID, "why") },
		records.Conflict, "can only be withdrawn"},
	{"issued nothing", func(w *world) error { return issueAs(w, "none", 1) }, records.NotFound, absent},
	{"issued twice", func(w *world) error { return issueAs(w, w.issued.ID, 1) }, records.Conflict, "issued already"},
	{"issued at another revision", func(w *world) error { return issueAs(w, w.draft.ID, 9) },
		records.Conflict, "it is at revision 1, not 9"},
	{"draft as an issued record", func(w *world) error { return errOf(w.Records.Issued(ctx, w.draft.ID)) },
		records.NotFound, absent},
	{"print of a draft", func(w *world) error { return errOf(w.Records.PDF(ctx, w.draft.ID)) },
		records.NotFound, absent},
	{"print not made yet", func(w *world) error { return errOf(w.Records.PDF(ctx, w.unprinted.ID)) },
		records.NotFound, absent},
	{"kept print of a draft", func(w *world) error {
		return errOf(w.Records.KeepPDF(ctx, by, w.draft.ID, []byte("%PDF-1.7")))
	}, records.NotFound, absent},
	{"kept print that is none", func(w *world) error {
		return errOf(w.Records.KeepPDF(ctx, by, w.unprinted.ID, []byte("GIF89a")))
	}, records.Internal, "no PDF"},
	{"withdrawn without a reason", func(w *world) error { return w.Records.Withdraw(ctx, by, w.issued.ID, "") },
		records.Invalid, "Reason"},
	{"withdrawn nothing", func(w *world) error { return w.Records.Withdraw(ctx, by, "none", "why") },
		records.NotFound, absent},
	{"withdrawn a draft", func(w *world) error { return w.Records.Withdraw(ctx, by, w.draft.ID, "why") },
		records.Conflict, "this one is draft"},
	{"withdrawn an amended record", func(w *world) error { return w.Records.Withdraw(ctx, by, w.amended.ID, "why") },
		records.Conflict, "this one is amended"},
	{"withdrawn twice", func(w *world) error { return w.Records.Withdraw(ctx, by, w.withdrawn.ID, "why") },
		records.Conflict, "this one is withdrawn"},
	{"history of nothing", func(w *world) error { return errOf(w.Records.History(ctx, "none")) },
		records.NotFound, absent},
	{"readings of nothing", func(w *world) error { return errOf(w.Records.Earlier(ctx, "none", "")) },
		records.NotFound, absent},
	{"link to a draft", func(w *world) error { return errOf(w.Links.Add(ctx, by, w.draft.ID, "C", year)) },
		records.NotFound, absent},
	{"link that has run out", func(w *world) error {
		return errOf(w.Links.Add(ctx, by, w.issued.ID, "C", storetest.Start))
	}, records.Invalid, "a time to come"},
	{"link for two lines", func(w *world) error { return errOf(w.Links.Add(ctx, by, w.issued.ID, "a\nb", year)) },
		records.Invalid, "Given to"},
	{"no link", func(w *world) error { return errOf(w.Links.ByToken(ctx, store.NewToken())) },
		records.NotFound, absent},
	{"link ended without a reason", func(w *world) error { return w.Links.End(ctx, by, w.link.ID, "") },
		records.Invalid, "Reason"},
	{"link ended that is none", func(w *world) error { return w.Links.End(ctx, by, "none", "why") },
		records.NotFound, absent},
}

// startAmending starts a draft in place of a record.
func startAmending(w *world, number string) error {
	d := storetest.Draft(w.other.ID, records.Service, "2026-11-20")
	d.Replaces = number
	return errOf(w.Records.StartDraft(ctx, by, d))
}

func issueAs(w *world, id string, revision int) error {
	_, _, err := w.Records.Issue(ctx, by, id, revision, storetest.Issuer())
	return err
}

var photoRefusals = []refusal{
	{"photo that is not kept", func(w *world) error {
		return errOf(w.Photos.Add(ctx, by, w.draft.ID, records.Photo{SHA256: strings.Repeat("ab", 32), Section: "flue",
			Width: 1, Height: 1}))
	}, records.NotFound, absent},
	{"photo of no record", func(w *world) error { return errOf(w.Photos.Add(ctx, by, "none", w.loose)) },
		records.NotFound, absent},
	{"photo of an issued record", func(w *world) error { return errOf(w.Photos.Add(ctx, by, w.issued.ID, w.loose)) },
		records.Conflict, "cannot change"},
	{"photo in two sections", func(w *world) error {
		p := w.photo
		p.Section = "heat"
		return errOf(w.Photos.Add(ctx, by, w.draft.ID, p))
	}, records.Conflict, "the same picture already, under “"},
	{"caption that is too long", func(w *world) error {
		return errOf(w.Photos.Caption(ctx, by, w.draft.ID, w.photo.SHA256, "", strings.Repeat("x", 121)))
	}, records.Invalid, ""},
	{"caption of no photo", func(w *world) error {
		return errOf(w.Photos.Caption(ctx, by, w.draft.ID, w.loose.SHA256, "", "x"))
	}, records.NotFound, absent},
	{"caption over another", func(w *world) error {
		return errOf(w.Photos.Caption(ctx, by, w.draft.ID, w.photo.SHA256, "what I saw", "x"))
	}, records.Conflict, "somebody else changed"},
	{"photo taken off an issued record", func(w *world) error {
		return errOf(w.Photos.Remove(ctx, by, w.issued.ID, w.photo.SHA256))
	}, records.Conflict, "cannot change"},
	{"photo taken off nothing", func(w *world) error {
		return errOf(w.Photos.Remove(ctx, by, "none", w.photo.SHA256))
	}, records.NotFound, absent},
	{"picture that is not kept", func(w *world) error { return errOf(w.Photos.Picture(strings.Repeat("cd", 32))) },
		records.NotFound, absent},
}

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

// Each refusal is of its kind, says why, and changes nothing at all.
func TestRefusals(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	was := read(t, w.path)
	for _, r := range refusals {
		err := r.do(w)
		if err == nil || records.KindOf(err) != r.kind || !strings.Contains(err.Error(), r.says) {
			t.Errorf("%s: error %v (%s), want %s with %q", r.name, err, records.KindOf(err), r.kind, r.says)
		}
		var one *records.Error
		if r.kind == records.Invalid && errors.As(err, &one) && one.Want == "" && one.Msg == "" {
			t.Errorf("%s: the error does not say what would be accepted: %v", r.name, err)
		}
		if changed := read(t, w.path).changed(was); len(changed) > 0 {
			t.Fatalf("%s changed %v", r.name, changed)
		}
	}
	if len(refusals) < 120 {
		t.Errorf("only %d refusals", len(refusals))
	}
}
