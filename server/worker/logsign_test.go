package worker_test

import (
	"crypto/ed25519"
	"testing"
	"time"

	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

// The log is signed once a day, and only when there is something new in it.
func TestLogSigner(t *testing.T) {
	site := servertest.Start(t)
	job := worker.LogSigner{App: site.App}.Job()
	run := func() (entry int64) {
		t.Helper()
		if err := job.Run(t.Context()); err != nil {
			t.Fatal(err)
		}
		h, err := site.Store.Audit.Signed(t.Context())
		if err != nil || h == nil || !h.Holds(storetest.Key.Public().(ed25519.PublicKey)) {
			t.Fatalf("signed %+v, %v", h, err)
		}
		return h.Entry
	}
	first := run()
	storetest.MustAppliance(t, site.Store, 7)
	if again := run(); again != first {
		t.Errorf("signed twice on a day: %d after %d", again, first)
	}
	site.Clock.Set(site.Clock.Now().Add(25 * time.Hour))
	second := run()
	if second != first+2 {
		t.Errorf("signed entry %d a day later, after %d", second, first)
	}
	site.Clock.Set(site.Clock.Now().Add(25 * time.Hour))
	if third := run(); third != second {
		t.Errorf("signed %d, and nothing is new", third)
	}
}
