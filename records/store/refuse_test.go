package store_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// refusal is a call that is refused, and how.
type refusal struct {
	name string
	do   func(*world) error
	kind records.ErrorKind
	says string // a part of the message, so that it is refused for that reason
}

var (
	year   = storetest.Start.AddDate(1, 0, 0)
	absent = "there is no"
)

var refusals = slices.Concat(settingRefusals, peopleRefusals, secondRefusals, registerRefusals, recordRefusals,
	photoRefusals, chaseRefusals, messageRefusals)

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
		return errOf(w.Once(ctx, "p", "short", "f", store.Deed{}))
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

// Each refusal is of its kind, says why, and changes nothing at all.
func TestRefusals(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	look := reader(t, w.path)
	was := look()
	for _, r := range refusals {
		err := r.do(w)
		if err == nil || records.KindOf(err) != r.kind || !strings.Contains(err.Error(), r.says) {
			t.Errorf("%s: error %v (%s), want %s with %q", r.name, err, records.KindOf(err), r.kind, r.says)
		}
		var one *records.Error
		if r.kind == records.Invalid && errors.As(err, &one) && one.Want == "" && one.Msg == "" {
			t.Errorf("%s: the error does not say what would be accepted: %v", r.name, err)
		}
		if changed := look().changed(was); len(changed) > 0 {
			t.Fatalf("%s changed %v", r.name, changed)
		}
	}
	if len(refusals) < 120 {
		t.Errorf("only %d refusals", len(refusals))
	}
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
	{"taken over nothing", func(w *world) error { return takeOver(w, "none", 1) }, records.NotFound, absent},
	{"taken over what is issued", func(w *world) error { return takeOver(w, w.issued.ID, 1) }, records.Conflict,
		"issued already"},
	{"taken over at another revision", func(w *world) error { return takeOver(w, w.draft.ID, 9) }, records.Conflict,
		"it is at revision 1, not 9"},
	{"taken over one's own", func(w *world) error {
		return errOf(w.Records.TakeOver(ctx, storetest.Actor, w.draft, 1, records.Signatory{}))
	}, records.Conflict, "yours already"},
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

func takeOver(w *world, id string, revision int) error {
	return errOf(w.Records.TakeOver(ctx, w.engineer.Actor(), &records.Record{ID: id}, revision,
		records.Signatory{ID: storetest.Actor.ID}))
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
