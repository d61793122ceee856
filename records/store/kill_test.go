package store_test

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

const childEnv = "GAUGEBOOK_STORE_TEST_FILE"

// TestMain turns the test binary into the process to be killed when it is
// started with a file to write to.
func TestMain(m *testing.M) {
	if path := os.Getenv(childEnv); path != "" {
		work(path)
		return
	}
	if path := os.Getenv(onceEnv); path != "" {
		workWithKeys(path)
		return
	}
	os.Exit(m.Run())
}

// work saves and issues records without end, and writes a line to standard
// output for each that the store has acknowledged.
func work(path string) {
	s := must(store.Open(ctx, store.Options{Path: path}))
	for range 4 {
		go func() {
			for {
				workOnce(s)
			}
		}()
	}
	select {}
}

func workOnce(s *store.Store) {
	p := must(s.Register.CreateProperty(ctx, storetest.Actor, storetest.Property(1)))
	a := must(s.Register.CreateAppliance(ctx, storetest.Actor, p.ID, storetest.ApplianceValues(1)))
	r := must(s.Records.StartDraft(ctx, storetest.Actor, storetest.Draft(a.ID, records.Service, "2026-11-20")))
	for _, entry := range []string{"20.5", "21.5"} {
		r.Values.Put(records.StandingMbar.Field, entry)
		r = must(s.Records.SaveDraft(ctx, storetest.Actor, r, r.Revision))
		fmt.Println("saved", r.ID, r.Revision, entry)
	}
	by := storetest.Issuer(storetest.ServiceDue("2027-11-20"))
	by.Post = func(store.Plan, int) ([]records.Message, []store.Link) {
		return []records.Message{message("")}, nil
	}
	row, printed, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
	if err != nil {
		panic(err)
	}
	fmt.Println("issued", row.ID, row.Number)
	if !printed { // somebody else took the number: the print follows
		must(s.Records.KeepPDF(ctx, storetest.Actor, row.ID, []byte("%PDF-1.7 "+row.Number)))
	}
}

func TestKilledAtAnyMoment(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "kill.db")
	saved, issued := map[string]string{}, map[string]string{}
	for round := range 5 {
		runAndKill(t, path, 5+round*9, saved, issued)
		s := storetest.MustOpenAt(t, path, time.Now)
		if err := errors.Join(s.Audit.Proved(ctx),
			store.CheckFile(ctx, path)); err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		for id, entry := range saved {
			r, err := s.Records.Record(ctx, id)
			if err != nil || entry == "21.5" && r.Values[records.StandingMbar.Key].Text() != "21.5" {
				t.Fatalf("round %d: the acknowledged save %s of %s is lost: %v", round, entry, id, err)
			}
			checkWhole(t, s, r)
		}
		for number, id := range issued {
			if row, err := s.Records.Issued(ctx, number); err != nil || row.ID != id {
				t.Fatalf("round %d: the acknowledged issue %s is lost: %v", round, number, err)
			}
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if len(issued) < 10 {
		t.Errorf("only %d records were issued: the test proves little", len(issued))
	}
}

// checkWhole wants all that issuing writes, or nothing of it.
func checkWhole(t *testing.T, s *store.Store, r *records.Record) {
	t.Helper()
	want := 0
	if r.Stage == records.StageIssued {
		want = 1
	}
	messages, _, err := s.Outbox.Find(ctx, store.OutboxQuery{RecordID: r.ID})
	duties, err2 := s.Duties.OfAppliance(ctx, r.ApplianceID)
	pdf, err3 := s.Records.PDF(ctx, r.ID)
	if records.KindOf(err3) == records.NotFound {
		err3 = nil
	}
	a, err4 := s.Register.Appliance(ctx, r.ApplianceID)
	if err := errors.Join(err, err2, err3, err4); err != nil {
		t.Fatal(err)
	}
	if want == 1 && pdf == nil { // killed before the print, which can still be made
		pdf = must(s.Records.KeepPDF(ctx, storetest.Actor, r.ID, []byte("%PDF-1.7 later")))
	}
	if len(messages) != want || len(duties) != want || (pdf != nil) != (want == 1) ||
		(a.LastRecord != nil) != (want == 1) || (a.NextDuty != nil) != (want == 1) {
		t.Fatalf("record %s at stage %s has %d messages, %d duties, %d bytes of PDF", r.ID, r.Stage, len(messages),
			len(duties), len(pdf))
	}
}

// runAndKill starts the writing process, kills it once it has acknowledged
// so many lines, and notes everything that it acknowledged.
func runAndKill(t *testing.T, path string, lines int, saved, issued map[string]string) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childEnv+"="+path)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var once sync.Once
	kill := func() { once.Do(func() { _ = cmd.Process.Kill() }) }
	defer kill()
	timer := time.AfterFunc(2*time.Minute, kill)
	defer timer.Stop()
	n := 0
	for scan := bufio.NewScanner(out); scan.Scan(); n++ {
		f := strings.Fields(scan.Text())
		switch {
		case len(f) == 4 && f[0] == "saved":
			saved[f[1]] = f[3]
		case len(f) == 3 && f[0] == "issued":
			issued[f[2]] = f[1]
		}
		if n == lines {
			kill()
		}
	}
	_ = cmd.Wait()
	if n < lines {
		t.Fatalf("the process ended by itself after %d lines: %s", n, stderr.String())
	}
}
