package store_test

import (
	"errors"
	"math"
	"net/http"
	"net/http/httptest"
	"reflect"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
)

func TestPeople(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
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
	t.Parallel()
	s := storetest.MustOpen(t)
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
