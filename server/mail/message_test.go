package mail_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"gaugebook/server/mail"
)

// letter is a full letter of the invented firm.
func letter() mail.Message {
	blob := make([]byte, 100_003) // ends in the middle of a base64 line
	for i := range blob {
		blob[i] = byte(i * i >> 3)
	}
	return mail.Message{
		ID:      "outbox-17",
		Date:    time.Date(2026, 3, 4, 5, 6, 7, 0, time.FixedZone("", 3600)),
		From:    mail.Address{Name: "Thistledown Heating, office", Email: "office@firm.example.test"},
		ReplyTo: mail.Address{Email: "desk@firm.example.test"},
		To:      mail.Address{Name: "Zoë Müller-Ångström", Email: "zoe+boiler@home.example.test"},
		Subject: "Your record for 3 Larkfield Rise – 21 °C, ΔT ≤ 20 K",
		Text:    "Hello Zoë,\n\nthe record is attached.\n\nFrom the office\n",
		HTML:    "<p>Hello Zoë,</p><p>the record is attached.</p>",
		Attachments: []mail.Attachment{
			{Name: "record.pdf", ContentType: "application/pdf", Data: blob},
			{Name: "Übergabe-Protokoll für Zoë.txt", ContentType: "text/plain; charset=utf-8",
				Data: []byte("line one\nline two\r\n\r")},
			{Name: "empty", Data: nil},
		},
		Automatic:       true,
		ListUnsubscribe: "https://firm.example.test/quiet/abc?x=1&y=2",
	}
}

func TestValidateNamesFieldAndValue(t *testing.T) {
	long := strings.Repeat("x", 300)
	tests := []struct {
		field, value string
		spoil        func(*mail.Message, string)
	}{
		{"ID", "", func(m *mail.Message, v string) { m.ID = v }},
		{"ID", "../../etc/x", func(m *mail.Message, v string) { m.ID = v }},
		{"ID", "a>\r\nBcc: x@y.test", func(m *mail.Message, v string) { m.ID = v }},
		{"ID", "a..b", func(m *mail.Message, v string) { m.ID = v }},
		{"Subject", "", func(m *mail.Message, v string) { m.Subject = v }},
		{"Subject", "a\r\nBcc: x@y.test", func(m *mail.Message, v string) { m.Subject = v }},
		{"Subject", "a\nb", func(m *mail.Message, v string) { m.Subject = v }},
		{"Subject", "a\rb", func(m *mail.Message, v string) { m.Subject = v }},
		{"Subject", "a\x00b", func(m *mail.Message, v string) { m.Subject = v }},
		{"Subject", "a\u2028b", func(m *mail.Message, v string) { m.Subject = v }},
		{"Subject", "\xff", func(m *mail.Message, v string) { m.Subject = v }},
		{"Subject", " a", func(m *mail.Message, v string) { m.Subject = v }},
		{"Subject", long, func(m *mail.Message, v string) { m.Subject = v }},
		{"From.Name", "a\r\nBcc: x@y.test", func(m *mail.Message, v string) { m.From.Name = v }},
		{"From.Email", "", func(m *mail.Message, v string) { m.From.Email = v }},
		{"To.Name", "a\nb", func(m *mail.Message, v string) { m.To.Name = v }},
		{"To.Email", "a@b.test\r\nRCPT TO:<c@d.test>", func(m *mail.Message, v string) { m.To.Email = v }},
		{"To.Email", "a@b.test> BODY=8BITMIME", func(m *mail.Message, v string) { m.To.Email = v }},
		{"To.Email", "a@b.test, c@d.test", func(m *mail.Message, v string) { m.To.Email = v }},
		{"To.Email", "a@nodot", func(m *mail.Message, v string) { m.To.Email = v }},
		{"To.Email", "a@ß.test", func(m *mail.Message, v string) { m.To.Email = v }},
		{"To.Email", "zoë@b.test", func(m *mail.Message, v string) { m.To.Email = v }},
		{"To.Email", "a..b@c.test", func(m *mail.Message, v string) { m.To.Email = v }},
		{"To.Email", long[:65] + "@c.test", func(m *mail.Message, v string) { m.To.Email = v }},
		{"ReplyTo.Email", "x", func(m *mail.Message, v string) { m.ReplyTo.Email = v }},
		{"Text", " \n", func(m *mail.Message, v string) { m.Text = v }},
		{"Text", "\xff", func(m *mail.Message, v string) { m.Text = v }},
		{"HTML", "\xff", func(m *mail.Message, v string) { m.HTML = v }},
		{"ListUnsubscribe", "javascript:x", func(m *mail.Message, v string) { m.ListUnsubscribe = v }},
		{"ListUnsubscribe", "https://a.test/\r\nBcc: x@y.test", func(m *mail.Message, v string) {
			m.ListUnsubscribe = v
		}},
		{"ListUnsubscribe", "https://a.test/>,<b", func(m *mail.Message, v string) { m.ListUnsubscribe = v }},
		{"Attachment.Name", "a\r\nX: y", func(m *mail.Message, v string) { m.Attachments[0].Name = v }},
		{"Attachment.Name", "../x", func(m *mail.Message, v string) { m.Attachments[0].Name = v }},
		{"Attachment.Name", `a\x`, func(m *mail.Message, v string) { m.Attachments[0].Name = v }},
		{"Attachment.Name", strings.Repeat("€", 100), func(m *mail.Message, v string) { m.Attachments[0].Name = v }},
		{"Attachment.ContentType", "a/b\r\nX: y", func(m *mail.Message, v string) { m.Attachments[0].ContentType = v }},
		{"Attachment.ContentType", "pdf", func(m *mail.Message, v string) { m.Attachments[0].ContentType = v }},
		{"Attachment.ContentType", "multipart/mixed", func(m *mail.Message, v string) {
			m.Attachments[0].ContentType = v
		}},
	}
	for _, tt := range tests {
		m := letter()
		tt.spoil(&m, tt.value)
		_, err := mail.Build(m)
		var e *mail.FieldError
		if !errors.As(err, &e) || e.Field != tt.field || e.Value != tt.value || e.Accepted == "" {
			t.Errorf("%s %q: got %v", tt.field, tt.value, err)
			continue
		}
		if text := err.Error(); !strings.Contains(text, tt.field) || strings.ContainsAny(text, "\r\n\x00") {
			t.Errorf("message %q", text)
		}
		_, err = (mail.Folder{Dir: t.TempDir()}).Send(t.Context(), m)
		failed(t, err, mail.Permanent, mail.StageMessage)
		_, err = (mail.SMTP{}).Send(t.Context(), m)
		failed(t, err, mail.Permanent, mail.StageMessage)
	}
	m := letter()
	m.Date = time.Time{}
	var e *mail.FieldError
	if _, err := mail.Build(m); !errors.As(err, &e) || e.Field != "Date" {
		t.Errorf("no date: %v", err)
	}
}

