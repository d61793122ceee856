package store

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"gorm.io/gorm/logger"
)

const (
	// slowQuery is how long a statement may take before the log names it.
	slowQuery = 2 * time.Second
	// repeatAfter is how long the same failure is not logged again: what fails is
	// tried again, by a worker every few seconds.
	repeatAfter = 10 * time.Minute
	// mostFailures bounds how many failures are remembered for that.
	mostFailures = 1000
)

// queryLog logs statements that failed or were slow, never the values in
// them: those are names, addresses and hashes of tokens.
type queryLog struct {
	logger.Interface
	mu     *sync.Mutex
	logged map[string]time.Time // by statement and error
}

func init() {
	// gorm logs a query that is scanned through a recorder, which would write
	// the values into the text before ParamsFilter is asked.
	logger.RecorderParamsFilter = withoutValues
}

func newQueryLog(to *slog.Logger) queryLog {
	return queryLog{logger.NewSlogLogger(to, logger.Config{
		LogLevel: logger.Warn, SlowThreshold: slowQuery, IgnoreRecordNotFoundError: true,
	}), &sync.Mutex{}, map[string]time.Time{}}
}

// Trace leaves out what ended because whoever asked went away, and what failed in
// the same way a short time ago.
func (l queryLog) Trace(ctx context.Context, begin time.Time, fc func() (sql string, rowsAffected int64), err error) {
	if errors.Is(err, context.Canceled) {
		return
	}
	if err != nil && !errors.Is(err, logger.ErrRecordNotFound) {
		sql, rows := fc()
		if l.known(sql + "\n" + err.Error()) {
			return
		}
		fc = func() (string, int64) { return sql, rows }
	}
	l.Interface.Trace(ctx, begin, fc, err)
}

// known remembers a failure and reports whether it was logged a short time ago.
func (l queryLog) known(failure string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := time.Now()
	if last, ok := l.logged[failure]; ok && now.Sub(last) < repeatAfter {
		return true
	}
	if len(l.logged) >= mostFailures {
		clear(l.logged)
	}
	l.logged[failure] = now
	return false
}

// ParamsFilter is what gorm asks for the text to log.
func (l queryLog) ParamsFilter(ctx context.Context, sql string, params ...any) (string, []any) {
	return withoutValues(ctx, sql, params...)
}

func withoutValues(_ context.Context, sql string, _ ...any) (string, []any) { return sql, nil }
