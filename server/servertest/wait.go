package servertest

import (
	"testing"
	"time"
)

// Eventually waits for something that another goroutine or process does. The
// limit is long because the machine may be busy with much else; what works is
// done in a fraction of it.
func Eventually(tb testing.TB, what string, done func() bool) {
	tb.Helper()
	const limit = 2 * time.Minute
	for end := time.Now().Add(limit); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if done() {
			return
		}
	}
	tb.Fatalf("after %s still not: %s", limit, what)
}
