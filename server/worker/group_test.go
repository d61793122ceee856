package worker_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

// lines is a log as the server writes it.
type lines struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

// with returns the lines of one message.
func (l *lines) with(t *testing.T, msg string) []map[string]any {
	t.Helper()
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []map[string]any
	for line := range strings.Lines(l.b.String()) {
		var v map[string]any
		if err := json.Unmarshal([]byte(line), &v); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if v["msg"] == msg {
			out = append(out, v)
		}
	}
	return out
}

// running starts a group that waits for milliseconds only.
func running(t *testing.T, jobs ...worker.Job) (*worker.Group, *lines, context.CancelFunc) {
	t.Helper()
	log := &lines{}
	g := worker.NewGroup(slog.New(slog.NewJSONHandler(log, nil)))
	g.FirstWait, g.LongestWait = time.Millisecond, 4*time.Millisecond
	g.Add(jobs...)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { g.Run(ctx); close(ended) }()
	stop := func() { cancel(); <-ended }
	t.Cleanup(stop)
	return g, log, stop
}

// What fails is started again, by way of Recover, and is logged once for each
// failure however often it is tried; the others go on.
func TestGroupStartsAgainWhatFails(t *testing.T) {
	var now atomic.Value // what the job does
	now.Store("work")
	var runs, recovered, others atomic.Int32
	g, log, stop := running(t, worker.Job{Name: "mail", Every: time.Millisecond,
		Recover: func(context.Context) error { recovered.Add(1); return nil },
		Run: func(context.Context) error {
			runs.Add(1)
			switch now.Load() {
			case "fail":
				return errors.New("no such table: outbox")
			case "panic":
				panic("out of paper")
			}
			return nil
		}}, worker.Job{Name: "others", Every: time.Millisecond, Run: func(context.Context) error {
		others.Add(1)
		return nil
	}})
	state := func() worker.Status { return g.Status()[0] }
	servertest.Eventually(t, "it runs", func() bool { return runs.Load() > 3 && !state().LastRun.IsZero() })
	if recovered.Load() != 1 {
		t.Errorf("recovered %d times without a failure", recovered.Load())
	}
	for n, c := range []struct{ do, says string }{{"fail", "no such table: outbox"}, {"panic", "panic: out of paper"}} {
		before, otherRuns := recovered.Load(), others.Load()
		now.Store(c.do)
		servertest.Eventually(t, "it failed five times", func() bool { return state().Failures >= 5 })
		s := state()
		if s.LastError != c.says || s.FailedAt.IsZero() || s.LastRun.IsZero() || recovered.Load() < before+4 {
			t.Errorf("%+v, recovered %d times", s, recovered.Load()-before)
		}
		servertest.Eventually(t, "the others go on", func() bool { return others.Load() > otherRuns+3 })
		now.Store("work")
		servertest.Eventually(t, "it runs again", func() bool {
			return state().State == worker.Waiting && state().Failures == 0
		})
		failed := log.with(t, "worker failed")
		if len(failed) != n+1 || failed[n]["worker"] != "mail" || failed[n]["level"] != "ERROR" ||
			failed[n]["error"] != c.says {
			t.Errorf("logged %v", failed)
		}
		if again := log.with(t, "worker runs again"); len(again) != n+1 {
			t.Errorf("logged %v", again)
		}
	}
	if stack, _ := log.with(t, "worker failed")[1]["stack"].(string); !strings.Contains(stack, "group_test.go") {
		t.Errorf("the panic's stack is not in the log: %q", stack)
	}
	stop()
	for _, s := range g.Status() {
		if s.State != worker.Stopped {
			t.Errorf("after the end %+v", s)
		}
	}
}

// A failing job waits longer each time, and is not woken before.
func TestGroupBacksOff(t *testing.T) { synctest.Test(t, groupBacksOff) }

func groupBacksOff(t *testing.T) {
	wake := make(chan struct{}, 100)
	for range 100 {
		wake <- struct{}{}
	}
	g := worker.NewGroup(slog.New(slog.DiscardHandler))
	g.FirstWait, g.LongestWait = time.Hour, 3*time.Hour
	var runs atomic.Int32
	g.Add(worker.Job{Name: "x", Every: time.Millisecond, Wake: wake, Run: func(context.Context) error {
		runs.Add(1)
		return errors.New("no\nsecond line " + strings.Repeat("x", 1000))
	}})
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { g.Run(ctx); close(ended) }()
	synctest.Wait()
	s := g.Status()[0]
	if wait := s.NextTry.Sub(s.FailedAt); wait < 59*time.Minute || wait > 61*time.Minute || s.LastError != "no…" {
		t.Errorf("%+v", s)
	}
	if p := worker.Problems(g.Status()); len(p) != 1 || !strings.Contains(p[0], "x fails: no…; it is tried again at ") {
		t.Errorf("problems %q", p)
	}
	for i, wait := range []time.Duration{59 * time.Minute, 2 * time.Minute, 2 * time.Hour} {
		time.Sleep(wait) // of the clock of the bubble
		synctest.Wait()
		if got := runs.Load(); int(got) != i+1 {
			t.Errorf("%d runs in round %d", got, i+1)
		}
	}
	cancel()
	<-ended
	if p := worker.Problems(g.Status()); len(p) != 1 || p[0] != "x does not run" {
		t.Errorf("problems %q", p)
	}
}

// At the end the group waits for what is being done, and does not take its end
// for a failure.
func TestGroupEndsCleanly(t *testing.T) {
	begun, finished := make(chan struct{}), atomic.Bool{}
	g, log, stop := running(t, worker.Job{Name: "slow", Every: time.Hour, Run: func(ctx context.Context) error {
		close(begun)
		<-ctx.Done()
		finished.Store(true)
		return ctx.Err()
	}})
	<-begun
	if s := g.Status()[0]; s.State != worker.Running || s.RunningSince.IsZero() {
		t.Errorf("%+v", s)
	}
	stop()
	if !finished.Load() || len(log.with(t, "worker failed")) != 0 {
		t.Errorf("finished %v, logged %v", finished.Load(), log.with(t, "worker failed"))
	}
}
