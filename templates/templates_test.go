package templates_test

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gaugebook/templates"
)

type titled struct{ Title string }

// everyPage is a list of all pages, each with the same little data.
func everyPage(t *testing.T) templates.Types {
	t.Helper()
	files, err := filepath.Glob("pages/*.html")
	if err != nil || len(files) == 0 {
		t.Fatalf("%d pages, %v", len(files), err)
	}
	list := templates.Types{}
	for _, f := range files {
		list[strings.TrimSuffix(filepath.Base(f), ".html")] = titled{}
	}
	return list
}

func TestParse(t *testing.T) {
	list := everyPage(t)
	set, err := templates.Parse(list)
	if err != nil {
		t.Fatal(err)
	}
	if len(set.Names()) != len(list) {
		t.Fatalf("%d pages of %d files", len(set.Names()), len(list))
	}
	var b bytes.Buffer
	if err := set.Part(&b, "none", "layout", nil); err == nil {
		t.Error("a page that does not exist was written")
	}
	if err := set.Part(&b, "error", "layout", "x"); err == nil || !strings.Contains(err.Error(),
		"is declared to take") {
		t.Errorf("a page took other data than declared: %v", err)
	}
	// A template that fails half way leaves nothing behind.
	if err := set.Part(&b, "error", "layout", titled{"x"}); err == nil || b.Len() != 0 {
		t.Errorf("half a page: %d bytes, %v", b.Len(), err)
	}
}

// Pages and lists must agree when the program starts.
func TestParseHoldsTheListsAgainstThePages(t *testing.T) {
	without := everyPage(t)
	delete(without, "home")
	for want, lists := range map[string][]templates.Types{
		`"home" is in no list`:        {without},
		`"home" is listed twice`:      {everyPage(t), {"home": titled{}}},
		`"none" is listed, but there`: {everyPage(t), {"none": titled{}}},
		`"home/none" is listed, but`:  {everyPage(t), {"home/none": titled{}}},
	} {
		if _, err := templates.Parse(lists...); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

func TestFile(t *testing.T) {
	for name, kind := range map[string]string{"css/app.css": "text/css; charset=utf-8",
		"js/section.js": "text/javascript; charset=utf-8", "favicon.svg": "image/svg+xml"} {
		data, got, err := templates.File(name)
		if err != nil || got != kind || len(data) == 0 {
			t.Errorf("%s: %d bytes of %q, %v", name, len(data), got, err)
		}
	}
	for _, name := range []string{"", "css", "css/none.css", "../templates.go", "css/../../templates.go",
		"/css/app.css", "templates.go"} {
		if _, _, err := templates.File(name); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%q: %v", name, err)
		}
	}
}

func TestSlug(t *testing.T) {
	if got := templates.Slug("tightness.runs[2].length_m"); got != "tightness-runs-2-length_m" {
		t.Error(got)
	}
}

// The style sheet stays small enough for a weak signal, takes every colour
// from the tokens and fetches nothing. Every topic is in it, whole.
func TestStyleSheet(t *testing.T) {
	all, _, err := templates.File(templates.StyleSheet)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) > 24_000 {
		t.Errorf("a style sheet of %d bytes", len(all))
	}
	topics, err := filepath.Glob("css/*.css")
	if err != nil || len(topics) < 2 {
		t.Fatalf("%d topics, %v", len(topics), err)
	}
	folded := strings.Join(strings.Fields(string(all)), " ")
	for _, name := range topics {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(folded, strings.Join(strings.Fields(string(data)), " ")) {
			t.Errorf("%s is not in the style sheet", name)
		}
		if bytes.Contains(data, []byte("url(")) || bytes.Contains(data, []byte("@import")) {
			t.Errorf("%s fetches something", name)
		}
		if m := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b`).Find(data); m != nil && name != "css/tokens.css" {
			t.Errorf("%s has the colour %s of its own", name, m)
		}
	}
}

// No page may need what the content policy refuses.
func TestNothingInline(t *testing.T) {
	for _, dir := range []string{"layouts", "partials", "pages"} {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			data, err := os.ReadFile(path)
			for _, bad := range []string{" style=", "<style", "<script>", " onclick", " onchange", "javascript:",
				"http://", "https://"} {
				if strings.Contains(strings.ReplaceAll(string(data), `xmlns="http://www.w3.org/2000/svg"`, ""), bad) {
					t.Errorf("%s holds %q", path, bad)
				}
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

// Whoever changes a page, a style or a message can read it without scrolling
// sideways, and finds each topic in a file of its own.
func TestSourcesAreReadable(t *testing.T) {
	files := 0
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) == ".svg" || filepath.Ext(path) == ".go" {
			return err
		}
		files++
		data, err := os.ReadFile(path)
		lines := strings.Split(string(data), "\n")
		for i, line := range lines {
			if n := len([]rune(line)); n > 120 {
				t.Errorf("%s:%d has %d columns", path, i+1, n)
			}
		}
		if len(lines) > 400 {
			t.Errorf("%s has %d lines", path, len(lines))
		}
		return err
	})
	if err != nil || files < 60 {
		t.Fatalf("%d files, %v", files, err)
	}
}
