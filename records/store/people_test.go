package store_test

import (
	"bytes"
	"errors"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func TestPeople(t *testing.T) {
	s := empty(t)
	owner := must(s.People.Create(ctx, records.SystemActor, records.Person{Name: "Orla Venn",
		Email: "orla@firm.example", Role: records.RoleOwner, PasswordHash: "h1", Active: true}))
	eng := must(s.People.Create(ctx, storetest.Actor, records.Person{Name: "Ewan Holt", Email: "ewan@firm.example",
		Role: records.RoleEngineer, Licence: "7000002", CompetenceUntil: records.MustDate("2028-03-01"), Active: true}))
	if got := must(s.People.ByEmail(ctx, " EWAN@firm.example ")); got != eng {
		t.Errorf("person %+v, want %+v", got, eng)
	}
	_, err := s.People.Create(ctx, storetest.Actor, records.Person{Name: "Other", Email: "Orla@Firm.example",
		Role: records.RoleOffice})
	wantKind(t, err, records.Conflict)
	_, err = s.People.Create(ctx, storetest.Actor, records.Person{Name: " ", Email: "no address", Role: "king"})
	wantKind(t, err, records.Invalid)
	var errs records.Errors
	if !errors.As(err, &errs) || len(errs) != 3 {
		t.Errorf("want an error for each of three fields: %v", err)
	}
	down := owner
	down.Role = records.RoleOffice
	_, err = s.People.Update(ctx, storetest.Actor, down)
	wantKind(t, err, records.Conflict)
	eng.Role, eng.PasswordHash, eng.Active = records.RoleOwner, "not this way", false
	must(s.People.Update(ctx, storetest.Actor, eng))
	if got := must(s.People.ByID(ctx, eng.ID)); got.Role != records.RoleOwner || got.PasswordHash != "" || got.Active {
		t.Errorf("person %+v", got)
	}
	if err := s.People.SetPassword(ctx, storetest.Actor, owner.ID, "h2"); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.People.SetPassword(ctx, storetest.Actor, "none", "h"), records.NotFound)
	if people := must(s.People.List(ctx)); len(people) != 2 || people[0].ID != eng.ID ||
		people[1].PasswordHash != "h2" {
		t.Errorf("people %+v", people)
	}
}

func TestFirmAndInstruments(t *testing.T) {
	s := empty(t)
	if f := must(s.Settings.Firm(ctx)); f != (records.Firm{}) {
		t.Errorf("a new database has the firm %+v", f)
	}
	firm := records.Firm{Name: "Tweddle and Daughter Heating", Address: "3 Kiln Yard, Ambershaw",
		Registration: "000001"}
	for range 2 {
		if err := s.Settings.SaveFirm(ctx, storetest.Actor, firm); err != nil {
			t.Fatal(err)
		}
	}
	if f := must(s.Settings.Firm(ctx)); f != firm {
		t.Errorf("firm %+v", f)
	}
	in := must(s.Settings.SaveInstrument(ctx, storetest.Actor, records.Instrument{Kind: "gauge", Serial: "G-1",
		CalibrationDue: records.MustDate("2027-01-01")}))
	in.CalibrationDue = records.MustDate("2028-01-01")
	must(s.Settings.SaveInstrument(ctx, storetest.Actor, in))
	if list := must(s.Settings.Instruments(ctx)); len(list) != 1 || !reflect.DeepEqual(list[0], in) {
		t.Errorf("instruments %+v", list)
	}
	_, err := s.Settings.SaveInstrument(ctx, storetest.Actor, records.Instrument{Kind: "hammer"})
	wantKind(t, err, records.Invalid)

	bands := records.DropBands{Edition: records.Edition4, Fuel: records.FuelNatural, Clause: "the firm's copy, table 1",
		EnteredBy: "Orla Venn", Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 5}, {UpToM3: 0.02, DropMbar: 3}}}
	if err := s.Settings.SaveDropBands(ctx, storetest.Actor, bands); err != nil {
		t.Fatal(err)
	}
	if got := must(s.Settings.DropBands(ctx)); len(got) != 1 || len(got[0].Bands) != 2 {
		t.Errorf("bands %+v", got)
	}
	for _, bad := range [][]records.DropBand{nil, {{UpToM3: 0.02, DropMbar: 1}, {UpToM3: 0.02, DropMbar: 1}},
		{{UpToM3: 0, DropMbar: 1}}, {{UpToM3: 0.01, DropMbar: 40}}, {{UpToM3: math.NaN(), DropMbar: 1}},
		{{UpToM3: 0.01, DropMbar: math.Inf(1)}}} {
		b := bands
		b.Bands = bad
		wantKind(t, s.Settings.SaveDropBands(ctx, storetest.Actor, b), records.Invalid)
	}
	bands.Edition = records.Edition3 // no rule reads it
	wantKind(t, s.Settings.SaveDropBands(ctx, storetest.Actor, bands), records.Invalid)
}

