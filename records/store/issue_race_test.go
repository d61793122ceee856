package store_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// during returns an issuer that runs do while it draws for the first time, and
// counts how often it draws.
func during(do func(), drawn *int) store.Issuer {
	by := storetest.Issuer()
	by.Draw = func(p store.Plan) ([]byte, error) {
		if *drawn++; *drawn == 1 {
			do()
		}
		return storetest.Draw(p)
	}
	return by
}

// Whatever changes between the drawing and the transaction is in the record.
func TestIssueGoesByTheNewestFacts(t *testing.T) {
	t.Parallel()
	firm := records.Firm{Name: "Applegarth Heating"}
	bands := records.DropBands{Edition: records.Edition4, Fuel: records.FuelNatural, Clause: "table 1",
		EnteredBy: "Orla", Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 5}}}
	for name, c := range map[string]struct {
		change func(*store.Store, store.Appliance) error
		holds  func(store.Basis) bool
	}{
		"firm": {
			func(s *store.Store, a store.Appliance) error {
				return s.Settings.SaveFirm(ctx, storetest.Actor, firm)
			},
			func(b store.Basis) bool { return b.Firm == firm },
		},
		"drop bands": {
			func(s *store.Store, a store.Appliance) error {
				return s.Settings.SaveDropBands(ctx, storetest.Actor, bands)
			},
			func(b store.Basis) bool { return len(b.DropBands) == 1 && b.DropBands[0].Clause == "table 1" },
		},
		"contact": {
			func(s *store.Store, a store.Appliance) error {
				p := must(s.Register.Property(ctx, a.PropertyID))
				p.Contact.Name, p.Line1 = "Somebody New", "9 Saltpan Row"
				_, err := s.Register.UpdateProperty(ctx, storetest.Actor, p)
				return err
			},
			func(b store.Basis) bool {
				return b.Contact.Name == "Somebody New" && b.Property.Line1 == "9 Saltpan Row"
			},
		},
		"earlier visit": {
			func(s *store.Store, a store.Appliance) error {
				r := must(s.Records.StartDraft(ctx, storetest.Actor, storetest.Draft(a.ID, records.Service,
					"2026-11-01")))
				r.Values.Put(records.ApplianceMbar.Field, "20.5")
				r = must(s.Records.SaveDraft(ctx, storetest.Actor, r, r.Revision))
				_, _, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, storetest.Issuer())
				return err
			},
			func(b store.Basis) bool {
				return len(b.Visits) == 1 && b.Visits[0].Readings[records.ApplianceMbar.Key] == "20.5" &&
					b.Earlier[records.ApplianceMbar.Key].Text() == "20.5"
			},
		},
		"landlord check": {
			func(s *store.Store, a store.Appliance) error {
				_, err := s.Duties.Add(ctx, storetest.Actor, a.ID, duty(records.LandlordCheckDue, "2027-02-02"))
				return err
			},
			func(b store.Basis) bool { return b.LandlordDeadline == records.MustDate("2027-02-02") },
		},
		"photo": {
			func(s *store.Store, a store.Appliance) error {
				draft := must(s.Records.Drafts(ctx, ""))[0]
				_, err := s.Photos.Add(ctx, storetest.Actor, draft.ID, photo(t, s, "one"))
				return err
			},
			func(b store.Basis) bool { return len(b.Draft.Photos) == 1 },
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := storetest.MustOpen(t)
			a := storetest.MustAppliance(t, s, 1)
			r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
			drawn := 0
			by := during(func() {
				if err := c.change(s, a); err != nil {
					t.Error(err)
				}
			}, &drawn)
			var last store.Basis
			plan := by.Plan
			by.Plan = func(b store.Basis) (store.Plan, error) {
				last = b
				return plan(b)
			}
			row, printed, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
			if err != nil || !printed {
				t.Fatal(printed, err)
			}
			if !c.holds(last) || drawn != 2 {
				t.Errorf("issued after %d drawings on %+v", drawn, last)
			}
			if pdf := must(s.Records.PDF(ctx, row.ID)); !strings.Contains(string(pdf), row.Number+" "+row.SHA256) {
				t.Errorf("the print %q is not that of the record", pdf)
			}
			wholeRegister(t, s)
		})
	}
}

// A record whose number somebody else took while it was drawn gets the next
// one, and its print afterwards.
func TestIssueWhenTheNumberIsTaken(t *testing.T) {
	s := empty(t)
	a, other := storetest.MustAppliance(t, s, 1), storetest.MustAppliance(t, s, 2)
	r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	drawn := 0
	by := during(func() { storetest.MustIssue(t, s, other.ID, records.Service, "2026-11-20") }, &drawn)
	size := 0
	by.Post = func(p store.Plan, printed int) ([]records.Message, []store.Link) {
		size = printed
		m := message(p.Issued.Number)
		return []records.Message{m}, nil
	}
	row, printed, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
	if err != nil || printed || row.Number != "2026-00002" || drawn != 1 || size < 50 {
		t.Fatalf("%s printed %v after %d drawings, told of %d bytes: %v", row.Number, printed, drawn, size, err)
	}
	if m, _, err := s.Outbox.Find(ctx, store.OutboxQuery{RecordID: row.ID}); err != nil || len(m) != 1 ||
		m[0].Ref != row.Number {
		t.Errorf("message %+v, %v", m, err)
	}
	_, err = s.Records.PDF(ctx, row.ID)
	wantKind(t, err, records.NotFound)
	wholeRegister(t, s) // one that is not printed yet lacks nothing
	if got := must(s.Records.KeepPDF(ctx, storetest.Actor, row.ID, []byte("%PDF-1.7 x"))); string(got) != "%PDF-1.7 x" {
		t.Errorf("kept %q", got)
	}
	wholeRegister(t, s)
}

