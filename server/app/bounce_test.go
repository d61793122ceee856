package app_test

import (
	"bytes"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/servertest"
)

func TestReadBounce(t *testing.T) {
	good := servertest.BounceReport("abc@tweddle.example", "failed", "5.1.1", "550 5.1.1 no such\n mailbox here")
	b, err := app.ReadBounce(strings.NewReader(good))
	want := app.Bounce{MessageID: "abc@tweddle.example", To: "someone@home.example", Action: "failed",
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
		"no message":      {good, "hello", "not an e-mail message"},
	} {
		b, err := app.ReadBounce(strings.NewReader(strings.ReplaceAll(good, c.old, c.with)))
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
	if b, err := app.ReadBounce(strings.NewReader(two)); err != nil || b.Action != "failed" ||
		b.To != "b@home.example" {
		t.Errorf("two recipients: %+v, %v", b, err)
	}
}

func FuzzReadBounce(f *testing.F) {
	f.Add([]byte(servertest.BounceReport("abc@tweddle.example", "failed", "5.1.1", "550 no such mailbox")))
	f.Add([]byte(servertest.BounceReport("", "delayed", "4.2.2", "over quota")))
	f.Add([]byte("Content-Type: multipart/report; report-type=delivery-status; boundary=a\n\n--a\nContent-Type: " +
		"message/delivery-status\n\nAction: failed\n--a\nContent-Type: message/rfc822\n\nMessage-Id: x\n\n--a--"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := app.ReadBounce(bytes.NewReader(data))
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
