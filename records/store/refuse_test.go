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
