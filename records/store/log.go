package store

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"gorm.io/gorm/logger"
)

// slowQuery is how long a statement may take before the log names it.
const slowQuery = 2 * time.Second

// queryLog logs statements that failed or were slow, never the values in
// them: those are names, addresses and hashes of tokens.
type queryLog struct{ logger.Interface }

func init() {
	// gorm logs a query that is scanned through a recorder, which would write
	// the values into the text before ParamsFilter is asked.
	logger.RecorderParamsFilter = withoutValues
}

func newQueryLog(to *slog.Logger) queryLog {
	return queryLog{logger.NewSlogLogger(to, logger.Config{
		LogLevel: logger.Warn, SlowThreshold: slowQuery, IgnoreRecordNotFoundError: true,
	})}
}

// Trace leaves out what ended because whoever asked went away.
func (l queryLog) Trace(ctx context.Context, begin time.Time, fc func() (sql string, rowsAffected int64), err error) {
	if !errors.Is(err, context.Canceled) {
		l.Interface.Trace(ctx, begin, fc, err)
	}
}

// ParamsFilter is what gorm asks for the text to log.
func (l queryLog) ParamsFilter(ctx context.Context, sql string, params ...any) (string, []any) {
	return withoutValues(ctx, sql, params...)
}

func withoutValues(_ context.Context, sql string, _ ...any) (string, []any) { return sql, nil }