// What cannot be drawn is not issued, and neither is what an error or the end
// of the request stopped while it was drawn.
func TestIssueStopsWithTheRequest(t *testing.T) {
	s, a := withAppliance(t)
	r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	gone, leave := context.WithCancel(ctx)
	drawn := 0
	_, _, err := s.Records.Issue(gone, storetest.Actor, r.ID, r.Revision, during(leave, &drawn))
	if !errors.Is(err, context.Canceled) || must(s.Records.Record(ctx, r.ID)).Stage != records.Draft {
		t.Errorf("issued for nobody: %v", err)
	}
}

// Facts that never hold still end in an error, not in an endless loop.
func TestIssueGivesUp(t *testing.T) {
	s, a := withAppliance(t)
	r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	by, n := storetest.Issuer(), 0
	by.Draw = func(p store.Plan) ([]byte, error) {
		n++
		err := s.Settings.SaveFirm(ctx, storetest.Actor, records.Firm{Name: fmt.Sprint("Firm ", n)})
		return []byte("%PDF-"), err
	}
	_, _, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
	wantKind(t, err, records.Conflict)
	if n < 3 || must(s.Records.Record(ctx, r.ID)).Stage != records.Draft {
		t.Errorf("gave up after %d drawings", n)
	}
	if row := mustIssue(t, s, r.ID, r.Revision); row.Number != "2026-00001" {
		t.Errorf("number %s", row.Number)
	}
}

// A drawing that took too long is not dated back.
func TestIssueIsDatedWhenItHappens(t *testing.T) {
	t.Parallel()
	for took, want := range map[time.Duration]string{
		2 * time.Second: "09:00:00 true", 5 * time.Minute: "09:05:00 false",
	} {
		clock := storetest.NewClock()
		s := storetest.MustOpenAt(t, t.TempDir()+"/c.db", clock.Now)
		a := storetest.MustAppliance(t, s, 1)
		r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
		drawn := 0
		row, printed, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision,
			during(func() { clock.Set(storetest.Start.Add(took)) }, &drawn))
		if got := fmt.Sprint(row.IssuedAt.Format(time.TimeOnly), " ", printed); err != nil || got != want {
			t.Errorf("drawn for %v: %s, want %s: %v", took, got, want, err)
		}
	}
}

// Nobody waits while a record is drawn: the drawing ends only once a save and
// another issue have been acknowledged.
func TestWritersDoNotWaitForADrawing(t *testing.T) {
	s := empty(t)
	a, other := storetest.MustAppliance(t, s, 1), storetest.MustAppliance(t, s, 2)
	r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	drawing, saved := make(chan struct{}), make(chan struct{})
	by := storetest.Issuer()
	by.Draw = func(p store.Plan) ([]byte, error) {
		close(drawing)
		select {
		case <-saved:
		case <-time.After(time.Minute):
			t.Error("a save waited for the drawing")
		}
		return storetest.Draw(p)
	}
	issued := make(chan struct{})
	go func() {
		defer close(issued)
		row, printed, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
		if err != nil || printed || row.Number != "2026-00002" {
			t.Errorf("%s printed %v: %v", row.Number, printed, err)
		}
	}()
	<-drawing
	draft := storetest.MustDraft(t, s, other.ID, records.Service, "2026-11-20")
	draft.Values.Put(records.StandingMbar.Field, "21.5")
	draft = must(s.Records.SaveDraft(ctx, storetest.Actor, draft, draft.Revision))
	mustIssue(t, s, draft.ID, draft.Revision)
	close(saved)
	<-issued
	wholeRegister(t, s)
}

// Two commissioning records of one appliance at once: one is issued.
func TestOneCommissioningAtOnce(t *testing.T) {
	s := empty(t)
	for i := range 5 {
		a := storetest.MustAppliance(t, s, i)
		var drafts []*records.Record
		for range 4 {
			drafts = append(drafts, storetest.MustDraft(t, s, a.ID, records.Commissioning, "2026-11-20"))
		}
		issued := 0
		for _, err := range race(len(drafts), func(i int) error {
			_, _, err := s.Records.Issue(ctx, storetest.Actor, drafts[i].ID, drafts[i].Revision, storetest.Issuer())
			return err
		}) {
			if err == nil {
				issued++
			} else {
				wantKind(t, err, records.Conflict)
			}
		}
		if issued != 1 {
			t.Errorf("%d commissioning records are in force", issued)
		}
	}
	wholeRegister(t, s)
}
