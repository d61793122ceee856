package mail_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	netmail "net/mail"
	"os/exec"
	"strings"
	"testing"

	"gaugebook/server/mail"
)

// part is one leaf of a letter, read back by the standard library.
type part struct {
	kind, file string
	content    []byte
}

// readBack parses raw and checks what RFC 5322 and RFC 2045 ask of every line.
func readBack(t *testing.T, raw []byte) (netmail.Header, []part) {
	t.Helper()
	head, _, _ := bytes.Cut(raw, []byte("\r\n\r\n"))
	for _, line := range bytes.SplitAfter(raw, []byte("\r\n")) {
		text := strings.TrimSuffix(string(line), "\r\n")
		if len(text) > 998 || strings.ContainsAny(text, "\r\n\x00") || strings.ContainsFunc(text, func(r rune) bool {
			return r > '~'
		}) {
			t.Fatalf("line %q is too long, not ASCII or broken", text)
		}
	}
	for _, line := range strings.Split(string(head), "\r\n") {
		if strings.TrimSpace(line) == "" {
			t.Fatalf("a blank line in the header:\n%s", head)
		}
	}
	m, err := netmail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	return m.Header, leaves(t, m.Header.Get, m.Body)
}

func leaves(t *testing.T, field func(string) string, body io.Reader) []part {
	t.Helper()
	kind, params, err := mime.ParseMediaType(field("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	if strings.HasPrefix(kind, "multipart/") {
		var all []part
		for r := multipart.NewReader(body, params["boundary"]); ; {
			p, err := r.NextRawPart()
			if errors.Is(err, io.EOF) {
				return all
			}
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, leaves(t, p.Header.Get, p)...)
		}
	}
	switch field("Content-Transfer-Encoding") {
	case "quoted-printable":
		body = quotedprintable.NewReader(body)
	case "base64":
		body = base64.NewDecoder(base64.StdEncoding, body)
	default:
		t.Fatalf("encoding %q", field("Content-Transfer-Encoding"))
	}
	content, err := io.ReadAll(body)
	if err != nil {
		t.Fatal(err)
	}
	_, disposition, _ := mime.ParseMediaType(field("Content-Disposition"))
	return []part{{kind, disposition["filename"], content}}
}

