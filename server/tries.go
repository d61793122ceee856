package server

import (
	"strings"
	"time"

	"github.com/labstack/echo/v4/middleware"
	"golang.org/x/time/rate"
)

// triesLimit is how often somebody may try something that can be guessed:
// signing in, or a record's code. It counts by address, by account, or both.
type triesLimit struct {
	store *middleware.RateLimiterMemoryStore
}

func newTriesLimit(perMinute, usual int) *triesLimit {
	if perMinute <= 0 {
		perMinute = usual
	}
	return &triesLimit{middleware.NewRateLimiterMemoryStoreWithConfig(middleware.RateLimiterMemoryStoreConfig{
		Rate: rate.Every(time.Minute / time.Duration(perMinute)), Burst: perMinute, ExpiresIn: 10 * time.Minute,
	})}
}

// allow counts one try for each name and reports whether all may go on.
func (t *triesLimit) allow(names ...string) bool {
	ok := true
	for _, n := range names {
		may, err := t.store.Allow(strings.ToLower(n))
		ok = ok && may && err == nil
	}
	return ok
}
