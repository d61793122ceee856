package store_test

import (
	"bytes"
	"context"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
)

// The log names the statement that failed and none of the values in it.
func TestLogHoldsNoValues(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	path := filepath.Join(t.TempDir(), "x.db")
	s := must(store.Open(ctx, store.Options{Path: path, Unsynced: true, Log: slog.New(slog.NewTextHandler(&log, nil))}))
	defer s.Close()
	past, cancel := context.WithDeadline(ctx, time.Now().Add(-time.Second))
	defer cancel()
	gone, leave := context.WithCancel(ctx)
	leave()
	for _, late := range []context.Context{past, gone, past} { // again: not said again
		for _, err := range []error{
			second(s.People.ByEmail(late, "findable@home.example")),
			second(s.Bookings.FeedByToken(late, "findable")),
			second(s.Chase.OfDuties(late, []string{"findable"})),
		} {
			if err == nil || records.KindOf(err) != records.Internal {
				t.Errorf("error %v", err)
			}
		}
	}
	text := log.String()
	if strings.Contains(text, "findable") {
		t.Errorf("the log holds what was asked for: %s", text)
	}
	if n := strings.Count(text, "SQL executed"); n != 3 || !strings.Contains(text, "people") ||
		!strings.Contains(text, "deadline exceeded") {
		t.Errorf("%d lines, want one for each statement that ended at its deadline: %s", n, text)
	}
}

// second returns the error of a call that returns a value too.
func second[T any](_ T, err error) error { return err }
