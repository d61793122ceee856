package metrics

import (
	"context"
	"log/slog"
	"net/http"
	"runtime"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/worker"
)

// Source is where the numbers come from.
type Source struct {
	Store    *store.Store
	Workers  *worker.Group
	Requests *Requests
	Log      *slog.Logger
	Now      func() time.Time
	Started  time.Time
	// LastBackup returns when the newest backup was made, the zero time for
	// never; nil where none are made.
	LastBackup func() (time.Time, error)

	Version, Commit, Go string
}

// longest is how long the register may take to answer.
const longest = 5 * time.Second

// ServeHTTP answers a collector. What cannot be read is left out and counted as
// a failure, so that the rest is still seen.
func (s *Source) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.URL.Path != "/metrics" {
		http.NotFound(w, r)
		return
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "use GET", http.StatusMethodNotAllowed)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), longest)
	defer cancel()
	w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_ = Write(w, s.families(ctx)) // the collector has gone
}

func (s *Source) families(ctx context.Context) []Family {
	out := []Family{
		{Name: "gaugebook_build_info", Kind: Gauge, Help: "What the program was built from; always 1.",
			Samples: []Sample{value(1, "version", s.Version, "commit", s.Commit, "go", s.Go)}},
		one("process_start_time_seconds", "When the program was started, in Unix time.", seconds(s.Started)),
	}
	out = append(out, s.process()...)
	out = append(out, s.Requests.families()...)
	out = append(out, s.workers()...)
	failed := 0.0
	for _, part := range []func(context.Context) ([]Family, error){s.outbox, s.register, s.backup} {
		families, err := part(ctx)
		if err != nil {
			failed++
			s.Log.ErrorContext(ctx, "metrics", "error", err)
			continue
		}
		out = append(out, families...)
	}
	return append(out, one("gaugebook_metrics_unread", "Groups of numbers that could not be read this time.", failed))
}

func one(name, help string, v float64) Family {
	return Family{Name: name, Kind: Gauge, Help: help, Samples: []Sample{value(v)}}
}

func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

func (s *Source) process() []Family {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return []Family{
		one("go_goroutines", "Goroutines that exist.", float64(runtime.NumGoroutine())),
		one("go_memstats_heap_alloc_bytes", "Heap in use.", float64(m.HeapAlloc)),
		one("go_memstats_sys_bytes", "Memory had from the system.", float64(m.Sys)),
	}
}

// workers tells the state of each worker; their names are fixed in the program.
func (s *Source) workers() []Family {
	state := Family{Name: "gaugebook_worker_state", Kind: Gauge, Help: "1 for the state that a worker is in."}
	failures := Family{Name: "gaugebook_worker_failures", Kind: Gauge,
		Help: "Failures of a worker since it last went well."}
	last := Family{Name: "gaugebook_worker_last_run_seconds", Kind: Gauge,
		Help: "When a worker last went well, in Unix time."}
	for _, w := range s.Workers.Status() {
		for _, one := range []worker.State{worker.Stopped, worker.Waiting, worker.Running, worker.Failing} {
			is := 0.0
			if one == w.State {
				is = 1
			}
			state.Samples = append(state.Samples, value(is, "worker", w.Name, "state", string(one)))
		}
		failures.Samples = append(failures.Samples, value(float64(w.Failures), "worker", w.Name))
		if !w.LastRun.IsZero() {
			last.Samples = append(last.Samples, value(seconds(w.LastRun), "worker", w.Name))
		}
	}
	return []Family{state, failures, last}
}

func (s *Source) outbox(ctx context.Context) ([]Family, error) {
	counts, err := s.Store.Outbox.Counts(ctx, false)
	if err != nil {
		return nil, err
	}
	oldest, err := s.Store.Outbox.OldestDue(ctx)
	if err != nil {
		return nil, err
	}
	messages := Family{Name: "gaugebook_outbox_messages", Kind: Gauge,
		Help: "Messages by state; those that are sent are not counted."}
	for _, state := range records.UnsentStates {
		messages.Samples = append(messages.Samples, value(float64(counts[state]), "state", string(state)))
	}
	late := 0.0
	if !oldest.IsZero() {
		late = max(0, s.Now().Sub(oldest).Seconds())
	}
	return []Family{messages, one("gaugebook_outbox_oldest_due_seconds",
		"How long the message has been due that has been due longest; 0 where none is.", late)}, nil
}

func (s *Source) register(ctx context.Context) ([]Family, error) {
	drafts, err := s.Store.Records.OpenDrafts(ctx)
	if err != nil {
		return nil, err
	}
	size, err := s.Store.Size(ctx)
	if err != nil {
		return nil, err
	}
	return []Family{
		one("gaugebook_drafts_open", "Records that are not issued yet.", float64(drafts)),
		one("gaugebook_register_bytes", "Size of the register's database.", float64(size)),
	}, nil
}

func (s *Source) backup(context.Context) ([]Family, error) {
	if s.LastBackup == nil {
		return nil, nil
	}
	at, err := s.LastBackup()
	if err != nil || at.IsZero() {
		return nil, err
	}
	return []Family{one("gaugebook_backup_age_seconds", "Age of the newest backup; absent while there is none.",
		s.Now().Sub(at).Seconds())}, nil
}
