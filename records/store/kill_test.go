package store_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
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
		runAndKill(t, childEnv+"="+path, 5+round*9, func(line string) {
			f := strings.Fields(line)
			switch {
			case len(f) == 4 && f[0] == "saved":
				saved[f[1]] = f[3]
			case len(f) == 3 && f[0] == "issued":
				issued[f[2]] = f[1]
			}
		})
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

// runAndKill starts the writing process with what names its file, passes on
// every line that it writes, and kills it after so many.
func runAndKill(t *testing.T, file string, lines int, wrote func(line string)) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), file)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	kill := func() { _ = cmd.Process.Kill() }
	defer kill()
	timer := time.AfterFunc(2*time.Minute, kill)
	defer timer.Stop()
	n := 0
	for scan := bufio.NewScanner(out); scan.Scan(); n++ {
		wrote(scan.Text())
		if n == lines {
			kill()
		}
	}
	_ = cmd.Wait()
	if n < lines {
		t.Fatalf("the process ended by itself after %d lines: %s", n, stderr.String())
	}
}

// adding is a request that adds the nth property.
func adding(s *store.Store, n int, answer func(id string) (store.Answer, error)) store.Deed {
	return store.Deed{What: "property added", Do: func(ctx context.Context) error {
		return errOf(s.Register.CreateProperty(ctx, by, storetest.Property(n)))
	}, Answer: func(_ context.Context, id string) (store.Answer, error) { return answer(id) }}
}

func homes(s *store.Store) int { return len(must(s.Register.PropertiesIn(ctx, "AB12 3XY"))) }

func TestOnce(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	s := storetest.MustOpenAt(t, t.TempDir()+"/o.db", clock.Now)
	made := func(id string) (store.Answer, error) {
		return store.Answer{Status: 201, Body: []byte("made " + id)}, nil
	}
	first := must(s.Once(ctx, "p1", "key-00001", "POST /x", adding(s, 1, made)))
	for range 2 {
		a, err := s.Once(ctx, "p1", "key-00001", "POST /x", adding(s, 1, made))
		if err != nil || a.Status != 201 || string(a.Body) != string(first.Body) || !a.Replayed {
			t.Errorf("answer %+v %v", a, err)
		}
	}
	if n := homes(s); n != 1 || first.Replayed {
		t.Errorf("added %d times", n)
	}
	_, err := s.Once(ctx, "p1", "key-00001", "POST /y", adding(s, 1, made))
	wantKind(t, err, records.Conflict)
	_, err = s.Once(ctx, "p1", "short", "POST /x", adding(s, 1, made))
	wantKind(t, err, records.Invalid)
	must(s.Once(ctx, "p2", "key-00001", "POST /x", adding(s, 2, made))) // somebody else's key
	if n := homes(s); n != 2 {
		t.Errorf("added %d times", n)
	}
	fail := errors.New("not now")
	failing := adding(s, 3, func(string) (store.Answer, error) { return store.Answer{}, fail })
	if _, err := s.Once(ctx, "p1", "key-00002", "f", failing); !errors.Is(err, fail) || homes(s) != 2 {
		t.Errorf("an answer that fails: %v, %d homes", err, homes(s))
	}
	must(s.Once(ctx, "p1", "key-00002", "f", adding(s, 3, made))) // free again
	nothing := store.Deed{What: "property added", Do: func(context.Context) error { return nil }}
	if _, err := s.Once(ctx, "p1", "key-00005", "f", nothing); err == nil {
		t.Error("what did nothing was answered")
	}
	// The answer sees what the deed has written, and cannot write.
	_, err = s.Once(ctx, "p1", "key-00006", "f", store.Deed{What: "property added", Do: adding(s, 6, made).Do,
		Answer: func(ctx context.Context, id string) (store.Answer, error) {
			if p := must(s.Register.Property(ctx, id)); p.Line1 != "6 Quillwater Lane" {
				t.Errorf("the answer sees %+v", p)
			}
			return store.Answer{}, s.Writable(ctx)
		}})
	if err == nil || !strings.Contains(err.Error(), "cannot write") {
		t.Errorf("an answer wrote: %v", err)
	}
}

