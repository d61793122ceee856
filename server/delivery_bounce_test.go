package server_test

import (
	"bytes"
	"context"
	"fmt"
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

// report is a report of non-delivery about one message. Its parts and fields
// are those of the examples of RFC 3464 appendix E, with invented names.
func report(messageID, action, status, words string) string {
	return crlf(fmt.Sprintf(`From: Mail Delivery <mailer-daemon@relay.example>
To: post@tweddle.example
Subject: Returned mail
Auto-Submitted: auto-replied
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status;
	boundary="cut/here"

--cut/here

The message could not be handed over.

--cut/here
Content-Type: message/delivery-status

Reporting-MTA: dns; relay.example
Arrival-Date: Wed, 25 Nov 2026 09:00:00 +0000

Original-Recipient: rfc822;someone@home.example
Final-Recipient: rfc822;someone.else@home.example
Action: %s
Status: %s
Diagnostic-Code: smtp; %s

--cut/here
Content-Type: message/rfc822

Message-ID: <%s>
From: Tweddle and Daughter Heating <post@tweddle.example>
Subject: Record

Dear customer
--cut/here--
`, action, status, words, messageID))
}

func crlf(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }

func TestReadBounce(t *testing.T) {
	good := report("abc@tweddle.example", "failed", "5.1.1", "550 5.1.1 no such\n mailbox here")
	b, err := server.ReadBounce(strings.NewReader(good))
	want := server.Bounce{MessageID: "abc@tweddle.example", To: "someone@home.example", Action: "failed",
		Why: "5.1.1 550 5.1.1 no such mailbox here"}
	if err != nil || b != want {
		t.Errorf("got %+v, %v", b, err)
	}
	for name, c := range map[string]struct {
		old, with string
		says      string // "": accepted
	}{
		"bare line feeds":   {"\r\n", "\n", ""},
		"headers only":      {"message/rfc822", "text/rfc822-headers", ""},
		"no reason":         {"Diagnostic-Code: smtp; 550 5.1.1 no such\r\n mailbox here\r\n", "", ""},
		"upper case action": {"Action: failed", "ACTION: Failed", ""},
		"ordinary message": {"multipart/report; report-type=delivery-status", "multipart/mixed",
			"not a mail server's report"},
		"receipt": {"report-type=delivery-status", "report-type=disposition-notification",
			"not a mail server's report"},
		"no boundary":     {"boundary=\"cut/here\"", "x=y", "not a mail server's report"},
		"no status part":  {"message/delivery-status", "text/plain", "does not say what became"},
		"no message part": {"message/rfc822", "text/plain", "does not say which message"},
		"no message id":   {"Message-ID:", "X-ID:", "does not say which message"},
		"cut off":         {good[len(good)/2:], "", "does not say what became"},
		"no message":      {good, "hello", "no e-mail message"},
	} {
		b, err := server.ReadBounce(strings.NewReader(strings.ReplaceAll(good, c.old, c.with)))
		if c.says == "" && (err != nil || b.MessageID != want.MessageID || b.Action != "failed" || b.Why == "") {
			t.Errorf("%s: %+v, %v", name, b, err)
		}
		if c.says != "" && (err == nil || records.KindOf(err) != records.Invalid ||
			!strings.Contains(err.Error(), c.says)) {
			t.Errorf("%s: %+v, %v", name, b, err)
		}
	}
	// Of two recipients the one that failed counts.
	two := strings.Replace(good, "Action: failed",
		"Action: delivered\r\nStatus: 2.0.0\r\n\r\nFinal-Recipient: rfc822;b@home.example\r\nAction: failed", 1)
	if b, err := server.ReadBounce(strings.NewReader(two)); err != nil || b.Action != "failed" ||
		b.To != "b@home.example" {
		t.Errorf("two recipients: %+v, %v", b, err)
	}
}

func FuzzReadBounce(f *testing.F) {
	f.Add([]byte(report("abc@tweddle.example", "failed", "5.1.1", "550 no such mailbox")))
	f.Add([]byte(report("", "delayed", "4.2.2", "over quota")))
	f.Add([]byte("Content-Type: multipart/report; report-type=delivery-status; boundary=a\n\n--a\nContent-Type: " +
		"message/delivery-status\n\nAction: failed\n--a\nContent-Type: message/rfc822\n\nMessage-Id: x\n\n--a--"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := server.ReadBounce(bytes.NewReader(data))
		if err != nil {
			if records.KindOf(err) != records.Invalid {
				t.Fatalf("kind %s: %v", records.KindOf(err), err)
			}
			return
		}
		if b.MessageID == "" || b.Action == "" || b.Why == "" || strings.ContainsAny(b.Why+b.To, "\r\n\x00") ||
			len([]rune(b.Why)) > 300 {
			t.Fatalf("%+v", b)
		}
	})
}

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
	if p := send(report("other@elsewhere.example", "failed", "5.1.1", "x")); p.Status != 404 ||
		!strings.Contains(p.Body, "was not sent from here") {
		t.Errorf("of somebody else: status %d", p.Status)
	}
	if p := office.Post("/bounces", form()); p.Status != 422 {
		t.Errorf("no file: status %d", p.Status)
	}
	if p := send(report(id, "delayed", "4.2.2", "mailbox full")); p.Status != 303 {
		t.Errorf("delayed: status %d", p.Status)
	}
	check(t, office, expect{"/messages/" + m.ID, 200, []string{"Did it come back?", "nothing was changed"},
		[]string{"came back: "}})
	if p := send(report(id, "failed", "5.1.1", "550 no such <mailbox>")); p.Status != 303 ||
		p.Location != "/messages/"+m.ID {
		t.Errorf("failed: status %d", p.Status)
	}
	says := []string{"came back: 5.1.1 550 no such &lt;mailbox&gt;", "failed"}
	check(t, engineer, expect{"/records/" + row.ID, 200, says, nil})
	check(t, office, expect{"/messages?state=failed", 200, says, nil})
	check(t, office, expect{"/", 200, says[:1], nil})
	if p := send(report(id, "failed", "5.1.1", "again")); p.Status != http.StatusConflict {
		t.Errorf("twice: status %d", p.Status)
	}
}

func TestBounceFolder(t *testing.T) {
	site := servertest.Start(t)
	_, m := sent(t, site)
	dir := filepath.Join(t.TempDir(), "bounces")
	f := server.BounceFolder{Dir: dir, Store: site.Store, Log: slog.New(slog.DiscardHandler), Now: time.Now,
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
	put("a.eml", report(m.ID+"@tweddle.example", "failed", "5.2.2", "552 mailbox full"), old)
	put("b.eml", "no report", old)
	put("c.eml", report(m.ID+"@tweddle.example", "failed", "5.2.2", "still being written"), time.Now().Add(time.Hour))
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
