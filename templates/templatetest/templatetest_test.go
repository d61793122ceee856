package templatetest_test

import (
	htmltemplate "html/template"
	"strings"
	"testing"
	texttemplate "text/template"

	"gaugebook/templates/templatetest"
)

type page struct {
	Title string
	Late  bool
	Lines []line
}

type line struct {
	Name  string
	State state
	N     int
}

type state string

func (state) Long() string { return "" }

// A wrong name is found wherever it stands, whether or not the branch would be
// taken, and in a partial for each type that it is called with.
func TestCheck(t *testing.T) {
	const partials = `{{define "word"}}{{printf "%s" .}}{{end}}{{define "long"}}{{.Long}}{{end}}` +
		`{{define "bare"}}x{{end}}{{define "round"}}{{template "round" .}}{{end}}`
	for _, c := range []struct{ text, want string }{
		{`{{.Title}}{{range .Lines}}{{.Name}} {{$.Title}}{{template "long" .State}}{{end}}`, ""},
		{`{{template "word" .Title}}{{range .Lines}}{{template "word" .State}}{{end}}{{template "bare"}}`, ""},
		{`{{if .Late}}{{range .Lines}}{{.None}}{{end}}{{end}}`, "field None"},
		{`{{if false}}{{.None}}{{end}}`, "field None"},
		{`{{if .Late}}{{else}}{{.None}}{{end}}`, "field None"},
		{`{{if or .Late .None}}{{end}}`, "field None"},
		{`{{with .Title}}{{.None}}{{end}}`, "field None"},
		{`{{range .Lines}}{{.Title}}{{end}}`, "field Title"},
		{`{{range .Lines}}{{template "long" .State}}{{template "long" .Name}}{{end}}`, "field Long"},
		{`{{range .Lines}}{{if .N.None}}{{end}}{{end}}`, "field None"},
		{`{{if eq .Title 1}}{{end}}`, "incompatible types"},
		{`{{.Lines.Name}}`, "field Name"},
		{`{{short .Late}}`, "wrong type"},
		{`{{template "long"}}`, "without data"},
		{`{{template "none" .}}`, `"none" does not exist`},
		{`{{template "round" .}}`, "calls itself"},
	} {
		short := map[string]any{"short": func(s string) string { return s }}
		html := htmltemplate.Must(htmltemplate.New("page").Funcs(short).Parse(c.text + partials))
		_, err := templatetest.HTML(html, "page", page{})
		wanted(t, "html "+c.text, err, c.want)
		text := texttemplate.Must(texttemplate.New("page").Funcs(short).Parse(c.text + partials))
		wanted(t, "text "+c.text, templatetest.Text(text, "page", page{}), c.want)
	}
}

func wanted(t *testing.T, text string, err error, want string) {
	t.Helper()
	switch {
	case want == "" && err != nil:
		t.Errorf("%s: %v", text, err)
	case want != "" && (err == nil || !strings.Contains(err.Error(), want)):
		t.Errorf("%s: %v, want something about %q", text, err, want)
	}
}
