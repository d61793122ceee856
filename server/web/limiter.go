package web

import (
	"strings"
	"time"

	"github.com/labstack/echo/v4/middleware"
	"golang.org/x/time/rate"
)

// Limiter is how often somebody may try something that can be guessed:
// signing in, or a record's code. It counts by address, by account, or both.
type Limiter struct {
	store *middleware.RateLimiterMemoryStore
}

// NewLimiter returns a limiter of so many attempts a minute; 0 means the usual.
func NewLimiter(perMinute, usual int) *Limiter {
	if perMinute <= 0 {
		perMinute = usual
	}
	return &Limiter{middleware.NewRateLimiterMemoryStoreWithConfig(middleware.RateLimiterMemoryStoreConfig{
		Rate: rate.Every(time.Minute / time.Duration(perMinute)), Burst: perMinute, ExpiresIn: 10 * time.Minute,
	})}
}

// Allow counts one attempt for each name and reports whether all may go on.
func (l *Limiter) Allow(names ...string) bool {
	ok := true
	for _, n := range names {
		may, err := l.store.Allow(strings.ToLower(n))
		ok = ok && may && err == nil
	}
	return ok
}
