package store_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// atOnce runs 32 goroutines of single reads and of transactions of several on
// a store that has just been opened: more than the pool has connections.
func atOnce(ctx context.Context, s *store.Store) error {
	reads := []func() error{
		func() error { _, err := s.People.List(ctx); return err },
		func() error { _, err := s.Register.Waiting(ctx, records.DutyKinds, 5); return err },
		func() error { _, err := s.Settings.Firm(ctx); return err },
		func() error { _, _, err := s.Register.Find(ctx, store.Query{}); return err },
		func() error { _, _, err := s.Outbox.Find(ctx, store.OutboxQuery{}); return err },
		func() error { _, err := s.Outbox.Counts(ctx, false); return err },
		func() error { _, err := s.Settings.DropBands(ctx); return err },
		func() error { _, _, err := s.Chase.Find(ctx, store.ChaseQuery{}); return err },
	}
	errs := make([]error, 32)
	var wg sync.WaitGroup
	begin := make(chan struct{})
	for g := range errs {
		wg.Go(func() {
			<-begin
			for i := range 2 {
				errs[g] = errors.Join(errs[g], reads[(g+i)%len(reads)]())
			}
		})
	}
	close(begin)
	wg.Wait()
	return errors.Join(errs...)
}

// freezes opens the store times over and returns at which one the reads did
// not end before the deadline, or 0.
func freezes(t *testing.T, times int, deadline time.Duration,
	open func(context.Context, store.Options) (*store.Store, error)) int {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.db")
	if err := storetest.MustOpenAt(t, path, time.Now).Close(); err != nil {
		t.Fatal(err)
	}
	for n := range times {
		s, err := open(t.Context(), store.Options{Path: path, Unsynced: true})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), deadline)
		err = atOnce(ctx, s)
		cancel()
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if errors.Is(err, context.DeadlineExceeded) {
			return n + 1
		}
		if err != nil {
			t.Fatal(fmt.Errorf("opening %d: %w", n+1, err))
		}
	}
	return 0
}

// Sixteen people at once once froze a server that had just started: a lock on
// prepared statements was held by one who waited for a connection, and all
// connections by those who waited for the lock.
func TestFreshStoreNeverFreezes(t *testing.T) {
	if n := freezes(t, 200, 20*time.Second, store.Open); n > 0 {
		t.Errorf("at opening %d the reads waited for each other until their deadline", n)
	}
}

// The test above can fail: with gorm's cache it soon does.
func TestGormCacheFreezes(t *testing.T) {
	n := freezes(t, 200, 3*time.Second, store.OpenWithGormCache)
	if n == 0 {
		t.Error("gorm's cache of statements froze at none of 200 openings: if it was mended, this test can go")
	}
	t.Logf("froze at opening %d", n)
}
