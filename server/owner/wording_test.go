package owner_test

import (
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

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