func TestSessionsThroughTheManager(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	s := storetest.MustOpenAt(t, t.TempDir()+"/s.db", clock.Now)
	m := scs.New()
	m.Store, m.HashTokenInStore = s.People.Sessions(), true
	h := m.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		m.Put(r.Context(), "n", m.GetInt(r.Context(), "n")+1)
		if r.URL.Path == "/out" {
			_ = m.Destroy(r.Context())
		}
		w.Header().Set("N", string(rune('0'+m.GetInt(r.Context(), "n"))))
	}))
	var cookie *http.Cookie
	get := func(path string) string {
		r := httptest.NewRequest(http.MethodGet, path, nil)
		if cookie != nil {
			r.AddCookie(cookie)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if c := w.Result().Cookies(); len(c) > 0 && c[0].Value != "" {
			cookie = c[0]
		}
		return w.Header().Get("N")
	}
	if a, b := get("/"), get("/"); a != "1" || b != "2" {
		t.Errorf("counted %s, %s", a, b)
	}
	get("/out")
	if n := get("/"); n != "1" {
		t.Errorf("a session went on after its end: %s", n)
	}
	// Expired by the store's clock.
	v := s.People.Sessions()
	if err := v.Commit("tok", []byte("data"), clock.Now().Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if b, ok, err := v.Find("tok"); string(b) != "data" || !ok || err != nil {
		t.Errorf("found %q %v %v", b, ok, err)
	}
	clock.Set(storetest.Start.Add(time.Hour))
	if _, ok, err := v.Find("tok"); ok || err != nil {
		t.Errorf("an expired session was found: %v", err)
	}
	if err := errors.Join(v.Delete("tok"), v.Delete("tok")); err != nil {
		t.Error(err)
	}
}

func mustPerson(t *testing.T, s *store.Store, email string) records.Person {
	t.Helper()
	return must(s.People.Create(ctx, storetest.Actor, records.Person{Name: "Elspeth Corrow", Email: email,
		Role: records.RoleEngineer, Active: true}))
}

func TestKeyIsOfOnePersonUntilRevoked(t *testing.T) {
	s := empty(t)
	p, other := mustPerson(t, s, "elspeth@firm.example"), mustPerson(t, s, "other@firm.example")
	k := must(s.People.NewKey(ctx, storetest.Actor, p.ID, " van tablet "))
	if !regexp.MustCompile(`^gbk_[a-z2-7]{26}$`).MatchString(k.Token) || k.Label != "van tablet" ||
		!k.RevokedAt.IsZero() {
		t.Errorf("key %+v", k)
	}
	second := must(s.People.NewKey(ctx, storetest.Actor, p.ID, "office export"))
	if second.Token == k.Token {
		t.Error("two keys are the same")
	}
	if got := must(s.People.ByKey(ctx, k.Token)); got.ID != p.ID || got.Role != records.RoleEngineer {
		t.Errorf("PersonByKey = %+v", got)
	}
	for _, wrong := range []string{"", "gbk_", k.Token + "a", strings.ToUpper(k.Token), k.ID} {
		_, err := s.People.ByKey(ctx, wrong)
		wantKind(t, err, records.NotFound)
		if wrong != "" && strings.Contains(err.Error(), wrong) {
			t.Errorf("the error repeats the key: %v", err)
		}
	}
	wantKind(t, s.People.RevokeKey(ctx, storetest.Actor, other.ID, k.ID), records.NotFound)
	must(s.People.ByKey(ctx, k.Token))
	for range 2 {
		if err := s.People.RevokeKey(ctx, storetest.Actor, p.ID, k.ID); err != nil {
			t.Fatal(err)
		}
	}
	_, err := s.People.ByKey(ctx, k.Token)
	wantKind(t, err, records.NotFound)
	must(s.People.ByKey(ctx, second.Token))

	keys := must(s.People.Keys(ctx, p.ID))
	if len(keys) != 2 || keys[0].ID != second.ID || keys[1].ID != k.ID || keys[1].RevokedAt.IsZero() || keys[0].Token+
		keys[1].Token != "" {
		t.Errorf("keys %+v", keys)
	}
	var said []string
	for _, e := range must(s.Audit.Entries(ctx, k.ID, 0, 10)) {
		said = append(said, e.What)
	}
	if strings.Join(said, ", ") != "key revoked, key made" {
		t.Errorf("audit says %q", said)
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
}

func TestKeyRefuses(t *testing.T) {
	s := empty(t)
	p := mustPerson(t, s, "elspeth@firm.example")
	for _, label := range []string{"", "  ", strings.Repeat("x", 61), "two\nlines"} {
		_, err := s.People.NewKey(ctx, storetest.Actor, p.ID, label)
		wantKind(t, err, records.Invalid)
	}
	_, err := s.People.NewKey(ctx, storetest.Actor, "nobody", "x")
	wantKind(t, err, records.NotFound)
	var last store.Key
	for range store.MostKeys {
		last = must(s.People.NewKey(ctx, storetest.Actor, p.ID, "one of many"))
	}
	_, err = s.People.NewKey(ctx, storetest.Actor, p.ID, "one too many")
	wantKind(t, err, records.Conflict)
	if err := s.People.RevokeKey(ctx, storetest.Actor, p.ID, last.ID); err != nil {
		t.Fatal(err)
	}
	must(s.People.NewKey(ctx, storetest.Actor, p.ID, "in its place"))
}

// The token must be nowhere in the file, nor in its journal.
func TestKeyTokenIsNotStored(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := storetest.MustOpenAt(t, filepath.Join(dir, "test.db"), storetest.NewClock().Now)
	k := must(s.People.NewKey(ctx, storetest.Actor, mustPerson(t, s, "elspeth@firm.example").ID, "findable label"))
	found := false
	for _, e := range must(os.ReadDir(dir)) {
		data := must(os.ReadFile(filepath.Join(dir, e.Name())))
		if bytes.Contains(data, []byte(k.Token)) || bytes.Contains(data, []byte(strings.TrimPrefix(k.Token, "gbk_"))) {
			t.Errorf("%s holds the token", e.Name())
		}
		found = found || bytes.Contains(data, []byte("findable label"))
	}
	if !found {
		t.Error("the label was not found either: the test looked in the wrong place")
	}
}

func inviteLetter(p records.Person, i records.Invitation) records.Message {
	return records.Message{Kind: records.InvitationKind, ToEmail: p.Email, Subject: "Set your password",
		Text: "expires " + i.ExpiresAt.String()}
}

func TestInvite(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	dir := t.TempDir()
	s := storetest.MustOpenAt(t, filepath.Join(dir, "test.db"), clock.Now)
	p := mustPerson(t, s, "elspeth@firm.example")
	first := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	second := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	if first.Token == second.Token || len(second.Token) < 26 || !second.Open(clock.Now()) ||
		second.Open(clock.Now().Add(records.InvitationLife)) {
		t.Errorf("%+v %+v", first, second)
	}
	// The first link was replaced, and its letter is not sent any more.
	_, err := s.People.Invited(ctx, first.Token)
	wantKind(t, err, records.NotFound)
	if failed, _, err := s.Outbox.Find(ctx, store.OutboxQuery{State: records.MessageFailed}); err != nil ||
		len(failed) != 1 || failed[0].Ref != first.ID {
		t.Errorf("failed %+v, %v", failed, err)
	}
	for range 2 { // looking does not use it up
		if got := must(s.People.Invited(ctx, second.Token)); got.ID != p.ID {
			t.Errorf("invited %+v", got)
		}
	}
	before := must(s.People.ByID(ctx, p.ID))
	got := must(s.People.AcceptInvitation(ctx, second.Token, "hash"))
	if got.PasswordHash != "hash" || got.SignIns != before.SignIns+1 {
		t.Errorf("%+v after %+v", got, before)
	}
	_, err = s.People.AcceptInvitation(ctx, second.Token, "another")
	wantKind(t, err, records.NotFound)
	if i := must(s.People.Invitations(ctx))[p.ID]; i.ID != second.ID || i.EndedWhy != "used" || i.Token != "" {
		t.Errorf("latest %+v", i)
	}
	wantKind(t, s.People.RevokeInvitation(ctx, storetest.Actor, p.ID), records.NotFound)

	third := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	if err := s.People.RevokeInvitation(ctx, storetest.Actor, p.ID); err != nil {
		t.Fatal(err)
	}
	_, err = s.People.AcceptInvitation(ctx, third.Token, "hash")
	wantKind(t, err, records.NotFound)

	fourth := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	clock.Set(clock.Now().Add(records.InvitationLife + time.Second))
	_, err = s.People.AcceptInvitation(ctx, fourth.Token, "hash")
	wantKind(t, err, records.NotFound)
	_, err = s.People.Invite(ctx, storetest.Actor, "nobody", inviteLetter)
	wantKind(t, err, records.NotFound)
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
	for _, e := range must(os.ReadDir(dir)) {
		if data := must(os.ReadFile(filepath.Join(dir, e.Name()))); bytes.Contains(data, []byte(fourth.Token)) {
			t.Errorf("%s holds a token", e.Name())
		}
	}
}

// A letter that cannot be put in leaves the link that was there.
func TestInviteAllOrNothing(t *testing.T) {
	s := empty(t)
	p := mustPerson(t, s, "elspeth@firm.example")
	i := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	_, err := s.People.Invite(ctx, storetest.Actor, p.ID, func(records.Person, records.Invitation) records.Message {
		return records.Message{}
	})
	wantKind(t, err, records.Invalid)
	must(s.People.Invited(ctx, i.Token))
}

func TestClosingAnAccountShutsOut(t *testing.T) {
	s := empty(t)
	p := mustPerson(t, s, "elspeth@firm.example")
	k := must(s.People.NewKey(ctx, storetest.Actor, p.ID, "the van"))
	i := must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	was := must(s.People.ByID(ctx, p.ID))
	p.Active = false
	must(s.People.Update(ctx, storetest.Actor, p))
	_, err := s.People.ByKey(ctx, k.Token)
	wantKind(t, err, records.NotFound)
	_, err = s.People.Invited(ctx, i.Token)
	wantKind(t, err, records.NotFound)
	_, err = s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter)
	wantKind(t, err, records.Conflict)
	p.Active = true
	must(s.People.Update(ctx, storetest.Actor, p))
	if now := must(s.People.ByID(ctx, p.ID)); now.SignIns != was.SignIns+1 {
		t.Errorf("sign-ins %d after %d: an old session would hold again", now.SignIns, was.SignIns)
	}
	_, err = s.People.ByKey(ctx, k.Token) // opening it again gives nothing back
	wantKind(t, err, records.NotFound)
	// A new e-mail address ends a link that went to the old one.
	i = must(s.People.Invite(ctx, storetest.Actor, p.ID, inviteLetter))
	p.Email = "elspeth@other.example"
	must(s.People.Update(ctx, storetest.Actor, p))
	_, err = s.People.Invited(ctx, i.Token)
	wantKind(t, err, records.NotFound)
}
