// Package worker is what runs beside the server: the senders of mail and
// webhooks, the reminders of each morning, the folder of bounced mail. All of
// them run in one Group, which starts again what fails and tells how each
// stands.
package worker

import (
	"context"
	"fmt"
	"log/slog"
	"runtime/debug"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"
)

// Job is work that is done again and again until the server stops.
type Job struct {
	Name  string          // as the readiness check shows it
	Every time.Duration   // how often to look for work
	Wake  <-chan struct{} // looks for work at once; may be nil
	// Recover puts right what a crash left behind. It runs before the first Run
	// and after each one that failed; it may be nil.
	Recover func(context.Context) error
	// Run does all that is due now.
	Run func(context.Context) error
}

// State says how a job stands.
type State string

// The states.
const (
	Stopped State = "stopped" // the group does not run
	Waiting State = "waiting" // for work
	Running State = "running"
	Failing State = "failing" // waits to be started again
)

// Status is how a job stands and when it last ran.
type Status struct {
	Name         string    `json:"name"`
	State        State     `json:"state"`
	RunningSince time.Time `json:"running_since,omitzero"`
	LastRun      time.Time `json:"last_run,omitzero"` // end of the last one that went well
	LastError    string    `json:"last_error,omitempty"`
	FailedAt     time.Time `json:"failed_at,omitzero"` // when LastError came about
	Failures     int       `json:"failures,omitempty"` // since it last went well
	NextTry      time.Time `json:"next_try,omitzero"`  // of a failing one
}

// Group runs jobs. A job that returns an error or panics is started again after
// a wait that doubles from FirstWait to LongestWait.
type Group struct {
	FirstWait, LongestWait time.Duration

	log  *slog.Logger
	mu   sync.Mutex
	jobs []*job
}

type job struct {
	Job
	status Status
}

// NewGroup returns a group without jobs.
func NewGroup(log *slog.Logger) *Group {
	return &Group{FirstWait: time.Second, LongestWait: time.Minute, log: log}
}

// Add adds jobs to a group that does not run yet.
func (g *Group) Add(jobs ...Job) {
	g.mu.Lock()
	defer g.mu.Unlock()
	for _, j := range jobs {
		g.jobs = append(g.jobs, &job{j, Status{Name: j.Name, State: Stopped}})
	}
}

// Run runs the jobs until ctx ends and each of them has come to its end.
func (g *Group) Run(ctx context.Context) {
	var all errgroup.Group
	g.mu.Lock()
	for _, j := range g.jobs {
		j.status.State = Waiting
		all.Go(func() error {
			g.keepRunning(ctx, j)
			return nil
		})
	}
	g.mu.Unlock()
	_ = all.Wait() // none returns an error
}

// Status returns how each job stands.
func (g *Group) Status() []Status {
	g.mu.Lock()
	defer g.mu.Unlock()
	out := make([]Status, len(g.jobs))
	for i, j := range g.jobs {
		out[i] = j.status
	}
	return out
}

// Problems says in words what is wrong with which job; none when all is well.
func Problems(all []Status) []string {
	var out []string
	for _, s := range all {
		switch s.State {
		case Failing:
			out = append(out, fmt.Sprintf("%s fails: %s; it is tried again at %s", s.Name, s.LastError,
				s.NextTry.UTC().Format("15:04:05 UTC")))
		case Stopped:
			out = append(out, s.Name+" does not run")
		}
	}
	return out
}

func (g *Group) keepRunning(ctx context.Context, j *job) {
	for {
		g.change(j, func(s *Status) { s.State, s.RunningSince = Running, time.Now() })
		err := attempt(ctx, j)
		if ctx.Err() != nil {
			g.change(j, func(s *Status) { *s = Status{Name: s.Name, State: Stopped, LastRun: s.LastRun} })
			return
		}
		wait, wake := j.Every, j.Wake
		if err != nil {
			wait, wake = g.failed(ctx, j, err), nil // being woken does not shorten the wait
		} else {
			g.wentWell(ctx, j)
		}
		select {
		case <-ctx.Done():
		case <-time.After(wait):
		case <-wake:
		}
	}
}

// attempt runs a job once. A panic is an error that carries its stack.
func attempt(ctx context.Context, j *job) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = &panicError{p, debug.Stack()}
		}
	}()
	if ctx.Err() != nil {
		return nil
	}
	if j.Recover != nil && (j.status.LastRun.IsZero() || j.status.Failures > 0) {
		if err := j.Recover(ctx); err != nil {
			return err
		}
	}
	return j.Run(ctx)
}

type panicError struct {
	value any
	stack []byte
}

func (e *panicError) Error() string { return fmt.Sprintf("panic: %v", e.value) }

// failed notes a failure and returns how long to wait. The same failure again is
// counted, not logged.
func (g *Group) failed(ctx context.Context, j *job, err error) time.Duration {
	wait, again := g.LongestWait, false
	g.change(j, func(s *Status) {
		if s.Failures < 20 { // further doublings would overflow
			wait = min(g.FirstWait<<s.Failures, g.LongestWait)
		}
		again = s.Failures > 0 && s.LastError == oneLine(err)
		s.State, s.RunningSince, s.LastError, s.FailedAt = Failing, time.Time{}, oneLine(err), time.Now()
		s.Failures, s.NextTry = s.Failures+1, time.Now().Add(wait)
	})
	if !again {
		attrs := []slog.Attr{slog.String("worker", j.Name), slog.Any("error", err), slog.Duration("next_try_in", wait)}
		if p, ok := err.(*panicError); ok {
			attrs = append(attrs, slog.String("stack", string(p.stack)))
		}
		g.log.LogAttrs(ctx, slog.LevelError, "worker failed", attrs...)
	}
	return wait
}

func (g *Group) wentWell(ctx context.Context, j *job) {
	failures := 0
	g.change(j, func(s *Status) {
		failures = s.Failures
		*s = Status{Name: s.Name, State: Waiting, LastRun: time.Now(), LastError: s.LastError, FailedAt: s.FailedAt}
	})
	if failures > 0 {
		g.log.InfoContext(ctx, "worker runs again", "worker", j.Name, "failures", failures)
	}
}

func (g *Group) change(j *job, fn func(*Status)) {
	g.mu.Lock()
	defer g.mu.Unlock()
	fn(&j.status)
}

// oneLine keeps what a check shows of an error short.
func oneLine(err error) string {
	const most = 300
	line := []rune(err.Error())
	for i, r := range line {
		if r == '\n' || i == most {
			return string(line[:i]) + "…"
		}
	}
	return string(line)
}
