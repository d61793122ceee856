package customer_test

import (
	"crypto/ed25519"
	"net/http"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

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