func decoded(t *testing.T, h netmail.Header, field string) string {
	t.Helper()
	s, err := new(mime.WordDecoder).DecodeHeader(h.Get(field))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func crlf(s string) string {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	return strings.TrimRight(strings.ReplaceAll(s, "\n", "\r\n"), "\r\n")
}

// sameLetter compares raw with m, field by field and byte by byte.
func sameLetter(t *testing.T, raw []byte, m mail.Message) {
	t.Helper()
	h, parts := readBack(t, raw)
	if got := decoded(t, h, "Subject"); got != m.Subject {
		t.Errorf("subject %q, want %q", got, m.Subject)
	}
	for field, want := range map[string]mail.Address{"From": m.From, "To": m.To, "Reply-To": m.ReplyTo} {
		got, err := h.AddressList(field)
		if want == (mail.Address{}) {
			if !errors.Is(err, netmail.ErrHeaderNotPresent) {
				t.Errorf("%s: %v, %v", field, got, err)
			}
		} else if err != nil || len(got) != 1 || got[0].Name != want.Name || got[0].Address != want.Email {
			t.Errorf("%s: got %v, %v, want %+v", field, got, err, want)
		}
	}
	if date, err := h.Date(); err != nil || date.Unix() != m.Date.Unix() {
		t.Errorf("date %v, %v", date, err)
	}
	want := []part{{kind: "text/plain", content: []byte(crlf(m.Text))}}
	if m.HTML != "" {
		want = append(want, part{kind: "text/html", content: []byte(crlf(m.HTML))})
	}
	texts := len(want)
	for _, a := range m.Attachments {
		kind, _, _ := mime.ParseMediaType(a.ContentType)
		if kind == "" {
			kind = "application/octet-stream"
		}
		want = append(want, part{kind, a.Name, a.Data})
	}
	if len(parts) != len(want) {
		t.Fatalf("%d parts, want %d", len(parts), len(want))
	}
	for i, w := range want {
		got := parts[i]
		if i < texts {
			got.content = []byte(crlf(string(got.content)))
		}
		if got.kind != w.kind || got.file != w.file || !bytes.Equal(got.content, w.content) {
			t.Errorf("part %d is %s %q with %d bytes, want %s %q with %d", i, got.kind, got.file, len(got.content),
				w.kind, w.file, len(w.content))
		}
	}
}

func variants() map[string]mail.Message {
	v := map[string]mail.Message{"full": letter()}
	m := letter()
	m.HTML, m.Attachments, m.ReplyTo = "", nil, mail.Address{}
	v["text only"] = m
	m.HTML = "<p>x</p>"
	v["text and HTML"] = m
	m = letter()
	m.HTML = ""
	v["text and files"] = m
	m.Text = strings.Repeat("no-space-", 400) + "\n" + strings.Repeat("ü", 2000) + "\r\nFrom here\n. \ttrailing \t\n"
	m.Subject = strings.Repeat("x", 255)
	m.To.Name = strings.Repeat("Ω", 120)
	v["long lines"] = m
	m.Subject = "a  b" + strings.Repeat("  word", 40)
	m.To.Name = `He said "hi", \ twice (really) ` + strings.Repeat(" y", 40)
	v["runs of spaces and quotes"] = m
	m.Subject = "=?utf-8?q?=0D=0ABcc:_x@y.test?= and =?"
	m.To.Name = "=?utf-8?q?not_this?="
	v["looks encoded"] = m
	m.Text = "--=_mixed_\r\n--\r\nContent-Type: text/html\r\n\r\nboundary=x"
	v["looks like a boundary"] = m
	return v
}

func TestBuildReadsBack(t *testing.T) {
	for name, m := range variants() {
		t.Run(name, func(t *testing.T) {
			raw, err := mail.Build(m)
			if err != nil {
				t.Fatal(err)
			}
			sameLetter(t, raw, m)
		})
	}
}

func TestBuildFields(t *testing.T) {
	raw, err := mail.Build(letter())
	if err != nil {
		t.Fatal(err)
	}
	h, _ := readBack(t, raw)
	for field, want := range map[string]string{
		"Message-Id":       "<outbox-17@firm.example.test>",
		"Date":             "Wed, 04 Mar 2026 05:06:07 +0100",
		"Mime-Version":     "1.0",
		"Auto-Submitted":   "auto-generated", // RFC 3834 section 5
		"List-Unsubscribe": "<https://firm.example.test/quiet/abc?x=1&y=2>",
	} {
		if got := h[field]; len(got) != 1 || got[0] != want {
			t.Errorf("%s: %q, want %q", field, got, want)
		}
	}
	m := letter()
	m.Automatic, m.ListUnsubscribe = false, ""
	if raw, err = mail.Build(m); err != nil {
		t.Fatal(err)
	}
	h, _ = readBack(t, raw)
	if h["Auto-Submitted"] != nil || h["List-Unsubscribe"] != nil {
		t.Errorf("fields that were not asked for: %v", h)
	}
}

// The outbox stores a letter as JSON; every attempt must send the same bytes.
func TestBuildIsStable(t *testing.T) {
	for name, m := range variants() {
		stored, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		var again mail.Message
		if err := json.Unmarshal(stored, &again); err != nil {
			t.Fatal(err)
		}
		first, err := mail.Build(m)
		if err != nil {
			t.Fatal(err)
		}
		if second, err := mail.Build(again); err != nil || !bytes.Equal(first, second) {
			t.Errorf("%s: other bytes after storage: %v", name, err)
		}
	}
}

// python reads one letter and prints what it found, as an independent reader.
const python = `
import sys, json, hashlib, email, email.policy
m = email.message_from_bytes(sys.stdin.buffer.read(), policy=email.policy.default)
a = m["to"].addresses[0]
print(json.dumps({
  "defects": [repr(d) for p in m.walk() for d in p.defects] + [repr(d) for h in m.values() for d in h.defects],
  "subject": m["subject"], "name": a.display_name, "email": a.addr_spec,
  "text": m.get_body(("plain",)).get_content(), "html": m.get_body(("html",)).get_content(),
  "files": [[p.get_filename(), hashlib.sha256(p.get_payload(decode=True)).hexdigest()] for p in m.iter_attachments()],
}))`

func TestBuildReadByAnotherLanguage(t *testing.T) {
	m := letter()
	m.Attachments = m.Attachments[:2] // its digest below is over the payload
	raw, err := mail.Build(m)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("python3", "-c", python)
	cmd.Stdin = bytes.NewReader(raw)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("python3 is needed for this test: %v", err)
	}
	var got struct {
		Defects                          []string
		Subject, Name, Email, Text, HTML string
		Files                            [][2]string
	}
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Defects) > 0 || got.Subject != m.Subject || got.Name != m.To.Name || got.Email != m.To.Email ||
		crlf(got.Text) != crlf(m.Text) || crlf(got.HTML) != crlf(m.HTML) || len(got.Files) != 2 {
		t.Errorf("read %s", out)
	}
	for i, a := range m.Attachments {
		if got.Files[i] != [2]string{a.Name, digest(a.Data)} {
			t.Errorf("file %d: %v, want %q", i, got.Files[i], a.Name)
		}
	}
}
