package store_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func inviteLetter(p records.Person, i records.Invitation) records.Message {
	return records.Message{Kind: records.InvitationKind, ToEmail: p.Email, Subject: "Set your password",
		Text: "expires " + i.ExpiresAt.String()}
}

func TestInvite(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	dir := t.TempDir()
	s := storetest.MustOpenAt(t, filepath.Join(dir, "test.db"), clock.Now)
	p := mustPerson(t, s, "elspeth@firm.example")
	first := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	second := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	if first.Token == second.Token || len(second.Token) < 26 || !second.Open(clock.Now()) ||
		second.Open(clock.Now().Add(records.InvitationLife)) {
		t.Errorf("%+v %+v", first, second)
	}
	// The first link was replaced, and its letter is not sent any more.
	_, err := s.People.Invited(ctx, first.Token)
	wantKind(t, err, records.NotFound)
	if failed, _, err := s.Outbox.Find(ctx, store.OutboxQuery{State: records.MessageFailed}); err != nil ||
		len(failed) != 1 || failed[0].Ref != first.ID {
		t.Errorf("failed %+v, %v", failed, err)
	}
	for range 2 { // looking does not use it up
		if got := must(s.People.Invited(ctx, second.Token)); got.ID != p.ID {
			t.Errorf("invited %+v", got)
		}
	}
	before := must(s.People.ByID(ctx, p.ID))
	got := must(s.People.AcceptInvitation(ctx, second.Token, "hash"))
	if got.PasswordHash != "hash" || got.SignIns != before.SignIns+1 {
		t.Errorf("%+v after %+v", got, before)
	}
	_, err = s.People.AcceptInvitation(ctx, second.Token, "another")
	wantKind(t, err, records.NotFound)
	if i := must(s.People.Invitations(ctx))[p.ID]; i.ID != second.ID || i.EndedWhy != "used" || i.Token != "" {
		t.Errorf("latest %+v", i)
	}
	wantKind(t, s.People.RevokeInvitation(ctx, storetest.Actor, p.ID), records.NotFound)

	third := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	if err := s.People.RevokeInvitation(ctx, storetest.Actor, p.ID); err != nil {
		t.Fatal(err)
	}
	_, err = s.People.AcceptInvitation(ctx, third.Token, "hash")
	wantKind(t, err, records.NotFound)

	fourth := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	clock.Set(clock.Now().Add(records.InvitationLife + time.Second))
	_, err = s.People.AcceptInvitation(ctx, fourth.Token, "hash")
	wantKind(t, err, records.NotFound)
	_, err = s.People.Invite(ctx, storetest.Actor, "nobody", inviteLetter)
	wantKind(t, err, records.NotFound)
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
	for _, e := range must(os.ReadDir(dir)) {
		if data := must(os.ReadFile(filepath.Join(dir, e.Name()))); bytes.Contains(data, []byte(fourth.Token)) {
			t.Errorf("%s holds a token", e.Name())
		}
	}
}

// A letter that cannot be put in leaves the link that was there.
func TestInviteAllOrNothing(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	p := mustPerson(t, s, "elspeth@firm.example")
	i := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	_, err := s.People.Invite(ctx, storetest.Actor, p.ID, func(records.Person, records.Invitation) records.Message {
		return records.Message{}
	})
	wantKind(t, err, records.Invalid)
	must(s.People.Invited(ctx, i.Token))
}

func TestClosingAnAccountShutsOut(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	p := mustPerson(t, s, "elspeth@firm.example")
	k := must(s.People.NewKey(ctx, storetest.Actor, p.ID, "the van"))
	i := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	was := must(s.People.ByID(ctx, p.ID))
	p.Active = false
	must(s.People.Update(ctx, storetest.Actor, p))
	_, err := s.People.ByKey(ctx, k.Token)
	wantKind(t, err, records.NotFound)
	_, err = s.People.Invited(ctx, i.Token)
	wantKind(t, err, records.NotFound)
	_, err = s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter)
	wantKind(t, err, records.Conflict)
	p.Active = true
	must(s.People.Update(ctx, storetest.Actor, p))
	if now := must(s.People.ByID(ctx, p.ID)); now.SignIns != was.SignIns+1 {
		t.Errorf("sign-ins %d after %d: an old session would hold again", now.SignIns, was.SignIns)
	}
	_, err = s.People.ByKey(ctx, k.Token) // opening it again gives nothing back
	wantKind(t, err, records.NotFound)
	// A new e-mail address ends a link that went to the old one.
	i = must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	p.Email = "elspeth@other.example"
	must(s.People.Update(ctx, storetest.Actor, p))
	_, err = s.People.Invited(ctx, i.Token)
	wantKind(t, err, records.NotFound)
}
