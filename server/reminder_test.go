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
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

func TestLetters(t *testing.T) {
	site := servertest.Start(t)
	office := site.As(records.RoleOffice)
	a, _ := landlord(t, site, 1, byLetter, "2026-12-20")
	landlord(t, site, 2, records.Contact{}, "2026-11-20")
	landlord(t, site, 3, byMail, "2026-12-20")
	_, form := previewAll(t, office, "letter")
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
		t.Fatalf("print: %d\n%s", p.Status, clip(p.Body))
	}
	check(t, office, expect{p.Location, 200, []string{"2 letters", "Ivo Tansley"}, nil})
	check(t, office, expect{"/chase", 200, []string{p.Location}, nil})
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
	if n := len(outbox(t, site)); n != 0 {
		t.Errorf("%d messages", n)
	}
}

func TestAutomaticReminders(t *testing.T) {
	site := servertest.Start(t)
	// 4 weeks before, since Sunday
	landlord(t, site, 1, byMail, "2026-12-20")
	// long ago: a person decides
	landlord(t, site, 2, records.Contact{Name: "Old", Email: "old@home.example", Tenure: records.OwnerOccupier},
		"2025-03-01")
	// 4 weeks late
	landlord(t, site, 3, records.Contact{Name: "Late", Email: "late@home.example", Tenure: records.OwnerOccupier},
		"2026-10-20")
	// no address
	landlord(t, site, 4, byLetter, "2026-12-20")
	// booked
	a5, d5 := landlord(t, site, 5, records.Contact{Name: "B", Email: "booked@home.example",
		Tenure: records.OwnerOccupier}, "2026-12-20")
	// stopped
	_, _ = landlord(t, site, 6, records.Contact{Name: "S", Email: "stopped@home.example",
		Tenure: records.OwnerOccupier}, "2026-12-20")
	mustBook(t, site, site.As(records.RoleOffice), url.Values{"appliance": {a5.ID}, "duty": {d5.ID},
		"engineer": {site.People[records.RoleEngineer].ID}, "on": {"2026-12-01"}})
	if err := site.Store.Chase.StopReminders(t.Context(), storetest.Actor, "stopped@home.example", "rang"); err != nil {
		t.Fatal(err)
	}
	woken := site.Woken
	look := func() int {
		t.Helper()
		before := len(outbox(t, site))
		if err := server.NewChaser(site.App, quiet).Look(t.Context()); err != nil {
			t.Fatal(err)
		}
		return len(outbox(t, site)) - before
	}
	if n := look(); n != 0 {
		t.Errorf("%d went out though it is off", n)
	}
	if err := site.Store.Settings.SaveReminders(t.Context(), storetest.Actor,
		due.ReminderSettings{Steps: due.DefaultLadder, Automatic: true}); err != nil {
		t.Fatal(err)
	}
	site.Clock.Set(time.Date(2026, 11, 26, 7, 59, 0, 0, time.UTC))
	if n := look(); n != 0 {
		t.Errorf("%d went out before eight", n)
	}
	site.Clock.Set(time.Date(2026, 11, 26, 8, 0, 0, 0, time.UTC))
	if n := look(); n != 2 || site.Woken != woken+1 {
		t.Errorf("%d went out, woken %d", n, site.Woken-woken)
	}
	if n := look(); n != 0 {
		t.Errorf("%d more after a restart", n)
	}
	// Down over two steps, 1 week before and 1 week late: one message.
	site.Clock.Set(time.Date(2026, 12, 29, 9, 0, 0, 0, time.UTC))
	if n := look(); n != 1 {
		t.Errorf("%d after a month without the program, want 1", n)
	}
	var to []string
	for _, m := range outbox(t, site) {
		to = append(to, m.ToEmail)
	}
	if got := fmt.Sprint(to); got != "[odile@parrack.example late@home.example odile@parrack.example]" &&
		got != "[odile@parrack.example odile@parrack.example late@home.example]" {
		t.Errorf("to %s", got)
	}
}

func TestWording(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	check(t, owner, expect{"/reminders", 200, []string{"-8, -4, -1, 1, 4", "falls due on 3 March 2027",
		"Sent by Tweddle"}, nil})
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
		t.Fatalf("saved: %d\n%s", p.Status, clip(p.Body))
	}
	check(t, owner, expect{"/reminders", 200,
		[]string{"-6, 2", "Several: Emberline Hearth 24 falls due on 3 March 2027", "Sent by Tweddle",
			`value="on" selected`}, nil})
}
