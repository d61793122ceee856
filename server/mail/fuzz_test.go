package mail_test

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"testing"

	"gaugebook/server/mail"
)

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// known are the header fields that a letter may have.
const known = " Date From Reply-To To Subject Message-Id Mime-Version Auto-Submitted List-Unsubscribe Content-Type " +
	"Content-Transfer-Encoding "

// Whatever stands in a field, the letter is either refused with a *FieldError or
// reads back with just those values and no header that nobody asked for.
func FuzzBuild(f *testing.F) {
	f.Add("subject", "name", "file.pdf", "application/pdf", "text", "https://a.test/")
	f.Add("a\r\nBcc: x@y.test", "a\nb", "a\r\nX: y", "a/b\r\nX: y", ".\r\n", "https://a.test/\r\nX: y")
	f.Add("=?utf-8?q?=0D=0ABcc:_x?=", `"<x@y.test>, `, `a";b="c`, `a/b; name="x\"y"`, "\r\r\n\n", "mailto:x@y.test")
	f.Add(strings.Repeat("a ", 120)+"b", strings.Repeat("Ω ", 50)+"b", "ü.pdf", "", "é = =3D", "")
	f.Add("a     "+strings.Repeat(" ", 90)+"b", "a"+strings.Repeat(" ", 90)+"b", "a b  c", "text/plain; charset=utf-8",
		"-- \n", "")
	f.Fuzz(func(t *testing.T, subject, name, file, kind, text, link string) {
		m := letter()
		m.Subject, m.From.Name, m.To.Name, m.Text, m.ListUnsubscribe = subject, name, name, text, link
		m.Attachments = []mail.Attachment{{Name: file, ContentType: kind, Data: []byte(text)}}
		raw, err := mail.Build(m)
		if err != nil {
			var e *mail.FieldError
			if !errors.As(err, &e) {
				t.Fatalf("%T %v", err, err)
			}
			return
		}
		sameLetter(t, raw, m)
		h, _ := readBack(t, raw)
		for field, values := range h {
			if len(values) != 1 || !strings.Contains(known, " "+field+" ") {
				t.Fatalf("field %s %q", field, values)
			}
		}
	})
}

// An address that is accepted can be sent and read again as itself.
func FuzzAddress(f *testing.F) {
	for _, seed := range [][2]string{{"", "a@b.test"}, {"N", "a@b.test"}, {"Zoë, M", "a@xn--bcher-kva.example"},
		{"", "a@b.test\r\nX: y"}, {"", `"a b"@c.test`}, {"=?utf-8?q?a=0D=0Ab?=", "a@b.test"},
		{"", "a@b.test> SIZE=1"}, {"", "a(c)@b.test"}, {"", "a@b\u3002test"}} {
		f.Add(seed[0], seed[1])
	}
	f.Fuzz(func(t *testing.T, name, email string) {
		m := letter()
		m.To = mail.Address{Name: name, Email: email}
		raw, err := mail.Build(m)
		if err != nil {
			var e *mail.FieldError
			if !errors.As(err, &e) {
				t.Fatalf("%T %v", err, err)
			}
			return
		}
		if strings.ContainsAny(email, " \r\n<>\t\"") {
			t.Fatalf("%q was accepted", email)
		}
		sameLetter(t, raw, m)
	})
}
