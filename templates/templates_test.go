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

func TestParse(t *testing.T) {
	set, err := templates.Parse()
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob("pages/*.html")
	if err != nil || len(files) == 0 || len(set.Names()) != len(files) {
		t.Fatalf("%d pages of %d files, %v", len(set.Names()), len(files), err)
	}
	var b bytes.Buffer
	if err := set.Page(&b, "none", nil); err == nil {
		t.Error("a page that is none was written")
	}
	// A template that fails half way leaves nothing behind.
	if err := set.Page(&b, "error", struct{ Title string }{"x"}); err == nil || b.Len() != 0 {
		t.Errorf("half a page: %d bytes, %v", b.Len(), err)
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

// The style sheets stay small enough for a weak signal, take every colour
// from the tokens and fetch nothing.
func TestStyleSheets(t *testing.T) {
	total := 0
	for _, name := range []string{"css/tokens.css", "css/app.css", "css/chart.css"} {
		data, _, err := templates.File(name)
		if err != nil {
			t.Fatal(err)
		}
		total += len(data)
		if bytes.Contains(data, []byte("url(")) || bytes.Contains(data, []byte("@import")) {
			t.Errorf("%s fetches something", name)
		}
		if m := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b`).Find(data); m != nil && name != "css/tokens.css" {
			t.Errorf("%s has the colour %s of its own", name, m)
		}
	}
	if total > 24_000 {
		t.Errorf("style sheets of %d bytes", total)
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
