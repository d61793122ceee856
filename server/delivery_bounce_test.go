package server_test

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

// sent issues a record and hands its message over into a folder.
func sent(t *testing.T, site *servertest.Site) (store.IssuedRow, records.Message) {
	t.Helper()
	row := site.Issued()
	handOver(t, site)
	all, _, err := site.Store.Outbox.Find(t.Context(), store.OutboxQuery{RecordID: row.ID})
	if err != nil || len(all) != 1 || all[0].State != records.MessageSent {
		t.Fatalf("%+v, %v", all, err)
	}
	return row, all[0]
}

func TestBounceTakenIn(t *testing.T) {
	site := servertest.Start(t)
	row, m := sent(t, site)
	office, engineer := site.As(records.RoleOffice), site.As(records.RoleEngineer)
	send := func(file string) servertest.Page {
		t.Helper()
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		part, err := w.CreateFormFile("file", "report.eml")
		if err == nil {
			_, err = io.WriteString(part, file)
		}
		if err != nil || w.Close() != nil {
			t.Fatal(err)
		}
		return office.Send(http.MethodPost, "/bounces", w.FormDataContentType(), &b)
	}
	id := m.ID + "@tweddle.example"
	if p := send("not a report"); p.Status != 422 || !strings.Contains(p.Body, "no e-mail message") {
		t.Errorf("no report: status %d", p.Status)
	}
	if p := send(servertest.BounceReport("other@elsewhere.example", "failed", "5.1.1", "x")); p.Status != 404 ||
		!strings.Contains(p.Body, "was not sent from here") {
		t.Errorf("of somebody else: status %d", p.Status)
	}
	if p := office.Post("/bounces", form()); p.Status != 422 {
		t.Errorf("no file: status %d", p.Status)
	}
	if p := send(servertest.BounceReport(id, "delayed", "4.2.2", "mailbox full")); p.Status != 303 {
		t.Errorf("delayed: status %d", p.Status)
	}
	check(t, office, expect{"/messages/" + m.ID, 200, []string{"It came back?", "nothing was changed"},
		[]string{"came back: "}})
	if p := send(servertest.BounceReport(id, "failed", "5.1.1", "550 no such <mailbox>")); p.Status != 303 ||
		p.Location != "/messages/"+m.ID {
		t.Errorf("failed: status %d", p.Status)
	}
	says := []string{"came back: 5.1.1 550 no such &lt;mailbox&gt;", "failed"}
	check(t, engineer, expect{"/records/" + row.ID, 200, says, nil})
	check(t, office, expect{"/messages?state=failed", 200, says, nil})
	check(t, office, expect{"/", 200, says[:1], nil})
	if p := send(servertest.BounceReport(id, "failed", "5.1.1", "again")); p.Status != http.StatusConflict {
		t.Errorf("twice: status %d", p.Status)
	}
}

func TestBounceFolder(t *testing.T) {
	site := servertest.Start(t)
	_, m := sent(t, site)
	dir := filepath.Join(t.TempDir(), "bounces")
	f := server.BounceFolder{Dir: dir, App: site.App, Log: slog.New(slog.DiscardHandler), Now: time.Now,
		Every: 20 * time.Millisecond}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- f.Run(ctx) }()
	until(t, "the folder is made", func() bool { _, err := os.Stat(filepath.Join(dir, "left")); return err == nil })
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
	until(t, "a is read", there("read/a.eml"))
	until(t, "b is left", there("left/b.eml"))
	until(t, "c waits", there("c.eml"))
	if got, err := site.Store.Outbox.Message(t.Context(), m.ID); err != nil || got.State != records.MessageFailed ||
		got.Problem != "came back: 5.2.2 552 mailbox full" {
		t.Errorf("message %+v, %v", got, err)
	}
	stop()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

func until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for range 200 {
		if ok() {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatalf("never so: %s", what)
}
