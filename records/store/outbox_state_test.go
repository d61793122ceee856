package store_test

import (
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// Every move of a message from every state: what may not be is a Conflict that
// names both states, changes nothing and logs nothing.
func TestMessagesMoveAsTheyMay(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const due, sending, sent, failed, unsure = records.MessageDue, records.MessageSending, records.MessageSent,
		records.MessageFailed, records.MessageUnsure
	later := storetest.Start.Add(48 * time.Hour)
	moves := []struct {
		name string
		do   func(id string) error
		to   records.MessageState
		from []records.MessageState
		logs string
	}{
		{"accepted", func(id string) error { return w.Outbox.MarkSent(ctx, id, "250 ok") }, sent,
			[]records.MessageState{sending, unsure}, "message sent"},
		{"put off", func(id string) error { return w.Outbox.MarkRetry(ctx, id, later, "451 later") }, due,
			[]records.MessageState{sending, unsure}, "message due"},
		{"refused", func(id string) error { return w.Outbox.MarkFailed(ctx, id, "550 no such box") }, failed,
			[]records.MessageState{sending, unsure}, "message failed"},
		{"not known", func(id string) error { return w.Outbox.MarkUnsure(ctx, id, "cut off") }, unsure,
			[]records.MessageState{sending, unsure}, "message unsure"},
		{"arrived", func(id string) error { return w.Outbox.SettleSent(ctx, by, id, "she rang") }, sent,
			[]records.MessageState{sending, unsure}, "message sent"},
		{"again", func(id string) error { return w.Outbox.Requeue(ctx, by, id) }, due,
			[]records.MessageState{failed, unsure}, "message due"},
	}
	writer, _ := store.Pools(w.Store)
	for _, m := range moves {
		for _, from := range []records.MessageState{due, sending, sent, failed, unsure} {
			if _, err := writer.Exec("UPDATE outbox SET state = ?, problem = 'was', receipt = '' WHERE id = ?",
				string(from), w.due); err != nil {
				t.Fatal(err)
			}
			may := false
			for _, f := range m.from {
				may = may || f == from
			}
			was := mustAudit(t, w.Store)[0].Seq
			err := m.do(w.due)
			got, last := must(w.Outbox.Message(ctx, w.due)), mustAudit(t, w.Store)[0]
			switch {
			case may && (err != nil || got.State != m.to || !got.LeaseUntil.IsZero() ||
				last.Seq != was+1 || last.What != m.logs):
				t.Errorf("%s from %s: %s, log %q, %v", m.name, from, got.State, last.What, err)
			case !may && (records.KindOf(err) != records.Conflict || got.State != from || got.Problem != "was" ||
				last.Seq != was ||
				!strings.Contains(err.Error(), "is "+string(from)+" and cannot become "+string(m.to))):
				t.Errorf("%s from %s: %s, %d entries more, %v", m.name, from, got.State, last.Seq-was, err)
			}
		}
		if err := m.do("none"); records.KindOf(err) != records.NotFound {
			t.Errorf("%s of nothing: %v", m.name, err)
		}
	}
}

// A message is claimed when it is due, oldest first, and is unsure once its
// lease has run out: at that instant, not before.
func TestMessagesAreClaimedInTurn(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	s := storetest.MustOpenAt(t, t.TempDir()+"/x.db", clock.Now)
	at := storetest.Start.Add(time.Hour)
	for i, ref := range []string{"third", "first", "second"} {
		m := message(ref)
		m.NextAt = at.Add(time.Duration([]int{3, 1, 2}[i]) * time.Minute)
		must(s.Outbox.Enqueue(ctx, by, m))
	}
	if got := must(s.Outbox.ClaimDue(ctx, at.Add(time.Minute-time.Millisecond), time.Minute)); got != nil {
		t.Fatalf("claimed %s before it was due", got.Ref)
	}
	for i, want := range []string{"first", "second", "third"} {
		now := at.Add(time.Duration(i+1) * time.Minute)
		got := must(s.Outbox.ClaimDue(ctx, now, time.Hour))
		if got == nil || got.Ref != want || got.Attempts != 1 || !got.LeaseUntil.Equal(now.Add(time.Hour)) {
			t.Fatalf("claim %d: %+v", i, got)
		}
	}
	for _, c := range []struct {
		after  time.Duration
		unsure int
	}{{61*time.Minute - time.Millisecond, 0}, {61 * time.Minute, 1}, {62 * time.Minute, 2}, {2 * time.Hour, 3}} {
		if got := must(s.Outbox.ClaimDue(ctx, at.Add(c.after), time.Minute)); got != nil {
			t.Errorf("after %s: claimed %s", c.after, got.Ref)
		}
		counts := must(s.Outbox.Counts(ctx, false))
		if counts[records.MessageUnsure] != c.unsure || counts[records.MessageSending] != 3-c.unsure {
			t.Errorf("after %s: %v", c.after, counts)
		}
	}
}

// What a page of messages holds, by state, by record and without accounts.
func TestMessagesFound(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	all, _, err := w.Outbox.Find(ctx, store.OutboxQuery{})
	ok(t, err)
	for name, c := range map[string]struct {
		q    store.OutboxQuery
		want func(records.Message) bool
	}{
		"due": {store.OutboxQuery{State: records.MessageDue},
			func(m records.Message) bool { return m.State == records.MessageDue }},
		"unsure": {store.OutboxQuery{State: records.MessageUnsure},
			func(m records.Message) bool { return m.State == records.MessageUnsure }},
		"sent": {store.OutboxQuery{State: records.MessageSent},
			func(m records.Message) bool { return m.State == records.MessageSent }},
		"customers": {store.OutboxQuery{Customer: true}, func(m records.Message) bool { return !m.AboutAccount() }},
		"a record's": {store.OutboxQuery{RecordID: w.issued.ID},
			func(m records.Message) bool { return m.RecordID == w.issued.ID }},
		"nothing's": {store.OutboxQuery{RecordID: "none"}, func(records.Message) bool { return false }},
	} {
		got, next, err := w.Outbox.Find(ctx, c.q)
		var want []string
		for _, m := range all {
			if c.want(m) {
				want = append(want, m.ID)
			}
		}
		if ids := idsOf(got, func(m records.Message) string { return m.ID }); err != nil || next != "" ||
			strings.Join(ids, " ") != strings.Join(want, " ") {
			t.Errorf("%s: %v, want %v, %v", name, ids, want, err)
		}
	}
}

// A token is put in when the message is handed over, opens what it is for, and
// replaces that of an earlier attempt. A message without one gets none.
func TestTokensArePutIn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	add := func(ref, of string) string {
		m := message(ref)
		m.ID, m.Token = "m-"+ref, of
		must(w.Outbox.Enqueue(ctx, by, m))
		return m.ID
	}
	link, stop, plain, gone := add("link", store.LinkToken(w.link.ID)), add("stop", store.StopToken), add("plain", ""),
		add("gone", store.LinkToken("none"))
	if token := must(w.Outbox.PutIn(ctx, plain)); token != "" {
		t.Errorf("a message that carries no token got %q", token)
	}
	first, second := must(w.Outbox.PutIn(ctx, link)), must(w.Outbox.PutIn(ctx, link))
	if _, err := w.Links.ByToken(ctx, first); records.KindOf(err) != records.NotFound || first == second {
		t.Errorf("the token of the first attempt still opens: %v", err)
	}
	if got := must(w.Links.ByToken(ctx, second)); got.ID != w.link.ID {
		t.Errorf("the token opens %s", got.ID)
	}
	stops := []string{must(w.Outbox.PutIn(ctx, stop)), must(w.Outbox.PutIn(ctx, stop))}
	for _, token := range stops { // every letter's link to stop works
		if email, err := w.Chase.StopLink(ctx, token); err != nil || email != message("stop").ToEmail {
			t.Errorf("stop link of %q: %v", email, err)
		}
	}
	for id, kind := range map[string]records.ErrorKind{gone: records.Conflict, "none": records.NotFound} {
		if token, err := w.Outbox.PutIn(ctx, id); records.KindOf(err) != kind || err == nil {
			t.Errorf("%s: token %q, %v", id, token, err)
		}
	}
	ok(t, w.Links.End(ctx, by, w.link.ID, "sold"))
	if _,
		err := w.Outbox.PutIn(ctx, link); records.KindOf(err) != records.Conflict || !strings.Contains(err.Error(),
		"ended") {
		t.Errorf("the token of a link that was ended: %v", err)
	}
	invited := add("invited", "invite "+w.invite.ID)
	if p := must(w.People.Invited(ctx, must(w.Outbox.PutIn(ctx, invited)))); p.ID != w.engineer.ID {
		t.Errorf("the invitation is of %s", p.Name)
	}
	ok(t, w.People.RevokeInvitation(ctx, by, w.engineer.ID))
	if _, err := w.Outbox.PutIn(ctx, invited); records.KindOf(err) != records.Conflict {
		t.Errorf("the token of an invitation taken back: %v", err)
	}
}
