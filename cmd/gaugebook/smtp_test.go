package main

import (
	"io"
	"net"
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	smtpd "github.com/emersion/go-smtp"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

// mailServer is a real SMTP server on loopback. Accepted, if set, is called
// once, after a message was taken in and before the other side is told.
// Refuse, if set, answers a recipient; for one whom cut names the line is cut
// after the message was taken in, before the other side is told.
type mailServer struct {
	mu       sync.Mutex
	letters  [][]byte
	accepted func()
	refuse   func(to string) error
	cut      func(to string) bool
	addr     string
}

func newMailServer(tb testing.TB) *mailServer {
	tb.Helper()
	return startMailServer(tb, &mailServer{})
}

func startMailServer(tb testing.TB, s *mailServer) *mailServer {
	tb.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	s.addr = l.Addr().String()
	server := smtpd.NewServer(smtpd.BackendFunc(func(c *smtpd.Conn) (smtpd.Session, error) {
		return &mailSession{s: s, conn: c}, nil
	}))
	server.Domain = "mx.greystane.example"
	server.ErrorLog = quiet{}
	done := make(chan struct{})
	go func() { defer close(done); _ = server.Serve(l) }()
	tb.Cleanup(func() { server.Close(); l.Close(); <-done })
	return s
}

func (s *mailServer) got(tb testing.TB) []letter {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []letter
	for _, raw := range s.letters {
		out = append(out, parseLetter(tb, raw))
	}
	return out
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

type mailSession struct {
	s    *mailServer
	conn *smtpd.Conn
	to   string
}

func (*mailSession) Mail(string, *smtpd.MailOptions) error { return nil }
func (*mailSession) Reset()                                {}
func (*mailSession) Logout() error                         { return nil }

func (m *mailSession) Rcpt(to string, _ *smtpd.RcptOptions) error {
	m.to = to
	if m.s.refuse == nil {
		return nil
	}
	return m.s.refuse(to)
}

func (m *mailSession) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	m.s.mu.Lock()
	m.s.letters = append(m.s.letters, raw)
	accepted := m.s.accepted
	m.s.accepted = nil
	m.s.mu.Unlock()
	if accepted != nil {
		accepted()
	}
	if m.s.cut != nil && m.s.cut(m.to) {
		return m.conn.Close()
	}
	return nil
}

// A message whose acceptance is not known, because the program was killed
// after the mail server took it and before that was written down, is set
// aside as unsure and not sent a second time until a person says so.
func TestMessageThroughSMTP(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	newOwner(t, dir)
	post := newMailServer(t)
	f := setUp(t, serve(t, dir, "--smtp", "smtp://"+post.addr))
	_, home := f.addHome("5 Netmaker's Wynd", "wynd@example.org")
	record := f.startRecord(home, records.Commissioning, today(t))
	f.fillRecord(record)
	is := f.issueRecord(record)
	servertest.Eventually(t, "a letter at the mail server", func() bool { return len(post.got(t)) == 1 })
	first := post.got(t)[0]
	file := f.engineer.get("/records/" + record + "/pdf").body
	if !strings.Contains(first.to, "wynd@example.org") || !strings.Contains(first.from, firmEmail) ||
		string(first.files["record-"+is.number+".pdf"]) != string(file) {
		t.Errorf("from %s to %s with %d files", first.from, first.to, len(first.files))
	}
	link := privateLink.FindStringSubmatch(first.text)
	if link == nil {
		t.Fatalf("no private link in:\n%s", first.text)
	}
	f.visitor(t).get("/r/" + link[1]).says(is.number)
	servertest.Eventually(t, "the message marked as sent", func() bool {
		return strings.Contains(f.office.get("/messages?state=sent").words(), "wynd@example.org")
	})

	// The same letter once more; the program dies as the server takes it.
	answered := make(chan struct{})
	post.mu.Lock()
	post.accepted = func() { <-answered; f.kill() }
	post.mu.Unlock()
	resend := f.engineer.get("/records/" + record).form("/records/" + record + "/resend")
	f.engineer.stays(resend).was(http.StatusSeeOther)
	close(answered)
	servertest.Eventually(t, "the second letter at the mail server", func() bool { return len(post.got(t)) == 2 })
	second := post.got(t)[1]
	if second.id == first.id || second.id == "" {
		t.Errorf("two messages with the id %q", second.id)
	}
	servertest.Eventually(t, "the server killed", func() bool { f.mu.Lock(); defer f.mu.Unlock(); return f.cmd == nil })
	f.crash()
	servertest.Eventually(t, "the message set aside as unsure", func() bool {
		return strings.Contains(f.office.get("/messages?state=unsure").words(), "wynd@example.org")
	})
	f.office.get("/messages?state=unsure").says("it is not known whether the message was accepted")
	f.office.get("/").says("unsure")

	// Another message goes out while the unsure one stays where it is. Two
	// presses within one second count as one.
	time.Sleep(time.Until(time.Now().Truncate(time.Second).Add(time.Second)))
	f.engineer.get("/records/" + record).form("/records/" + record + "/resend").press().was(http.StatusOK)
	servertest.Eventually(t, "the third letter at the mail server", func() bool { return len(post.got(t)) >= 3 })
	f.crash()
	if got := post.got(t); len(got) != 3 || got[2].id == second.id {
		t.Fatalf("%d letters, the last with id %s", len(got), got[len(got)-1].id)
	}

	// A person settles it: first by sending it again, knowing that.
	p := f.office.get("/messages?state=unsure").says("wynd@example.org")
	action := ""
	for n := range p.doc.Descendants() {
		if a := attr(n, "action"); strings.HasSuffix(a, "/requeue") {
			action = a
		}
	}
	if action == "" {
		t.Fatal("an unsure message cannot be settled")
	}
	p.form(action).press().was(http.StatusOK)
	servertest.Eventually(t, "the unsure letter sent again", func() bool { return len(post.got(t)) == 4 })
	again := post.got(t)[3]
	inMail := regexp.MustCompile(`/r/([a-z2-7]{26})`)
	if again.id != second.id || inMail.ReplaceAllString(again.text, "") != inMail.ReplaceAllString(second.text, "") {
		t.Errorf("sent again with id %s, not %s: a mail program would show it twice", again.id, second.id)
	}
	for _, m := range []string{second.text, again.text} { // whichever of the two the customer reads
		if found := inMail.FindStringSubmatch(m); found == nil {
			t.Errorf("no link in %q", m)
		} else {
			f.visitor(t).get("/r/" + found[1]).was(http.StatusOK)
		}
	}
	servertest.Eventually(t, "no message unsure", func() bool {
		return !strings.Contains(f.office.get("/messages?state=unsure").words(), "wynd@example.org")
	})
}

// A mail server that is not there delays messages; it loses none.
func TestMailServerAway(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	away := l.Addr().String()
	l.Close()
	dir := t.TempDir()
	newOwner(t, dir)
	f := setUp(t, serve(t, dir, "--smtp", "smtp://"+away))
	_, home := f.addHome("6 Netmaker's Wynd", "later@example.org")
	record := f.startRecord(home, records.Commissioning, today(t))
	f.fillRecord(record)
	is := f.issueRecord(record)
	servertest.Eventually(t, "the trouble on the messages page", func() bool {
		return strings.Contains(f.office.get("/messages?state=due").words(), "connection refused")
	})
	servertest.Eventually(t, "the record's page says that its letter waits", func() bool {
		return strings.Contains(f.engineer.get("/records/"+record).says(is.number, "In force").words(),
			"waiting to be sent")
	})
}
