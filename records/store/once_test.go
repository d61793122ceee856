package store_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

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
	return adding(s, n, func(id string) (store.Answer, error) { return store.Answer{Status: 201, Body: []byte(id)}, nil })
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
