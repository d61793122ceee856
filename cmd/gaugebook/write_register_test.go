package main

import (
	"context"
	"errors"
	"flag"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	smtpd "github.com/emersion/go-smtp"

	"gaugebook/server/servertest"
)

var (
	writeRegister = flag.String("write-register", "",
		"write a small register of every kind of row to this new folder, such as testdata/registers/schema-10")
	writeIssued = flag.String("write-issued", "",
		"with -write-register: write its issued records to this new folder, such as testdata/issued/2026-11-schema-1")
)

// publicBase is where the invented firm's register is reached. It is printed
// on the papers, so it is no port of this machine.
const publicBase = "https://records.brackwater.example"

// TestWriteRegister writes a register as today's program writes it, through
// its commands, pages and API, to be kept. It never writes over one. Without
// its flags it only proves that the scenario can still be read.
func TestWriteRegister(t *testing.T) {
	if *writeRegister == "" {
		readScenario(t).check(t)
		return
	}
	register, issued := filepath.Join("../..", *writeRegister), ""
	isNew(t, register)
	if *writeIssued != "" {
		issued = filepath.Join("../..", *writeIssued)
		isNew(t, issued)
	}
	m := newMaker(t)
	m.enterFirm()
	m.enterRegister()
	m.restore()
	m.makeVisits()
	m.leaveDrafts()
	m.workAtDesk()
	m.askAsCustomers()
	m.remind()
	m.settle()
	m.keep(register, m.gather())
	if issued != "" {
		m.keepIssued(issued, register)
	}
}

func isNew(tb testing.TB, name string) {
	tb.Helper()
	if _, err := os.Stat(name); !errors.Is(err, fs.ErrNotExist) {
		tb.Fatalf("%s is there already: what is kept is never written again", name)
	}
}

// maker makes the register. Ids are kept by the names that the scenario uses.
type maker struct {
	*service
	t    *testing.T
	plan scenario
	post *mailServer
	day  string // today

	listen string // address of the server

	visitors    map[string]*visitor // by key of the person
	keys        map[string]keyed
	people      map[string]string
	instruments map[string]string
	properties  map[string]string
	appliances  map[string]string
	records     map[string]gotRecord
	hooks       []string
	want        expectation
}

func newMaker(t *testing.T) *maker {
	m := &maker{t: t, plan: readScenario(t), day: today(t).String(), visitors: map[string]*visitor{},
		keys: map[string]keyed{}, people: map[string]string{}, instruments: map[string]string{},
		properties: map[string]string{}, appliances: map[string]string{}, records: map[string]gotRecord{}}
	m.want.Made = m.day
	m.post = startMailServer(t, &mailServer{refuse: refusedBy, cut: func(to string) bool {
		return strings.HasSuffix(to, "@cut.example")
	}})
	owner, dir := m.plan.People[0], filepath.Join(t.TempDir(), "register")
	must(t, owner.Password+"\n", "owner", "--data", dir, "--name", owner.Name, "--email", owner.Email)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	m.listen = l.Addr().String()
	l.Close()
	smtp := "smtp://" + m.post.addr
	m.service = serveAt(t, m.listen, dir, "--base-url", publicBase, "--smtp", smtp, "--webhook-loopback")
	// In front of a real one stands a proxy that speaks TLS; here it is left out.
	plain := func(ctx context.Context, _, _ string) (net.Conn, error) {
		return new(net.Dialer).DialContext(ctx, "tcp", m.listen)
	}
	m.via = &http.Transport{DialTLSContext: plain}
	return m
}

// refusedBy tells by the address what becomes of a message.
func refusedBy(to string) error {
	switch {
	case strings.HasSuffix(to, "@refuses.example"):
		return &smtpd.SMTPError{Code: 550, EnhancedCode: smtpd.EnhancedCode{5, 1, 1}, Message: "no such mailbox here"}
	case strings.HasSuffix(to, "@busy.example"):
		return &smtpd.SMTPError{Code: 451, EnhancedCode: smtpd.EnhancedCode{4, 3, 2}, Message: "try again later"}
	}
	return nil
}

// restore goes on with what a backup brings back, into a folder of its own: two
// numbers are taken to be on papers, and everybody signs in again.
func (m *maker) restore() {
	servertest.Eventually(m.t, "every letter sent", func() bool {
		return !strings.Contains(m.as("office").get("/messages?state=due").words(), "@brackwater.example")
	})
	dir := m.t.TempDir()
	copied, to := filepath.Join(dir, "copy.db"), filepath.Join(dir, "restored")
	must(m.t, "", "backup", "--data", m.dir, copied)
	m.stop()
	must(m.t, "", "restore", "--data", to, "--key", filepath.Join(m.dir, "firm.key"), "--highest", m.day[:4]+"-00002",
		copied)
	m.dir = to
	m.start(m.listen)
	for _, key := range sortedKeys(m.visitors) {
		p := m.person(key)
		m.as(key).signIn(p.Email, p.Password)
	}
}

// changeKey has the firm's key handed over to a new one: some records are sealed
// with each.
func (m *maker) changeKey() {
	m.stop()
	must(m.t, "", "key", "change", "--data", m.dir, "--base-url", publicBase)
	m.start(m.listen)
}

func (m *maker) as(key string) *visitor {
	if m.visitors[key] == nil {
		m.visitors[key] = m.visitor(m.t)
	}
	return m.visitors[key]
}

// shows notes words that the page about a thing must show from now on.
func (m *maker) shows(about, id, as string, words ...string) {
	m.want.Shown = append(m.want.Shown, keptWords{About: about, ID: id, As: as, Words: words})
}

// letterTo waits for a letter to somebody.
func (m *maker) letterTo(email, words string) (found letter) {
	m.t.Helper()
	servertest.Eventually(m.t, "a letter to "+email, func() bool {
		for _, l := range m.post.got(m.t) {
			if strings.Contains(l.to, email) && strings.Contains(l.subject+l.text, words) {
				found = l
				return true
			}
		}
		return false
	})
	return found
}

// person returns somebody of the scenario.
func (m *maker) person(key string) plannedPerson {
	m.t.Helper()
	for _, p := range m.plan.People {
		if p.Key == key {
			return p
		}
	}
	m.t.Fatalf("nobody is called %q", key)
	return plannedPerson{}
}
