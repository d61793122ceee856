package worker_test

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

func TestBounceFolder(t *testing.T) {
	site := servertest.Start(t)
	_, m := site.Sent()
	dir := filepath.Join(t.TempDir(), "bounces")
	f := worker.BounceFolder{Dir: dir, App: site.App, Log: slog.New(slog.DiscardHandler), Now: time.Now,
		Every: 20 * time.Millisecond}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	group := worker.NewGroup(f.Log)
	group.Add(f.Job())
	go func() { group.Run(ctx); close(done) }()
	servertest.Eventually(t, "the folder is made", func() bool { _, err := os.Stat(filepath.Join(dir, "left")); return err == nil })
	old := time.Now().Add(-time.Minute)
	put := func(name, text string, at time.Time) {
		t.Helper()
		// As mail programs do: whole, then named.
		part := filepath.Join(dir, name+".part")
		if err := os.WriteFile(part, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(part, at, at); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(part, filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	put("a.eml", servertest.BounceReport(m.ID+"@tweddle.example", "failed", "5.2.2", "552 mailbox full"), old)
	put("b.eml", "no report", old)
	put("c.eml", servertest.BounceReport(m.ID+"@tweddle.example", "failed", "5.2.2", "still being written"),
		time.Now().Add(time.Hour))
	there := func(name string) func() bool {
		return func() bool { _, err := os.Stat(filepath.Join(dir, name)); return err == nil }
	}
	servertest.Eventually(t, "a is read", there("read/a.eml"))
	servertest.Eventually(t, "b is left", there("left/b.eml"))
	servertest.Eventually(t, "c waits", there("c.eml"))
	if got, err := site.Store.Outbox.Message(t.Context(), m.ID); err != nil || got.State != records.MessageFailed ||
		got.Problem != "came back: 5.2.2 552 mailbox full" {
		t.Errorf("message %+v, %v", got, err)
	}
	stop()
	<-done
}
