package server_test

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

// textOf reads a PDF back with pdftotext of Poppler.
func textOf(t *testing.T, p servertest.Page) string {
	t.Helper()
	if p.Status != 200 || p.Header.Get("Content-Type") != "application/pdf" {
		t.Fatalf("status %d, %s", p.Status, servertest.Clip(p.Body))
	}
	file := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, []byte(p.Body), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(string(out)), " ")
}

func says(t *testing.T, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("the paper does not say %q:\n%s", w, servertest.Clip(text))
		}
	}
}

func TestNoticeToLeaveOnSite(t *testing.T) {
	site := servertest.Start(t)
	engineer := site.As(records.RoleEngineer)
	r := site.Full(func(vs records.Values) { vs.Put(records.COMaxPPM.Field, "900") })
	path := "/records/" + r.ID
	if p := engineer.Get(path + "/notice.pdf"); p.Status != http.StatusConflict {
		t.Errorf("before there is a condition report: %d", p.Status)
	}
	v := url.Values{"revision": {fmt.Sprint(r.Revision)}, "told": {"the customer"}, "told_how": {"in person"},
		"left_off": {"yes"}}
	for _, f := range records.Unsettled(r.Findings) {
		v.Set("class:"+f.Rule, string(records.Classes[0]))
		v.Set("found:"+f.Rule, "burner out of adjustment")
		v.Set("done:"+f.Rule, "turned off")
	}
	if p := engineer.Post(path+"/condition", v); p.Status != 303 {
		t.Fatalf("condition: %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	engineer.Expect(path+"/review", 200, []string{"Notice to leave on site (PDF)", path + "/notice.pdf"},
		nil)
	says(t, textOf(t, engineer.Get(path+"/notice.pdf")), "Do not use this gas appliance", "burner out of adjustment",
		"Record not issued yet", "DO NOT USE", rules.Sample().Values.ApplianceName())

	saved, err := site.Store.Records.Record(t.Context(), r.ID)
	if err != nil {
		t.Fatal(err)
	}
	row, err := site.App.Issue(t.Context(), site.People[records.RoleEngineer], r.ID, saved.Revision)
	if err != nil {
		t.Fatal(err)
	}
	site.As(records.RoleOffice).Expect(path, 200, []string{"Notice to leave on site (PDF)"}, nil)
	for _, ref := range []string{r.ID, row.Number} {
		says(t, textOf(t, site.As(records.RoleOffice).Get("/records/"+ref+"/notice.pdf")), "burner out of adjustment",
			"Record "+row.Number)
	}
}

func TestNoNoticeWithoutConditionReport(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	site.As(records.RoleEngineer).Expect("/records/"+row.ID, 200, nil, []string{"notice.pdf"})
	for ref, want := range map[string]int{row.ID: http.StatusConflict, "none": http.StatusNotFound} {
		if p := site.As(records.RoleEngineer).Get("/records/" + ref + "/notice.pdf"); p.Status != want {
			t.Errorf("%s: %d", ref, p.Status)
		}
	}
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
	text := textOf(t, office.Get("/register/print.pdf?state=late&q=quillwater"))
	says(t, text, "3 Quillwater Lane", "6 Quillwater Lane", "Asked for: search “quillwater”; state: late.", "2 lines",
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
		"2 appliances in use that fit",
		`value="3"`, "/register/print.pdf?weeks=3", "/register/export?as=csv&amp;weeks=3"},
		[]string{">4 Quillwater", ">3 Quillwater"})
	office.Expect("/register?col=nation&col=phone", 200, []string{">Nation</th>", ">Telephone</th>", "England",
		"/register/print.pdf?col=nation&amp;col=phone"}, []string{">Serial</th>", ">Contact</th>", "Clear all"})
	office.Expect("/register?col=", 200, []string{">Due</th>"}, []string{">Duty</th>", ">Address</th>"})
	office.Expect("/register?calibration=out", 200, []string{"0 appliances in use that fit"}, nil)
	office.Expect("/register?draft_days=1", 200, []string{"0 appliances"}, nil)
	office.Expect("/register?weeks=0", 422, []string{"from 1 to 104", `value="0"`}, nil)
	office.Expect("/register?weeks=4&state=late", 422, []string{"not both"}, nil)
	office.Expect("/register?draft_days=x", 422, []string{"a whole number"}, nil)
	office.Expect("/register?state=none&duty=annual+service", 200, []string{"1 appliance in use that fit"}, nil)
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
