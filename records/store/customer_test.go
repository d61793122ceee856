package store_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func TestPropertyChangesShowInTheRegister(t *testing.T) {
	s := empty(t)
	a := storetest.MustAppliance(t, s, 4)
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20")
	e := must(s.Register.Property(ctx, a.PropertyID))
	e.Line1, e.Contact.Name, e.Nation = "9 Saltpan Row", "Somebody New", records.Scotland
	must(s.Register.UpdateProperty(ctx, storetest.Actor, e))
	found := func(search string) int {
		rows, _, err := s.Register.Find(ctx, store.Query{Search: search, Nation: records.Scotland})
		if err != nil {
			t.Fatal(err)
		}
		return len(rows)
	}
	if found("saltpan") != 1 || found("somebody new") != 1 || found("quillwater") != 0 || found(row.Number) != 1 {
		t.Errorf("found %d %d %d %d", found("saltpan"), found("somebody new"), found("quillwater"), found(row.Number))
	}
	// The issued record keeps the address that it was issued with.
	if r := must(s.Records.Record(ctx, row.ID)); r.Property.Line1 != "4 Quillwater Lane" {
		t.Errorf("record %+v", r.Property)
	}
	if got := must(s.Register.PropertiesIn(ctx, "ab123xy")); len(got) != 1 || got[0] != e {
		t.Errorf("properties %+v", got)
	}
	if got := must(s.Register.AppliancesAt(ctx, e.ID)); len(got) != 1 || got[0].ID != a.ID ||
		got[0].Property != e.Property {
		t.Errorf("appliances %+v", got)
	}
	_, err := s.Register.UpdateProperty(ctx, storetest.Actor, records.PropertyEntry{ID: e.ID})
	wantKind(t, err, records.Invalid)
	e.ID = "none"
	_, err = s.Register.UpdateProperty(ctx, storetest.Actor, e)
	wantKind(t, err, records.NotFound)
	_, err = s.Register.CreateAppliance(ctx, storetest.Actor, "none", nil)
	wantKind(t, err, records.NotFound)
}

func TestRegisterRow(t *testing.T) {
	s := empty(t)
	a := storetest.MustAppliance(t, s, 4)
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20", storetest.ServiceDue("2027-11-20"))
	draft := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-21")
	rows, next, err := s.Register.Find(ctx, store.Query{})
	if err != nil || len(rows) != 1 || next != "" {
		t.Fatalf("register %+v %q %v", rows, next, err)
	}
	r := rows[0]
	if r.Address != "4 Quillwater Lane, Ambershaw, AB12 3XY" || r.Kind != records.KindCombination ||
		r.MakeModel != "Emberline Hearth 24" || r.Serial != "EH-000004" ||
		r.DraftID != draft.ID || r.LastRecord.Number != row.Number ||
		r.NextDuty.Duty.Due != records.MustDate("2027-11-20") || r.NextDuty.RecordID != row.ID ||
		r.PropertyID != a.PropertyID {
		t.Errorf("row %+v", r)
	}
}

func TestLinks(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	path := filepath.Join(t.TempDir(), "l.db")
	s := storetest.MustOpenAt(t, path, clock.Now)
	a := storetest.MustAppliance(t, s, 1)
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20")
	expires := storetest.Start.AddDate(1, 0, 0)
	l := must(s.Links.Add(ctx, storetest.Actor, row.ID, "Customer", expires))
	got := must(s.Links.ByToken(ctx, l.Token))
	if got.RecordID != row.ID || !got.Usable(storetest.Start) || got.Usable(expires) {
		t.Errorf("link %+v", got)
	}
	_, err := s.Links.ByToken(ctx, l.Token+"x")
	wantKind(t, err, records.NotFound)
	_, err = s.Links.Add(ctx, storetest.Actor, row.ID, "", storetest.Start)
	wantKind(t, err, records.Invalid)
	draft := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	_, err = s.Links.Add(ctx, storetest.Actor, draft.ID, "", expires)
	wantKind(t, err, records.NotFound)
	if err := s.Links.End(ctx, storetest.Actor, l.ID, "sent to the wrong address"); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Links.ByToken(ctx, l.Token)); got.Usable(storetest.Start) {
		t.Errorf("link %+v", got)
	}
	if links := must(s.Links.OfRecord(ctx, row.ID)); len(links) != 1 || links[0].Token != "" {
		t.Errorf("links %+v", links)
	}
	// The token itself is nowhere in the file.
	if err := s.Backup(ctx, path+".copy"); err != nil {
		t.Fatal(err)
	}
	if data := must(os.ReadFile(path + ".copy")); strings.Contains(string(data), l.Token) {
		t.Error("the token is in the file")
	}
}

