package office_test

import (
	"context"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

func TestRegisterPages(t *testing.T) {
	site := servertest.Start(t)
	site.Issued()
	c := site.As(records.RoleOffice)
	for path, status := range map[string]int{
		"/register": 200, "/register?state=near": 200, "/register?state=none&duty=annual+service": 200,
		"/register?q=quill&sort=address": 200, "/register?kind=fire&nation=Wales": 200,
		"/register?state=sometimes": 422, "/register?sort=colour": 422, "/register?after=garbage": 422,
		"/register?state=none&duty=calibration": 422,
	} {
		if p := c.Get(path); p.Status != status {
			t.Errorf("%s: status %d, want %d", path, p.Status, status)
		}
	}
	c.Expect("/register?q=zzzz", 200, []string{"Nothing in the register matches"}, nil)
}

// registerSite is a register of appliances at numbered houses, every third
// late.
func registerSite(t *testing.T, n int) *servertest.Site {
	site := servertest.Start(t)
	for i := 1; i <= n; i++ {
		a := storetest.MustAppliance(t, site.Store, i)
		due := site.App.Today().AddDays(10 * i)
		if i%3 == 0 {
			due = site.App.Today().AddDays(-i)
		}
		if _, err := site.Store.Duties.Add(t.Context(), storetest.Actor, a.ID,
			records.Duty{Kind: records.AnnualService, Due: due}); err != nil {
			t.Fatal(err)
		}
	}
	return site
}

func TestRegisterPDF(t *testing.T) {
	site := registerSite(t, 7)
	office := site.As(records.RoleOffice)
	text := office.Get("/register/print.pdf?state=late&q=quillwater").Words(t)
	servertest.Says(t, text, "3 Quillwater Lane", "6 Quillwater Lane", "Asked for: search “quillwater”; state: late.",
		"2 lines",
		"Customer Numbered 3", "For the office only", "Tweddle and Daughter Heating")
	if strings.Contains(text, "4 Quillwater") {
		t.Error("the filter was not kept")
	}
	if p := office.Get("/register/print.pdf?weeks=many"); p.Status != 422 {
		t.Errorf("a filter that is none: %d", p.Status)
	}
}

func TestRegisterFilters(t *testing.T) {
	site := registerSite(t, 12)
	office := site.As(records.RoleOffice)
	site.Draft()
	office.Expect("/register", 200, []string{"Print (PDF)", `value="address" checked`, "Quillwater Lane"},
		[]string{"Clear all"})
	office.Expect("/register?weeks=3", 200, []string{">1 Quillwater Lane", ">2 Quillwater Lane",
		"2 appliances in use that match your search",
		`value="3"`, "/register/print.pdf?weeks=3", "/register/export?as=csv&amp;weeks=3"},
		[]string{">4 Quillwater", ">3 Quillwater"})
	office.Expect("/register?col=nation&col=phone", 200, []string{">Nation</th>", ">Telephone</th>", "England",
		"/register/print.pdf?col=nation&amp;col=phone"}, []string{">Serial</th>", ">Contact</th>", "Clear all"})
	office.Expect("/register?col=", 200, []string{">Due</th>"}, []string{">Duty</th>", ">Address</th>"})
	office.Expect("/register?calibration=out", 200, []string{"0 appliances in use that match your search"}, nil)
	office.Expect("/register?draft_days=1", 200, []string{"0 appliances"}, nil)
	office.Expect("/register?weeks=0", 422, []string{"from 1 to 104", `value="0"`}, nil)
	office.Expect("/register?weeks=4&state=late", 422, []string{"not both"}, nil)
	office.Expect("/register?draft_days=x", 422, []string{"a whole number"}, nil)
	office.Expect("/register?state=none&duty=annual+service", 200,
		[]string{"1 appliance in use that match your search"}, nil)
	// A list holds what the page shows.
	if p := office.Get("/register/export?as=csv&weeks=3"); p.Status != 200 ||
		strings.Count(p.Body, "Quillwater Lane") != 2 {
		t.Errorf("list of the view: status %d, %d lines", p.Status, strings.Count(p.Body, "Quillwater Lane"))
	}
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 3))
	office.Expect("/register?draft_days=2", 200, []string{"1 appliance in use", "draft open"}, nil)
}

// What is chosen in the register is what the preview of reminders shows.
func TestRegisterChoosesForReminders(t *testing.T) {
	site := registerSite(t, 3)
	office := site.As(records.RoleOffice)
	body := office.Get("/register?state=late").Body
	i := strings.Index(body, `name="c" value="`)
	if i < 0 {
		t.Fatal("nothing to choose")
	}
	id, _, _ := strings.Cut(body[i+len(`name="c" value="`):], `"`)
	p := office.Post("/chase/preview", url.Values{"reach": {"e-mail"}, "c": {id}})
	if p.Status != 200 || !strings.Contains(p.Body, "customer3@home.example") ||
		strings.Contains(p.Body, "customer1@home.example") {
		t.Errorf("status %d\n%s", p.Status, servertest.Clip(p.Body))
	}
}

func TestOverview(t *testing.T) {
	site := servertest.Start(t)
	site.Issued()
	site.Draft()
	ctx := context.Background()
	if _, err := site.Store.Duties.Add(ctx, storetest.Actor, site.Appliance.ID,
		records.Duty{Kind: records.AnnualService, Due: records.MustDate("2026-10-01")}); err != nil {
		t.Fatal(err)
	}
	maud := site.People[records.RoleEngineer]
	maud.CompetenceUntil = records.MustDate("2026-12-05")
	if _, err := site.Store.People.Update(ctx, storetest.Actor, maud); err != nil {
		t.Fatal(err)
	}
	for _, role := range []records.Role{records.RoleOffice, records.RoleOwner} {
		site.As(role).Expect("/overview", 200, []string{
			"Tamsin Oakhurst", "1 of 1", "100 %", // one record, clear at the first go
			">before<", ">today<", "1 in all", "Competence", "5 Dec 2026", "1 open", `<svg class="chart"`,
			`<rect class="late"`,
		}, []string{"NaN", "no longer on file"})
	}
	site.As(records.RoleEngineer).Expect("/overview", 403, nil, nil)
}
