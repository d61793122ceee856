package customer_test

import (
	"crypto/ed25519"
	"net/http"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/app"
	"gaugebook/server/servertest"
)

// issueService issues one more record of the site's appliance, a service.
func issueService(t *testing.T, site *servertest.Site, spoil func(records.Values)) store.IssuedRow {
	t.Helper()
	who := site.People[records.RoleEngineer]
	r, err := site.App.Start(t.Context(), who, site.Appliance.ID, records.Service, records.MustDate("2026-11-24"))
	if err != nil {
		t.Fatal(err)
	}
	full := site.Full() // for its readings
	values := full.Values.Clone()
	if spoil != nil {
		spoil(values)
	}
	if r, err = site.App.SaveChange(t.Context(), who, r.ID, r.Revision, app.Change{Values: values}); err != nil {
		t.Fatal(err)
	}
	r = answerAll(t, site, r)
	row, err := site.App.Issue(t.Context(), who, r.ID, r.Revision)
	if err != nil {
		t.Fatal(err)
	}
	return row
}

// answerAll answers whatever is unsettled in a condition report.
func answerAll(t *testing.T, site *servertest.Site, r *records.Record) *records.Record {
	t.Helper()
	report := records.ConditionReport{Told: "the householder", ToldHow: "in person"}
	for _, f := range records.Unsettled(r.Findings) {
		report.Entries = append(report.Entries, records.ConditionEntry{Rule: f.Rule, Class: records.AtRisk,
			Found: "found", Done: "done"})
	}
	r, err := site.App.SaveCondition(t.Context(), site.People[records.RoleEngineer], r.ID, r.Revision, report)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func moveIn(t *testing.T, site *servertest.Site, name, email string) {
	t.Helper()
	p, err := site.Store.Register.Property(t.Context(), site.Property.ID)
	if err != nil {
		t.Fatal(err)
	}
	p.Contact.Name, p.Contact.Email = name, email
	if _, err := site.Store.Register.UpdateProperty(t.Context(), records.SystemActor, p); err != nil {
		t.Fatal(err)
	}
}

func TestCustomersHistory(t *testing.T) {
	site := servertest.Start(t)
	guest := site.Guest()
	first := site.Issued()
	service := issueService(t, site, servertest.Adverse)
	amended, err := site.App.Amend(t.Context(), site.People[records.RoleEngineer], first.ID, "serial number mistyped")
	if err != nil {
		t.Fatal(err)
	}
	amended = answerAll(t, site, amended)
	second, err := site.App.Issue(t.Context(), site.People[records.RoleEngineer], amended.ID, amended.Revision)
	if err != nil {
		t.Fatal(err)
	}
	token := site.Token(first.ID)
	p := guest.Get("/r/" + token)
	at := "/r/" + token + "/records/"
	for _, s := range []string{"Your records for this address", at + first.Number, at + service.Number,
		at + second.Number, "replaced by " + second.Number, "adverse", "clear", "shown on this page",
		"Download that one"} {
		if !strings.Contains(p.Body, s) {
			t.Errorf("no %q on the page", s)
		}
	}
	for _, row := range []store.IssuedRow{first, service, second} {
		pdf := guest.Get(at + row.Number)
		want, err := site.Store.Records.PDF(t.Context(), row.ID)
		if err != nil || pdf.Status != 200 || pdf.Body != string(want) || pdf.Header.Get("X-Robots-Tag") == "" ||
			!strings.Contains(pdf.Header.Get("Content-Disposition"), row.Number) {
			t.Errorf("PDF of %s: status %d, %v", row.Number, pdf.Status, err)
		}
	}

	// The next tenant gets a record; neither sees the other's.
	moveIn(t, site, "Next Tenant", "next@home.example")
	theirs := issueService(t, site, nil)
	next := site.Token(theirs.ID)
	guest.Expect("/r/"+next, 200, []string{theirs.Number},
		[]string{"Your records for this address", first.Number, site.Property.Contact.Name})
	guest.Expect("/r/"+token, 200, []string{service.Number},
		[]string{theirs.Number, "Next Tenant", "next@home.example"})
	for _, bad := range []string{"/r/" + next + "/records/" + first.Number, at + theirs.Number, at + "2026-09999",
		at + "..", "/r/none/records/" + first.Number} {
		if p := guest.Get(bad); p.Status != 404 || strings.HasPrefix(p.Body, "%PDF") {
			t.Errorf("%s: status %d", bad, p.Status)
		}
	}
}

func TestCustomerCorrectsTheirDetails(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	guest, office := site.Guest(), site.As(records.RoleOffice)
	at := "/r/" + site.Token(row.ID)
	was := site.Property.Contact
	for _, bad := range []struct {
		form []string
		says []string
	}{
		{[]string{"name", "", "phone", "1", "email", "x"}, []string{"Name", "cannot be left blank",
			"“x” is not accepted", `value="1"`}},
		{[]string{"name", was.Name, "phone", was.Phone, "email", was.Email}, []string{"on file already"}},
	} {
		p := guest.Post(at+"/contact", servertest.Form(bad.form...))
		for _, s := range bad.says {
			if p.Status != 422 || !strings.Contains(p.Body, s) {
				t.Errorf("%v: status %d, no %q in %s", bad.form, p.Status, s, servertest.ErrorsOf(p.Body))
			}
		}
	}
	// An older browser sends no origin from this page; the form must pass.
	guest.Header = http.Header{"Origin": {"null"}}
	if p := guest.Post(at+"/contact", servertest.Form("name", "New <Name>", "phone", "01632 960 777", "email",
		"new@home.example")); p.Status != 303 {
		t.Fatalf("asked: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	guest.Expect(at+"?asked=contact", 200, []string{"will check the change"}, nil)
	p := office.Get("/")
	for _, s := range []string{"Changes of details to confirm", "New &lt;Name&gt;", "was " + was.Email,
		"new@home.example",
		"Call the number on file"} {
		if !strings.Contains(p.Body, s) {
			t.Errorf("office: no %q", s)
		}
	}
	open, err := site.Store.Requests.Contacts(t.Context())
	if err != nil || len(open) != 1 {
		t.Fatal(len(open), err)
	}
	if p := site.As(records.RoleEngineer).Post("/contact-requests/"+open[0].ID+"/confirm",
		servertest.Form()); p.Status != http.StatusForbidden {
		t.Errorf("engineer: status %d", p.Status)
	}
	if p := office.Post("/contact-requests/"+open[0].ID+"/confirm", servertest.Form()); p.Status != 303 {
		t.Errorf("confirmed: status %d", p.Status)
	}
	got, err := site.Store.Register.Property(t.Context(), site.Property.ID)
	if err != nil || got.Contact.Name != "New <Name>" || got.Contact.Phone != "01632 960 777" ||
		got.Contact.Email != "new@home.example" || got.Contact.Tenure != was.Tenure {
		t.Errorf("contact %+v, %v", got.Contact, err)
	}
	office.Expect("/", 200, nil, []string{"Changes of details to confirm"})

	// Somebody else lives there by now: the office is told, and nothing is
	// changed over their heads.
	moveIn(t, site, "Next Tenant", "next@home.example")
	if p := guest.Post(at+"/contact", servertest.Form("name", "Old Tenant", "email",
		"old@home.example")); p.Status != 303 {
		t.Fatalf("asked: status %d", p.Status)
	}
	office.Expect("/", 200, []string{"issued to somebody other than the present contact"}, nil)
	moveIn(t, site, "Third Tenant", "third@home.example")
	office.Expect("/", 200, []string{"has changed since"}, nil)
	open, err = site.Store.Requests.Contacts(t.Context())
	if err != nil || len(open) != 1 {
		t.Fatal(len(open), err)
	}
	if p := office.Post("/contact-requests/"+open[0].ID+"/confirm",
		servertest.Form()); p.Status != http.StatusConflict {
		t.Errorf("outdated: status %d", p.Status)
	}
	if p := office.Post("/contact-requests/"+open[0].ID+"/refuse", servertest.Form()); p.Status != 303 {
		t.Errorf("refused: status %d", p.Status)
	}
}

func TestCustomerAndVerify(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	guest, token := site.Guest(), site.Token(row.ID)
	page := guest.Get("/r/" + token)
	for name, want := range map[string]string{"X-Robots-Tag": "noindex, nofollow", "Referrer-Policy": "no-referrer",
		"Cache-Control": "no-store", "Set-Cookie": ""} {
		if got := page.Header.Get(name); got != want {
			t.Errorf("customer's page: %s is %q, want %q", name, got, want)
		}
	}
	if pdf := guest.Get("/r/" + token + "/record.pdf"); pdf.Status != 200 || !strings.HasPrefix(pdf.Body, "%PDF-") {
		t.Errorf("PDF: status %d", pdf.Status)
	}
	if p := guest.Post("/r/"+token+"/visit", servertest.Form("text", "  ")); p.Status != 422 ||
		!strings.Contains(p.Body, "cannot be left blank") {
		t.Errorf("blank request: status %d", p.Status)
	}
	// An older browser sends no origin from this page; the form must pass.
	guest.Header = http.Header{"Origin": {"null"}}
	p := guest.Post("/r/"+token+"/visit", servertest.Form("text", "It bangs <when> it starts"))
	if p.Status != 303 || !strings.HasPrefix(p.Location, "/r/"+token) {
		t.Errorf("request: status %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	guest.Expect("/r/"+token+"?asked=visit", 200, []string{"Your request is with"}, nil)
	site.As(records.RoleOffice).Expect("/", 200, []string{"It bangs &lt;when&gt; it starts"}, nil)
	for range 6 {
		p = guest.Post("/r/"+token+"/visit", servertest.Form("text", "again"))
	}
	if p.Status != http.StatusConflict || !strings.Contains(p.Body, "waiting for an answer") {
		t.Errorf("many requests: status %d", p.Status)
	}
	for _, bad := range []string{"/r/none", "/r/" + token + "x", "/r/none/record.pdf", "/r/" + row.ID} {
		guest.Expect(bad, 404, []string{"do not recognise this link", "01632 960 100"}, []string{row.Number})
	}
	site.Clock.Set(site.Clock.Now().AddDate(2, 0, 0))
	guest.Expect("/r/"+token, 410, []string{"has expired, or the firm", "01632 960 100"}, []string{row.Number})

	private := []string{site.Property.Line1, site.Property.Contact.Name, site.Property.Postcode,
		site.People[records.RoleEngineer].Name}
	guest.Expect("/v/"+row.Number+"/"+strings.ToLower(row.Seal.Code), 200,
		[]string{"in force", "Combination boiler", "20 November 2026"}, private)
	for _, bad := range []string{"/v/" + row.Number + "/ABCD-ABCD-ABCD", "/v/2026-09999/" + row.Seal.Code,
		"/v/" + row.ID + "/" + row.Seal.Code, "/v/%00/%ff"} {
		guest.Expect(bad, 404, []string{"do not match"}, append(private, "Combination"))
	}
	if p := guest.Get("/verify?number=" + row.Number + "&code=" + strings.ReplaceAll(row.Seal.Code, "-",
		"+")); p.Location != "/v/"+row.Number+"/"+row.Seal.Code {
		t.Errorf("form leads to %q", p.Location)
	}
	if p := guest.Get("/verify/key"); p.Status != 200 || !strings.Contains(p.Body, "BEGIN PUBLIC KEY") {
		t.Errorf("key: status %d", p.Status)
	}
}

func TestVerifyIsLimited(t *testing.T) {
	site := servertest.Start(t, func(c *server.Config) { c.VerifyPerMinute = 3 })
	status := 0
	for range 4 {
		status = site.Guest().Get("/v/2026-00001/ABCD-ABCD-ABCD").Status
	}
	if status != http.StatusTooManyRequests {
		t.Errorf("fourth check: status %d", status)
	}
}

// What was sealed with a key that the firm has handed over since stays in force.
func TestVerifyAfterAChangeOfKey(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	_, next, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := site.Store.Settings.ChangeKey(t.Context(), storetest.Actor, site.App.Key, next); err != nil {
		t.Fatal(err)
	}
	site.App.Key = next
	site.Guest().Expect("/v/"+row.Number+"/"+row.Seal.Code, 200, []string{"in force"}, nil)
}
