package owner_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server/picture/picturetest"
	"gaugebook/server/servertest"
)

func TestLimitsOfTheFirm(t *testing.T) {
	_, owner := servertest.StartAs(t, records.RoleOwner)
	fields := []string{"rule", records.OwnersRatio, "kind", records.KindFire, "high", "0.012", "decision",
		string(records.AsRead), "document", "Invented guide to fires", "clause", "table 3"}
	level := servertest.Form(fields...)
	for _, bad := range []struct{ field, entry, says string }{
		{"high", "a lot", "a number such as 0.008"}, {"high", "0.5", "at most 0.02"},
		{"document", "", "the document that the level is from"}, {"kind", "", "a kind of appliance"},
		{"rule", "tightness.nothing", "one of the list"},
	} {
		p := owner.Post("/limits", servertest.FormWith(fields, bad.field, bad.entry))
		if p.Status != http.StatusUnprocessableEntity {
			t.Errorf("%s %q: status %d", bad.field, bad.entry, p.Status)
		}
		if !strings.Contains(p.Body, bad.says) {
			t.Errorf("%s %q: no %q in %s", bad.field, bad.entry, bad.says, servertest.ErrorsOf(p.Body))
		}
	}
	if p := owner.Post("/limits", level); p.Status != http.StatusSeeOther {
		t.Fatalf("status %d: %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	owner.Post("/limits", servertest.Form("rule", "heat.input", "decision", string(records.Guarded)))
	owner.Expect("/limits", http.StatusOK, []string{"at most 0.012", "Gas fire", "Invented guide to fires, table 3",
		"decided guarded"}, []string{"None yet"})
	if p := owner.Post("/limits/remove", servertest.Form("rule", records.OwnersRatio, "kind",
		records.KindFire)); p.Status != http.StatusSeeOther {
		t.Errorf("removing: status %d", p.Status)
	}
	owner.Expect("/limits", http.StatusOK, []string{"decided guarded"}, []string{"0.012"})
}

func TestWording(t *testing.T) {
	site, owner := servertest.StartAs(t, records.RoleOwner)
	owner.Expect("/reminders", 200, []string{"-8, -4, -1, 1, 4", "falls due on 3 March 2027",
		"Sent by Tweddle"}, nil)
	good := url.Values{"steps": {"-6, 2"}, "automatic": {"on"}, "ahead_subject": {"Due {{.Due}}"},
		"ahead_text":   {"{{if gt .Count 1}}Several{{else}}One{{end}}:{{range .Items}} {{.Appliance}} {{.When}}{{end}}"},
		"late_subject": {"Late"}, "late_text": {"Late, {{.Name}}"}}
	for _, c := range []struct{ field, value, says string }{
		{"steps", "", "0 steps"},
		{"steps", "-6, soon", "“soon” is not accepted"},
		{"steps", "40", "40 weeks late"},
		{"ahead_text", "Dear {{.Name", "curly brackets"},
		{"ahead_text", "Dear {{.Nmae}}", "there is no field .Nmae; there are .Name"},
		{"ahead_text", "{{if gt .Count 5}}{{.Price}}{{end}}x", "there is no field .Price"},
		{"late_text", "{{range .Items}}{{.Name}}{{end}}x", "there is no field .Name between"},
		{"late_text", "{{.Name.First}}", "there is no field .Name.First"},
		{"late_text", "{{range .Name}}x{{end}}", "goes over .Items only"},
		{"late_text", `{{define "x"}}{{end}}y`, "are not used here"},
		{"late_text", `{{template "x"}}`, "not used here"},
		{"late_text", `{{printf "%9999d" 1}}`, "not used here"},
		{"late_text", `{{$x := 1}}{{$x}}`, "not used here"},
		{"late_text", `{{with .Name}}x{{end}}`, "not used here"},
		{"late_text", `{{if gt .Name 1}}x{{end}}y`, "cannot be filled in"},
		{"late_text", "{{if gt .Count 9}}x{{end}}", "comes out blank"},
		{"late_subject",
			"{{range .Items}}{{.Address}} {{.Appliance}} {{.When}} {{.Address}} {{.Address}} {{.Address}}{{end}}",
			"one line of at most 200"},
	} {
		form := url.Values{}
		for k, v := range good {
			form[k] = v
		}
		form.Set(c.field, c.value)
		p := owner.Post("/reminders", form)
		if p.Status != 422 || !strings.Contains(p.Body, `id="bad-`+c.field+`"`) || !strings.Contains(p.Body, c.says) {
			t.Errorf("%s %q: %d, no %q", c.field, c.value, p.Status, c.says)
		}
	}
	if s, _ := site.Store.Settings.Reminders(t.Context()); s.Automatic {
		t.Error("a refused form was saved")
	}
	if p := owner.Post("/reminders", good); p.Status != 303 {
		t.Fatalf("saved: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	owner.Expect("/reminders", 200,
		[]string{"-6, 2", "Several: Emberline Hearth 24 falls due on 3 March 2027", "Sent by Tweddle",
			`value="on" selected`}, nil)
}

func TestNoLinkWithoutAnAddressToSendFrom(t *testing.T) {
	site, owner := servertest.StartAs(t, records.RoleOwner)
	if p := owner.Post("/firm", servertest.Form("name", "Tweddle Heating")); p.Status != 303 {
		t.Fatal(p.Status)
	}
	owner.Expect("/people", 200, []string{"No link can be sent"}, nil)
	if p := owner.Post("/people/"+site.People[records.RoleOffice].ID+"/invite",
		url.Values{}); p.Status != http.StatusConflict {
		t.Errorf("status %d", p.Status)
	}
	owner.Post("/people", servertest.Form("name", "Wilf Marchbank", "email", "wilf@tweddle.example", "role", "office"))
	owner.Expect("/people", 200, []string{"Wilf Marchbank", "Added, but no link could be sent"}, nil)
}

// The log says who did what, when, from where and by which key, and each of
// these finds it.
func TestLogPage(t *testing.T) {
	site, owner := servertest.StartAs(t, records.RoleOwner)
	key, err := site.Store.People.NewKey(t.Context(), storetest.Actor, site.People[records.RoleEngineer].ID, "van")
	if err != nil {
		t.Fatal(err)
	}
	body := `{"property": {"line1": "7 Saltpan Row", "town": "Ambershaw", "postcode": "AB12 3XY", "nation": "England"}}`
	req := httptest.NewRequest(http.MethodPost, site.HTTP.URL+"/api/v1/properties", strings.NewReader(body))
	req.RequestURI = ""
	req.Header.Set("Authorization", "Bearer "+key.Token)
	req.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	if res.Body.Close(); res.StatusCode != http.StatusCreated {
		t.Fatal(res.Status)
	}
	issued := site.Issued()
	if p := owner.Post("/instruments", servertest.Form("kind", "gauge", "serial", "G-77")); p.Status != 303 {
		t.Fatal(p.Status, p.Body)
	}
	byKey, err := site.Store.Audit.Find(t.Context(), store.AuditQuery{Origin: store.Origin{KeyID: key.ID}})
	if err != nil || len(byKey) != 1 || byKey[0].What != "property added" || byKey[0].Origin.Address != "127.0.0.1" {
		t.Fatalf("by the key: %+v, %v", byKey, err)
	}
	for path, c := range map[string]struct{ has, hasNot string }{
		"/log":                                  {"Instrument saved", ""},
		"/log?who=Rhona+Tweddle":                {"G-77", "Record issued"},
		"/log?what=record+issued":               {issued.Number, "G-77"},
		"/log?key=" + key.ID:                    {"7 Saltpan Row", issued.Number},
		"/log?address=127.0.0.1":                {"G-77", issued.Number},
		"/log?subject=" + issued.ID:             {issued.Number, "7 Saltpan Row"},
		"/log?from=2026-11-25&until=2026-11-25": {"G-77", ""},
		"/log?from=2026-11-26":                  {"None.", "G-77"},
		"/log?until=2026-11-24":                 {"None.", "G-77"},
		"/log?before=2":                         {"Firm changed", "G-77"},
	} {
		p := owner.Get(path)
		rows := p.Body[strings.Index(p.Body, "<tbody>"):]
		if p.Status != 200 || !strings.Contains(rows, c.has) || c.hasNot != "" && strings.Contains(rows, c.hasNot) {
			t.Errorf("%s: status %d, want %q and not %q in\n%s", path, p.Status, c.has, c.hasNot, rows)
		}
	}
	for _, path := range []string{"/log?from=soon", "/log?before=x"} {
		if p := owner.Get(path); p.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(p.Body, "Not accepted") {
			t.Errorf("%s: status %d", path, p.Status)
		}
	}
	for _, role := range []records.Role{records.RoleOffice, records.RoleEngineer} {
		if p := site.As(role).Get("/log"); p.Status != http.StatusForbidden {
			t.Errorf("%s may read the log: %d", role, p.Status)
		}
	}
}

func TestWebhookFormRefuses(t *testing.T) {
	_, owner := servertest.StartAs(t, records.RoleOwner)
	for _, c := range []struct {
		form url.Values
		says string
	}{
		{servertest.Form("url", "http://office.example/", "event", "record.issued"), "https address"},
		{servertest.Form("url", "http://127.0.0.1:80/", "event", "record.issued"),
			"this machine itself is not allowed"},
		{servertest.Form("url", "https://office.example/"), "at least one of"},
		{servertest.Form("url", "https://office.example/", "event", "record.read"), "at least one of"},
		{servertest.Form(), "https address"},
	} {
		p := owner.Post("/webhooks", c.form)
		if p.Status != 422 || !strings.Contains(p.Body, c.says) || !strings.Contains(p.Body, `value="`+
			c.form.Get("url")+`"`) {
			t.Errorf("%v: status %d\n%s", c.form, p.Status, servertest.ErrorsOf(p.Body))
		}
	}
}

// A logo is kept small, printed on what is issued from then on, covered by
// its seal, and gone from later records when it is taken away.
func TestLogo(t *testing.T) {
	site, owner := servertest.StartAs(t, records.RoleOwner)
	plain := site.Issued()
	send := func(c *servertest.Client, data []byte) servertest.Page {
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		part, err := w.CreateFormFile("file", "logo")
		if err != nil {
			t.Fatal(err)
		}
		_, _ = part.Write(data)
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return c.Send("POST", "/firm/logo", w.FormDataContentType(), &body)
	}
	for name, data := range map[string][]byte{"text": []byte("no picture"), "nothing": nil,
		"large": make([]byte, 3<<19)} {
		if p := send(owner, data); p.Status != 422 {
			t.Errorf("%s: status %d", name, p.Status)
		}
	}
	if p := send(site.As(records.RoleOffice), picturetest.PNG(t, picturetest.Quarters(300, 100))); p.Status != 403 {
		t.Errorf("the office: status %d", p.Status)
	}
	if p := send(owner, picturetest.PNG(t, picturetest.Quarters(1500, 500))); p.Status != 303 {
		t.Fatalf("status %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	// keeps the logo
	owner.Post("/firm", servertest.Form("name", "Tweddle Heating", "phone", "01632 960 111", "email",
		"office@tweddle.example"))
	address := regexp.MustCompile(`/firm/logo/[0-9a-f]{64}`).FindString(owner.Get("/firm").Body)
	if p := owner.Get(address); p.Status != 200 || !strings.HasPrefix(p.Body, "\xff\xd8\xff") {
		t.Fatalf("%q: status %d", address, p.Status)
	}
	owner.Expect("/firm/logo/"+strings.Repeat("0", 64), 404, nil, nil)

	again := func(of store.IssuedRow) store.IssuedRow {
		who := site.People[records.RoleEngineer]
		r, err := site.App.Amend(t.Context(), who, of.ID, "The logo.")
		if err != nil {
			t.Fatal(err)
		}
		r = site.Declare(who, r)
		row, err := site.App.Issue(t.Context(), who, r.ID, r.Revision)
		if err != nil {
			t.Fatal(err)
		}
		return row
	}
	issued := again(plain)
	if !strings.Contains(string(issued.Canonical), `"logo_sha256":"`+filepath.Base(address)+`"`) {
		t.Error("the record does not name the logo")
	}
	if got := picturesIn(t, site, issued.ID); !strings.Contains(got, "600   200") {
		t.Errorf("no logo of 600 by 200 in\n%s", got)
	}
	if got := picturesIn(t, site, plain.ID); strings.Contains(got, "600   200") {
		t.Errorf("a record issued before has the logo:\n%s", got)
	}
	if p := owner.Post("/firm/logo/remove", nil); p.Status != 303 {
		t.Fatalf("status %d", p.Status)
	}
	if strings.Contains(string(again(issued).Canonical), "logo_sha256") {
		t.Error("a logo was taken away and is still named")
	}
}

func picturesIn(t *testing.T, site *servertest.Site, id string) string {
	t.Helper()
	file, err := site.Store.Records.PDF(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	images, _ := servertest.PDFParts(t, string(file))
	return images
}
