// Package servertest starts the whole server on a database of its own for
// tests of pages and API. All names and addresses in it are invented.
package servertest

import (
	"context"
	"crypto/ed25519"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/app"
	"gaugebook/server/worker"
)

// Password is everybody's. It protects nothing: each test makes its own
// database.
const Password = "kettle lantern orchard"

// cheap is what hashing it costs: next to nothing.
var cheap = app.PasswordCost{MemoryKiB: 64}

// Site is a running server with a firm, one person of each role, the
// instruments of the sample record and one appliance.
type Site struct {
	tb        testing.TB
	Server    *server.Server
	HTTP      *httptest.Server
	Store     *store.Store
	App       *app.App
	Clock     *storetest.Clock
	People    map[records.Role]records.Person
	Property  records.PropertyEntry
	Appliance store.Appliance
	Woken     atomic.Int32 // how often the outbox was woken
	// Down makes every request break off, as where there is no signal.
	Down atomic.Bool
}

// Start starts a site. Change, if given, may alter the configuration.
func Start(tb testing.TB, change ...func(*server.Config)) *Site {
	tb.Helper()
	s := &Site{tb: tb, Clock: storetest.NewClock(), People: map[records.Role]records.Person{}}
	s.Store = storetest.MustOpenAt(tb, filepath.Join(tb.TempDir(), "site.db"), s.Clock.Now)
	var handler http.Handler
	s.HTTP = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.Down.Load() {
			panic(http.ErrAbortHandler)
		}
		handler.ServeHTTP(w, r)
	}))
	tb.Cleanup(s.HTTP.Close)
	s.App = &app.App{Store: s.Store, Key: storetest.Key, BaseURL: s.HTTP.URL, Now: s.Clock.Now, Zone: time.UTC,
		Passwords:   cheap,
		MailWaiting: func() { s.Woken.Add(1) }}
	log := slog.New(slog.NewTextHandler(testLog{tb}, nil))
	cfg := server.Config{App: s.App, Workers: worker.NewGroup(log), Log: log,
		Version: "test", SignInPerMinute: 1000, VerifyPerMinute: 1000,
		// A busy machine, with the race detector, is many times slower than one
		// that serves.
		RequestTime: 5 * time.Minute}
	for _, c := range change {
		c(&cfg)
	}
	var err error
	if s.Server, err = server.New(cfg); err != nil {
		tb.Fatal(err)
	}
	handler = s.Server.Handler()
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { cfg.Workers.Run(ctx); close(ended) }()
	tb.Cleanup(func() { stop(); <-ended })
	s.fill()
	return s
}

// StartAs starts a site and signs somebody of the role in.
func StartAs(tb testing.TB, role records.Role) (*Site, *Client) {
	tb.Helper()
	s := Start(tb)
	return s, s.As(role)
}

// Prove fails the test if the register is not as the program wrote it: log,
// seals, numbers, prints.
func (s *Site) Prove() {
	s.tb.Helper()
	proof, err := s.Store.Audit.Prove(s.tb.Context(), store.ProofOptions{
		Keys: []ed25519.PublicKey{storetest.Key.Public().(ed25519.PublicKey)}, Photos: true})
	if err != nil {
		s.tb.Fatal(err)
	}
	for _, flaw := range proof.Flaws {
		s.tb.Error(flaw)
	}
}

// testLog shows the server's log where a test fails.
type testLog struct{ tb testing.TB }

func (l testLog) Write(p []byte) (int, error) {
	l.tb.Log(strings.TrimSpace(string(p)))
	return len(p), nil
}

func (s *Site) fill() {
	s.tb.Helper()
	ctx, sample := context.Background(), rules.Sample()
	must := func(err error) {
		s.tb.Helper()
		if err != nil {
			s.tb.Fatal(err)
		}
	}
	must(s.Store.Settings.SaveFirm(ctx, storetest.Actor, records.Firm{Name: "Tweddle and Daughter Heating",
		Address: "2 Quillwater Lane, Ambershaw", Phone: "01632 960 100", Email: "post@tweddle.example",
		Registration: "800001"}))
	hash, err := cheap.Hash(Password)
	must(err)
	for role, name := range map[records.Role]string{records.RoleOwner: "Rhona Tweddle",
		records.RoleOffice:   "Piers Applegarth",
		records.RoleEngineer: "Tamsin Oakhurst"} {
		p := records.Person{Name: name, Email: string(role) + "@tweddle.example", Role: role, Licence: "7000001",
			CompetenceUntil: records.MustDate("2029-05-31"), PasswordHash: hash, Active: true}
		s.People[role], err = s.Store.People.Create(ctx, storetest.Actor, p)
		must(err)
	}
	for _, i := range sample.Instruments {
		_, err := s.Store.Settings.SaveInstrument(ctx, storetest.Actor, i)
		must(err)
	}
	s.Property, err = s.Store.Register.CreateProperty(ctx, storetest.Actor,
		records.PropertyEntry{Property: sample.Property,
			Contact: sample.Contact})
	must(err)
	s.Appliance, err = s.Store.Register.CreateAppliance(ctx, storetest.Actor, s.Property.ID, sample.Values)
	must(err)
}

// Draft starts an empty draft of a commissioning record.
func (s *Site) Draft() *records.Record {
	s.tb.Helper()
	r, err := s.App.Start(context.Background(), s.People[records.RoleEngineer], s.Appliance.ID, records.Commissioning,
		rules.Sample().WorkDate)
	if err != nil {
		s.tb.Fatal(err)
	}
	return r
}

// Full starts a draft with all readings of the sample record, every one
// inside its limit; change may spoil it.
func (s *Site) Full(change ...func(records.Values)) *records.Record {
	s.tb.Helper()
	r := s.Draft()
	values := rules.Sample().Values.Clone()
	for _, c := range change {
		c(values)
	}
	r, err := s.App.SaveChange(context.Background(), s.People[records.RoleEngineer], r.ID, r.Revision,
		app.Change{Values: values})
	if err != nil {
		s.tb.Fatal(err)
	}
	return r
}

// Declare has somebody declare the readings of a draft, and returns it.
func (s *Site) Declare(who records.Person, r *records.Record) *records.Record {
	s.tb.Helper()
	values := records.Values{}
	values.Put(records.Declared.Field, "yes")
	r, err := s.App.SaveChange(context.Background(), who, r.ID, r.Revision, app.Change{Values: values})
	if err != nil {
		s.tb.Fatal(err)
	}
	return r
}

// Issued issues a full draft and returns it.
func (s *Site) Issued() store.IssuedRow {
	s.tb.Helper()
	r := s.Full()
	row, err := s.App.Issue(context.Background(), s.People[records.RoleEngineer], r.ID, r.Revision)
	if err != nil {
		s.tb.Fatal(err)
	}
	return row
}

// Token makes a customer's link to an issued record and returns its token.
func (s *Site) Token(recordID string) string {
	s.tb.Helper()
	l, err := s.Store.Links.AddTo(context.Background(), storetest.Actor, recordID, records.Contact{Name: "customer"},
		s.Clock.Now().AddDate(1, 0, 0))
	if err != nil {
		s.tb.Fatal(err)
	}
	return l.Token
}