// While a request runs, its key waits. One that died is taken over, and should
// it not be dead after all, it does nothing any more.
func TestOnceTakenOver(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	s := storetest.MustOpenAt(t, t.TempDir()+"/o.db", clock.Now)
	made := func(string) (store.Answer, error) { return store.Answer{Status: 201}, nil }
	add := adding(s, 1, made)
	_, err := s.Once(ctx, "p1", "key-00003", "f", store.Deed{What: add.What, Answer: add.Answer,
		Do: func(ctx context.Context) error {
			_, err := s.Once(t.Context(), "p1", "key-00003", "f", add)
			wantKind(t, err, records.Conflict)
			clock.Set(storetest.Start.Add(time.Hour))
			must(s.Once(t.Context(), "p1", "key-00003", "f", add))
			return add.Do(ctx)
		}})
	wantKind(t, err, records.Conflict)
	if n := homes(s); n != 1 {
		t.Errorf("added %d times", n)
	}
	// The caller goes away once it is done; the answer is kept all the same.
	gone, cancel := context.WithCancel(ctx)
	a, err := s.Once(gone, "p1", "key-00004", "f", store.Deed{What: add.What, Answer: add.Answer,
		Do: func(ctx context.Context) error { defer cancel(); return add.Do(ctx) }})
	if err != nil || a.Replayed {
		t.Errorf("answer %+v %v", a, err)
	}
	if a := must(s.Once(ctx, "p1", "key-00004", "f", add)); !a.Replayed {
		t.Errorf("answer %+v", a)
	}
}

// Whatever becomes of a request once its deed is done, asked again it is not
// done again: the answer was stored with the deed.
func TestOnceInterruptedAfterTheDeed(t *testing.T) {
	s := empty(t)
	add := adding(s, 1, func(id string) (store.Answer, error) {
		return store.Answer{Status: 201, Body: []byte(id)}, nil
	})
	func() {
		defer func() { _ = recover() }()
		_, _ = s.Once(ctx, "p", "key-00001", "f", store.Deed{What: add.What, Answer: add.Answer,
			Do: func(ctx context.Context) error { ok(t, add.Do(ctx)); panic("the power goes") }})
	}()
	if a := must(s.Once(ctx, "p", "key-00001", "f", add)); !a.Replayed || homes(s) != 1 || len(a.Body) == 0 {
		t.Errorf("answer %+v, %d homes", a, homes(s))
	}
}

const onceEnv = "GAUGEBOOK_STORE_TEST_ONCE"

// workWithKeys adds properties without end, each with a key that is said before.
func workWithKeys(path string) {
	s := must(store.Open(ctx, store.Options{Path: path}))
	for range 4 {
		go func() {
			for {
				n := rand.IntN(1 << 30)
				fmt.Println("asked", n)
				must(s.Once(ctx, "p", fmt.Sprintf("key-%010d", n), "f", answeredAdding(s, n)))
			}
		}()
	}
	select {}
}

func answeredAdding(s *store.Store, n int) store.Deed {
	return adding(s, n, func(id string) (store.Answer, error) {
		return store.Answer{Status: 201, Body: []byte(id)}, nil
	})
}

// A process is killed at any moment; each request that it had begun is sent
// again, and was done once.
func TestKilledRequestsAreDoneOnce(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "once.db")
	asked := map[int]bool{}
	for round := range 4 {
		runAndKill(t, onceEnv+"="+path, 10+7*round, func(line string) {
			var number int
			if _, err := fmt.Sscanf(line, "asked %d", &number); err == nil {
				asked[number] = true
			}
		})
	}
	s := storetest.MustOpenAt(t, path, time.Now)
	ok(t, s.FreeKeys(ctx))
	for n := range asked {
		must(s.Once(ctx, "p", fmt.Sprintf("key-%010d", n), "f", answeredAdding(s, n)))
	}
	added := map[string]int{}
	for _, address := range column(t, behind(t, path), "SELECT line1 FROM properties") {
		added[address]++
	}
	for n := range asked {
		if times := added[storetest.Property(n).Line1]; times != 1 {
			t.Errorf("request %d was done %d times", n, times)
		}
	}
	if len(asked) < 40 || len(added) != len(asked) {
		t.Errorf("%d were asked for, %d done", len(asked), len(added))
	}
}
