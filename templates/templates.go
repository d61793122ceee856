// Package templates holds the pages, their partials and the static files,
// embedded in the binary, and parses them. The data that each page takes is
// declared beside its handler in package server.
package templates

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"path"
	"sort"
	"strings"
)

//go:embed layouts partials pages
var sources embed.FS

//go:embed static
var static embed.FS

// StaticVersion is a hash over every static file. It is one folder of their
// address, so that they can be kept for ever and modules that import each
// other by relative path change together.
var StaticVersion = func() string {
	h := sha256.New()
	err := fs.WalkDir(static, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := static.ReadFile(p)
		fmt.Fprintf(h, "%s %d\n", p, len(data))
		h.Write(data)
		return err
	})
	if err != nil {
		panic(err)
	}
	return hex.EncodeToString(h.Sum(nil))[:12]
}()

// Set is the parsed pages.
type Set struct {
	pages map[string]*template.Template
}

// Parse reads the layout and partials once and clones them for each page. A
// mistake in any template is an error here, at the start of the program.
func Parse() (*Set, error) {
	common, err := template.New("").Funcs(funcs).ParseFS(sources, "layouts/*.html", "partials/*.html")
	if err != nil {
		return nil, fmt.Errorf("parsing the layout: %w", err)
	}
	names, err := fs.Glob(sources, "pages/*.html")
	if err != nil {
		return nil, err
	}
	set := &Set{pages: map[string]*template.Template{}}
	for _, name := range names {
		page, err := template.Must(common.Clone()).ParseFS(sources, name)
		if err != nil {
			return nil, fmt.Errorf("parsing a page: %w", err)
		}
		set.pages[strings.TrimSuffix(path.Base(name), ".html")] = page
	}
	return set, nil
}

// Names lists the pages in alphabetical order.
func (s *Set) Names() []string {
	var out []string
	for name := range s.pages {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}

// Page writes a whole page. It is made in memory first, so that a mistake in
// a template never leaves half a page.
func (s *Set) Page(w io.Writer, name string, data any) error {
	return s.Part(w, name, "layout", data)
}

// Part writes one named template of a page.
func (s *Set) Part(w io.Writer, name, part string, data any) error {
	page := s.pages[name]
	if page == nil {
		return fmt.Errorf("there is no page %q", name)
	}
	var b bytes.Buffer
	if err := page.ExecuteTemplate(&b, part, data); err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	_, err := b.WriteTo(w)
	return err
}
