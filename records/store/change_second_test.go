package store_test

import (
	"context"
	"strconv"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// aPasskey is one of the engineer's, with a credential of its own.
func (w *world) aPasskey(credential string) records.Passkey {
	return records.Passkey{PersonID: w.engineer.ID, Name: "work phone", CredentialID: []byte(credential),
		Host: "records.example", PublicKey: []byte("public"), Flags: 0x1d, Count: 4, Transports: []string{"internal",
			"hybrid"}, AAGUID: []byte("0123456789abcdef")}
}

// signIns gives the engineer one of each second step, and a session.
func (w *world) signIns(t *testing.T) {
	id := w.engineer.ID
	sealed := must(records.SealSecret(storetest.Key, id, []byte("12345678901234567890")))
	ok(t, w.SecondSteps.StartCodes(ctx, by, id, sealed))
	ok(t, w.SecondSteps.ConfirmCodes(ctx, by, id, 7, []string{"one", "two", "three"}))
	ok(t, w.SecondSteps.StartCodes(ctx, by, id, sealed))
	ok(t, w.SecondSteps.AddPasskey(ctx, by, w.aPasskey("first"), nil))
	w.passkey = must(w.SecondSteps.Passkey(ctx, []byte("first")))
	w.session = must(w.SignIns.Add(ctx, records.SignIn{PersonID: id, Means: records.ByPassword,
		Device: "Firefox on Linux", Address: "192.0.2.1"}))
	must(w.SignIns.Add(ctx, records.SignIn{PersonID: id, Means: records.ByPassword, Refused: "wrong password"}))
}

var secondChanges = []change{
	{"codes begun", func(ctx context.Context, w *world) error {
		return w.SecondSteps.StartCodes(ctx, by, w.owner.ID, "1.sealed")
	}, "", ""},
	{"codes set up", func(ctx context.Context, w *world) error {
		return w.SecondSteps.ConfirmCodes(ctx, by, w.engineer.ID, 9, []string{"four"}, letterTo(w.engineer))
	}, "message queued", ""},
	{"code used", func(ctx context.Context, w *world) error {
		return w.SecondSteps.UseCode(ctx, w.engineer.ID, 8)
	}, "", ""},
	{"codes removed", func(ctx context.Context, w *world) error {
		return w.SecondSteps.RemoveCodes(ctx, by, w.engineer.ID)
	}, "one-time codes removed", ""},
	{"recovery codes", func(ctx context.Context, w *world) error {
		return w.SecondSteps.NewRecovery(ctx, by, w.engineer.ID, []string{"five", "six"})
	}, "recovery codes made", ""},
	{"recovery code used", func(ctx context.Context, w *world) error {
		return w.SecondSteps.UseRecovery(ctx, by, w.engineer.ID, "two")
	}, "recovery code used", ""},
	{"second step taken away", func(ctx context.Context, w *world) error {
		return w.SecondSteps.TakeAway(ctx, by, w.engineer.ID)
	}, "one-time codes and passkeys taken away", ""},
	{"owners no longer asked", func(ctx context.Context, w *world) error {
		return w.SecondSteps.AskOwners(ctx, by, false)
	}, "sign-in of owners changed", ""},
	{"passkey", func(ctx context.Context, w *world) error {
		return w.SecondSteps.AddPasskey(ctx, by, w.aPasskey("second"), []string{"seven"})
	}, "passkey added", ""},
	{"passkey used", func(ctx context.Context, w *world) error {
		p := w.passkey
		p.Count++
		return w.SecondSteps.UsePasskey(ctx, p)
	}, "", ""},
	{"passkey copied", func(ctx context.Context, w *world) error {
		return w.SecondSteps.PasskeyCopied(ctx, w.passkey)
	}, "passkey refused, which may have been copied", "system"},
	{"passkey renamed", func(ctx context.Context, w *world) error {
		return w.SecondSteps.RenamePasskey(ctx, by, w.engineer.ID, w.passkey.ID, "old phone")
	}, "passkey renamed", ""},
	{"passkey removed", func(ctx context.Context, w *world) error {
		return w.SecondSteps.RemovePasskey(ctx, by, w.engineer.ID, w.passkey.ID)
	}, "passkey removed", ""},
	{"sign-in", func(ctx context.Context, w *world) error {
		return errOf(w.SignIns.Add(ctx, records.SignIn{PersonID: w.owner.ID, Means: records.ByPasskey}))
	}, "", ""},
	{"session used", func(ctx context.Context, w *world) error {
		return w.SignIns.Used(ctx, w.session.ID)
	}, "", ""},
	{"session ended", func(ctx context.Context, w *world) error {
		return w.SignIns.End(ctx, by, w.engineer.ID, w.session.ID, "signed out")
	}, "session ended", ""},
	{"sessions ended", func(ctx context.Context, w *world) error {
		return errOf(w.SignIns.EndAll(ctx, by, w.engineer.ID, "", "ended by Rhona"))
	}, "sessions ended", ""},
}

func letterTo(p records.Person) records.Message {
	return records.Message{Kind: records.AccountKind, ToName: p.Name, ToEmail: p.Email, Ref: "ref", Subject: "x",
		Text: "x"}
}

var secondRefusals = []refusal{
	{"codes of nobody", func(w *world) error { return w.SecondSteps.StartCodes(ctx, by, "none", "1.x") },
		records.NotFound, absent},
	{"codes that nobody began", func(w *world) error {
		return w.SecondSteps.ConfirmCodes(ctx, by, w.owner.ID, 9, nil)
	}, records.Conflict, "begin again"},
	{"a code of the same step", func(w *world) error { return w.SecondSteps.UseCode(ctx, w.engineer.ID, 7) },
		records.Invalid, "used already"},
	{"a code of an earlier step", func(w *world) error { return w.SecondSteps.UseCode(ctx, w.engineer.ID, 6) },
		records.Invalid, "used already"},
	{"a code without codes", func(w *world) error { return w.SecondSteps.UseCode(ctx, w.owner.ID, 8) },
		records.Invalid, "used already"},
	{"no codes to remove", func(w *world) error { return w.SecondSteps.RemoveCodes(ctx, by, w.owner.ID) },
		records.NotFound, "no one-time codes"},
	{"recovery codes for nothing", func(w *world) error {
		return w.SecondSteps.NewRecovery(ctx, by, w.owner.ID, []string{"x"})
	}, records.Conflict, "first"},
	{"no such recovery code", func(w *world) error {
		return w.SecondSteps.UseRecovery(ctx, by, w.engineer.ID, "nine")
	}, records.NotFound, "no such recovery code"},
	{"a recovery code of another", func(w *world) error {
		return w.SecondSteps.UseRecovery(ctx, by, w.owner.ID, "two")
	}, records.NotFound, "no such recovery code"},
	{"nothing to take away", func(w *world) error { return w.SecondSteps.TakeAway(ctx, by, w.owner.ID) },
		records.NotFound, "nothing but its password"},
	{"owners asked by one without", func(w *world) error {
		return w.SecondSteps.AskOwners(ctx, w.owner.Actor(), true)
	}, records.Conflict, "yourself first"},
	{"passkey without a name", func(w *world) error {
		p := w.aPasskey("third")
		p.Name = " "
		return w.SecondSteps.AddPasskey(ctx, by, p, nil)
	}, records.Invalid, "Name of the passkey"},
	{"passkey of nobody", func(w *world) error {
		p := w.aPasskey("third")
		p.PersonID = "none"
		return w.SecondSteps.AddPasskey(ctx, by, p, nil)
	}, records.NotFound, absent},
	{"passkey twice", func(w *world) error {
		return w.SecondSteps.AddPasskey(ctx, by, w.aPasskey("first"), nil)
	}, records.Conflict, "already"},
	{"no passkey", func(w *world) error { return errOf(w.SecondSteps.Passkey(ctx, []byte("none"))) },
		records.NotFound, absent},
	{"passkey whose count stands", func(w *world) error { return w.SecondSteps.UsePasskey(ctx, w.passkey) },
		records.Conflict, "used elsewhere"},
	{"passkey of another renamed", func(w *world) error {
		return w.SecondSteps.RenamePasskey(ctx, by, w.owner.ID, w.passkey.ID, "mine")
	}, records.NotFound, absent},
	{"passkey renamed to nothing", func(w *world) error {
		return w.SecondSteps.RenamePasskey(ctx, by, w.engineer.ID, w.passkey.ID, "")
	}, records.Invalid, "Name of the passkey"},
	{"passkey of another removed", func(w *world) error {
		return w.SecondSteps.RemovePasskey(ctx, by, w.owner.ID, w.passkey.ID)
	}, records.NotFound, absent},
	{"no session", func(w *world) error { return errOf(w.SignIns.Find(ctx, "none")) }, records.NotFound, absent},
	{"session of another ended", func(w *world) error {
		return w.SignIns.End(ctx, by, w.owner.ID, w.session.ID, "x")
	}, records.NotFound, absent},
}

// An owner keeps a second step while the firm asks for one, and recovery codes go
// with the last that they stand in for.
func TestOwnersKeepASecondStep(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	second, owner := w.SecondSteps, w.owner.Actor()
	key := w.aPasskey("owner's")
	key.PersonID = w.owner.ID
	ok(t, second.AddPasskey(ctx, owner, key, []string{"r1", "r2"}))
	if must(second.MustSetUp(ctx, w.owner)) {
		t.Error("an owner must set up what nobody asks for")
	}
	ok(t, second.AskOwners(ctx, owner, true))
	has := must(second.Of(ctx, w.owner.ID))
	if must(second.MustSetUp(ctx, w.owner)) || has.Recovery != 2 || !must(second.OwnersBoth(ctx)) {
		t.Errorf("the owner has %+v", has)
	}
	err := second.RemovePasskey(ctx, owner, w.owner.ID, has.Passkeys[0].ID)
	if records.KindOf(err) != records.Conflict {
		t.Errorf("the last is removed: %v", err)
	}
	if must(second.MustSetUp(ctx, w.engineer)) {
		t.Error("an engineer must")
	}
	ok(t, second.TakeAway(ctx, records.SystemActor, w.owner.ID))
	if has := must(second.Of(ctx, w.owner.ID)); has.Set() || has.Recovery != 0 ||
		!must(second.MustSetUp(ctx, w.owner)) {
		t.Errorf("after everything was taken away: %+v", has)
	}
	ok(t, second.AskOwners(ctx, owner, false))
	ok(t, second.RemoveCodes(ctx, by, w.engineer.ID))
	if has := must(second.Of(ctx, w.engineer.ID)); has.Codes || has.Recovery != 3 || len(has.Passkeys) != 1 {
		t.Errorf("with a passkey left: %+v", has)
	}
	ok(t, second.RemovePasskey(ctx, by, w.engineer.ID, w.passkey.ID))
	if has := must(second.Of(ctx, w.engineer.ID)); has.Set() || has.Recovery != 0 {
		t.Errorf("with nothing left: %+v", has)
	}
}

// What is read back of a passkey is what was put in; one that does not count stays
// at 0.
func TestPasskeyIsKept(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.aPasskey("syncing")
	p.Count = 0
	ok(t, w.SecondSteps.AddPasskey(ctx, by, p, nil))
	got := must(w.SecondSteps.Passkey(ctx, []byte("syncing")))
	if string(got.PublicKey) != "public" || got.Flags != 0x1d || len(got.Transports) != 2 || got.Host != p.Host ||
		string(got.AAGUID) != string(p.AAGUID) || !got.UsedAt.IsZero() {
		t.Errorf("read back %+v", got)
	}
	for range 2 {
		got.Flags = 0x0d
		ok(t, w.SecondSteps.UsePasskey(ctx, got))
	}
	if got = must(w.SecondSteps.Passkey(ctx, []byte("syncing"))); got.Flags != 0x0d || got.UsedAt.IsZero() {
		t.Errorf("after use %+v", got)
	}
	for i := range store.MostPasskeys - 2 {
		ok(t, w.SecondSteps.AddPasskey(ctx, by, w.aPasskey("p"+strconv.Itoa(i)), nil))
	}
	if err := w.SecondSteps.AddPasskey(ctx, by, w.aPasskey("one more"), nil); records.KindOf(err) != records.Conflict {
		t.Errorf("one more than the most: %v", err)
	}
}

// The secrets of codes open with the next key of the firm, and with no other.
func TestSecretsFollowTheKey(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ok(t, w.Settings.ChangeKey(ctx, by, storetest.Key, nextKey))
	codes := must(w.SecondSteps.Codes(ctx, w.engineer.ID))
	for _, sealed := range []string{codes.Secret, codes.Next} {
		if got, err := records.OpenSecret(nextKey, w.engineer.ID, sealed); err != nil || len(got) != 20 {
			t.Errorf("with the next key: %q, %v", got, err)
		}
		if _, err := records.OpenSecret(storetest.Key, w.engineer.ID, sealed); err == nil {
			t.Error("the earlier key still opens it")
		}
	}
	if codes.LastStep != 7 {
		t.Errorf("the last step is %d", codes.LastStep)
	}
}

// A list of sign-ins stays short however often somebody tries, and those of others
// are left alone.
func TestSignInsAreBounded(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for range store.MostSessions + 5 {
		must(w.SignIns.Add(ctx, records.SignIn{PersonID: w.owner.ID, Means: records.ByPassword}))
		must(w.SignIns.Add(ctx, records.SignIn{PersonID: w.owner.ID, Refused: "wrong password"}))
		must(w.SignIns.Add(ctx, records.SignIn{Refused: "wrong password"}))
	}
	count := func(id string) (open, ended, refused int) {
		for _, in := range must(w.SignIns.Of(ctx, id)) {
			switch {
			case in.Refused != "":
				refused++
			case in.Open(w.clock.Now()):
				open++
			default:
				ended++
			}
		}
		return open, ended, refused
	}
	if open, ended, refused := count(w.owner.ID); open != store.MostSessions || ended != 5 ||
		refused != store.KeptSignIns {
		t.Errorf("%d open, %d ended, %d refused", open, ended, refused)
	}
	if _, _, refused := count(""); refused != store.KeptSignIns {
		t.Errorf("%d attempts for nobody", refused)
	}
	if open, _, refused := count(w.engineer.ID); open != 1 || refused != 1 {
		t.Errorf("of somebody else %d open, %d refused", open, refused)
	}
	w.clock.Set(w.clock.Now().Add(records.SessionIdle + time.Minute))
	must(w.SignIns.Add(ctx, records.SignIn{PersonID: w.owner.ID, Means: records.ByPasskey}))
	if open, ended, _ := count(w.owner.ID); open != 1 || ended != store.KeptSignIns {
		t.Errorf("after a week %d open, %d ended", open, ended)
	}
}

// Changing a password, closing an account and restoring a register end what is
// listed.
func TestListedSessionsEnd(t *testing.T) {
	t.Parallel()
	for name, end := range map[string]func(w *world) error{
		"password changed": func(w *world) error { return w.People.SetPassword(ctx, by, w.engineer.ID, "hash") },
		"account closed": func(w *world) error {
			p := w.engineer
			p.Active = false
			return errOf(w.People.Update(ctx, by, p))
		},
		"register restored": func(w *world) error {
			return errOf(w.AfterRestore(ctx, by, store.RestoredFrom{File: "x.db", Key: storetest.Key}))
		},
	} {
		w := newWorld(t)
		ok(t, end(w))
		if in := must(w.SignIns.Find(ctx, w.session.ID)); in.Open(w.clock.Now()) || in.EndedWhy != name {
			t.Errorf("%s: %+v", name, in)
		}
	}
	w := newWorld(t)
	other := must(w.SignIns.Add(ctx, records.SignIn{PersonID: w.engineer.ID, Means: records.ByPasskey}))
	if n := must(w.SignIns.EndAll(ctx, by, w.engineer.ID, w.session.ID, "ended")); n != 1 {
		t.Errorf("%d others ended", n)
	}
	now := w.clock.Now()
	if must(w.SignIns.Find(ctx, other.ID)).Open(now) || !must(w.SignIns.Find(ctx, w.session.ID)).Open(now) {
		t.Error("the wrong one is open")
	}
}
