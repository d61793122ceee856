package server_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

const multipartForm = "multipart/form-data; boundary=b"

// What cannot be read is the caller's mistake, and says so.
func TestMalformedForms(t *testing.T) {
	site, owner := servertest.StartAs(t, records.RoleOwner)
	const form = "application/x-www-form-urlencoded"
	draft := site.Draft()
	for _, c := range []struct{ path, kind, body string }{
		{"/properties", form, "line1=%zz"}, {"/sign-in", form, "email=%"}, {"/sign-in", form, "a;b=c"},
		{"/firm", multipartForm, "--b\r\nContent-Disposition: form-data; name=\"x\"\r\n\r\ncut"},
		{"/firm", "multipart/form-data", "no boundary"},
		{"/firm/logo", multipartForm,
			"--b\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a\"\r\n\r\ncut"},
		{"/bounces", multipartForm, "--x"},
		{"/import", multipartForm, "--b\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a\"\r\n\r\ncut"},
		{"/records/" + draft.ID + "/date", form, "work_date=%zz"},
	} {
		p := owner.Send(http.MethodPost, c.path, c.kind, strings.NewReader(c.body))
		if p.Status != http.StatusBadRequest || !strings.Contains(p.Body, "send it again") {
			t.Errorf("%s %q: %d", c.path, c.body, p.Status)
		}
	}
}

// A caller's name for a request is not taken for ours, however long it is.
func TestRequestIDIsOurs(t *testing.T) {
	site := servertest.Start(t)
	for _, id := range []string{"mine", strings.Repeat("x", 7000)} {
		r, err := http.NewRequest(http.MethodGet, site.HTTP.URL+"/no-such-page", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("X-Request-Id", id)
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if got := res.Header.Get("X-Request-Id"); got == id || len(got) < 20 || len(got) > 64 {
			t.Errorf("%.10s: answered as %q", id, got)
		}
	}
}

func TestHSTSIsConfigured(t *testing.T) {
	for life, want := range map[time.Duration]string{time.Hour: "max-age=3600", 0: ""} {
		site := servertest.Start(t, func(c *server.Config) {
			c.App.BaseURL, c.HSTS = "https://records.example", life
		})
		r, err := http.NewRequest(http.MethodGet, site.HTTP.URL+"/sign-in", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("X-Forwarded-Proto", "https")
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if got := res.Header.Get("Strict-Transport-Security"); got != want {
			t.Errorf("%s: %q", life, got)
		}
	}
}

// A duty is closed at its own appliance.
func TestDutyOfAnotherAppliance(t *testing.T) {
	site := servertest.Start(t)
	other := storetest.MustAppliance(t, site.Store, 7)
	duty := site.DutyAt(site.Appliance.ID, records.LandlordCheckDue, "2026-12-01")
	office := site.As(records.RoleOffice)
	for _, do := range []string{"lift", "done"} {
		p := office.Post("/appliances/"+other.ID+"/duties/"+duty.ID+"/"+do, servertest.Form("why", "sold"))
		if p.Status != http.StatusNotFound {
			t.Errorf("%s through another appliance: %d", do, p.Status)
		}
	}
	if p := office.Post("/appliances/"+site.Appliance.ID+"/duties/"+duty.ID+"/lift", servertest.Form("why",
		"sold")); p.Status != 303 {
		t.Errorf("through its own: %d", p.Status)
	}
}
