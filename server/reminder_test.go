package server_test

import (
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func TestLetters(t *testing.T) {
	site := servertest.Start(t)
	office := site.As(records.RoleOffice)
	a, _ := site.Landlord(1, servertest.ByLetter, "2026-12-20")
	site.Landlord(2, records.Contact{}, "2026-11-20")
	site.Landlord(3, servertest.ByMail, "2026-12-20")
	_, form := office.Preview("letter")
	if len(form["c"]) != 2 {
		t.Fatalf("letters to %v", form)
	}
	look := url.Values{"look": {"yes"}, "reach": form["reach"], "c": form["c"], "seen": form["seen"]}
	if p := office.Post("/chase/letters", look); p.Status != 200 || !strings.HasPrefix(p.Body, "%PDF-") {
		t.Errorf("look: %d", p.Status)
	}
	if log, _ := site.Store.Chase.ContactAttempts(t.Context(), a.ID); len(log) != 0 {
		t.Errorf("looking has noted %+v", log)
	}
	p := office.Post("/chase/letters", form)
	if p.Status != 303 || !strings.HasPrefix(p.Location, "/letters/") {
		t.Fatalf("print: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	office.Expect(p.Location, 200, []string{"2 letters", "Ivo Tansley"}, nil)
	office.Expect("/chase", 200, []string{p.Location}, nil)
	file := office.Get(p.Location + "/print.pdf")
	if again := office.Get(p.Location + "/print.pdf"); again.Body != file.Body {
		t.Error("printed again it is another file")
	}
	path := filepath.Join(t.TempDir(), "letters.pdf")
	if err := os.WriteFile(path, []byte(file.Body), 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	if err != nil {
		t.Fatalf("needs poppler-utils: %v", err)
	}
	for _, want := range []string{"Ivo Tansley", "20 December 2026", "The occupier", "20 November 2026",
		"Emberline Hearth 24", "Tweddle and Daughter"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if log, _ := site.Store.Chase.ContactAttempts(t.Context(), a.ID); len(log) != 1 || log[0].How != "letter" {
		t.Errorf("log %+v", log)
	}
	if p := office.Post("/chase/letters", form); p.Status != http.StatusConflict && p.Status != 422 {
		t.Errorf("printed twice: %d", p.Status)
	}
	if n := len(site.Outbox()); n != 0 {
		t.Errorf("%d messages", n)
	}
}

func TestWording(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
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