func TestAddresses(t *testing.T) {
	build := func(email string) error {
		m := letter()
		m.To.Email = email
		_, err := mail.Build(m)
		return err
	}
	for _, good := range []string{"zoe@home.example.test", "o'neil+x@sub.example.test",
		"a@xn--bcher-kva.example"} { // RFC 3492 family of examples
		if err := build(good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
	for _, bad := range []string{"", "zoe", "zoe@", "@home.test", "a@b.test, c@d.test", "a@b.test\r\nBcc: c@d.test",
		"a@[127.0.0.1]", `"a b"@c.test`, "a@b_c.test", "a@-b.test", "a@b.", "a@b.test.", "N <a@b.test>",
		"a@b.test\x00", "zoë@b.test", "a@nodot", "a@bücher.example", " a@b.test"} {
		var e *mail.FieldError
		if err := build(bad); !errors.As(err, &e) || e.Field != "To.Email" || e.Accepted == "" {
			t.Errorf("%q: got %v", bad, err)
		}
	}
}

// RFC 5321 section 4.5.4.1: wait at least 30 minutes as a rule after the first
// tries, and give up only after four to five days.
func TestBackoff(t *testing.T) {
	want := []time.Duration{time.Minute, 5 * time.Minute, 30 * time.Minute, 2 * time.Hour, 6 * time.Hour,
		12 * time.Hour,
		24 * time.Hour, 24 * time.Hour, 24 * time.Hour, 24 * time.Hour}
	var total time.Duration
	for i, w := range want {
		if got := mail.Backoff(i + 1); got != w {
			t.Errorf("after attempt %d: %v, want %v", i+1, got, w)
		}
	}
	for attempt := 1; attempt < mail.MaxAttempts; attempt++ {
		total += mail.Backoff(attempt)
	}
	if total < 4*24*time.Hour || total > 5*24*time.Hour {
		t.Errorf("gives up after %v, want four to five days", total)
	}
	if mail.Backoff(0) != time.Minute || mail.Backoff(-5) != time.Minute || mail.Backoff(1<<40) != 24*time.Hour {
		t.Error("out of range")
	}
}