func TestChaseLogAndVisitRequests(t *testing.T) {
	s, a := withAppliance(t)
	must(s.Chase.AddContactAttempt(ctx, storetest.Actor, a.ID, "call", "no answer", records.MustDate("2026-12-01")))
	must(s.Chase.AddContactAttempt(ctx, storetest.Actor, a.ID, "letter", "two\nlines", records.Date{}))
	log := must(s.Chase.ContactAttempts(ctx, a.ID))
	if len(log) != 2 || log[0].How != "letter" || log[1].NextAction != records.MustDate("2026-12-01") ||
		log[1].By != storetest.Actor {
		t.Errorf("log %+v", log)
	}
	_, err := s.Chase.AddContactAttempt(ctx, storetest.Actor, a.ID, "", "", records.Date{})
	wantKind(t, err, records.Invalid)
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20")
	id := must(s.Requests.AddVisit(ctx, row.ID, "It is cold."))
	if reqs := must(s.Requests.Visits(ctx)); len(reqs) != 1 || reqs[0].Record.Number != row.Number ||
		reqs[0].Text != "It is cold." {
		t.Errorf("requests %+v", reqs)
	}
	if err := s.Requests.HandleVisit(ctx, storetest.Actor, id); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.Requests.HandleVisit(ctx, storetest.Actor, id), records.Conflict)
	for range 5 {
		must(s.Requests.AddVisit(ctx, row.ID, "Again."))
	}
	_, err = s.Requests.AddVisit(ctx, row.ID, "And again.")
	wantKind(t, err, records.Conflict)
	_, err = s.Requests.AddVisit(ctx, "none", "x")
	wantKind(t, err, records.NotFound)
}

func TestBackupWhileWriting(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := storetest.MustOpenAt(t, filepath.Join(dir, "x.db"), storetest.NewClock().Now)
	a := storetest.MustAppliance(t, s, 1)
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20")
	stop, done := make(chan struct{}), make(chan error)
	go func() {
		var err error
		for n := 2; err == nil; n++ {
			select {
			case <-stop:
				done <- err
				return
			default:
				_, err = s.Register.CreateProperty(ctx, storetest.Actor, storetest.Property(n))
			}
		}
		done <- err
	}()
	copyPath := filepath.Join(dir, "copy.db")
	err := s.Backup(ctx, copyPath)
	close(stop)
	if err := errors.Join(err, <-done); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.Backup(ctx, copyPath), records.Conflict)
	restored := storetest.MustOpenAt(t, copyPath, time.Now)
	if got := must(restored.Records.Issued(ctx, row.Number)); got.SHA256 != row.SHA256 {
		t.Errorf("restored %+v", got)
	}
	if err := restored.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
	if left := must(filepath.Glob(filepath.Join(dir, ".backup-*"))); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	// A damaged copy is found out.
	data := must(os.ReadFile(copyPath))
	bad := filepath.Join(dir, "bad.db")
	for i := len(data) / 2; i < len(data)/2+8192; i++ {
		data[i] ^= 0x55
	}
	if err := os.WriteFile(bad, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if store.CheckFile(ctx, bad) == nil {
		t.Error("a damaged file passed the check")
	}
}
