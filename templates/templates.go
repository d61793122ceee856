// Package templates holds the pages, their partials and the static files,
// embedded in the binary, and parses them. The data that each page takes is
// declared beside its handler; a list of type Types brings the two together.
package templates

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"maps"
	"path"
	"reflect"
	"regexp"
	"slices"
	"strings"
)

//go:embed layouts partials pages
var sources embed.FS

// Types names the data of each page by an empty value of its type:
// "home": homePage{}. A part of a page that is sent alone has a line of its
// own: "section/photos": photoStrip{}.
type Types map[string]any

// layout is the part that holds the whole page.
const layout = "layout"

// pageAndPart takes a name of Types apart.
func pageAndPart(name string) (page, part string) {
	page, part, ok := strings.Cut(name, "/")
	if !ok {
		part = layout
	}
	return page, part
}

// Set is the parsed pages.
type Set struct {
	pages map[string]*template.Template
	types Types
}

// Parse reads the layout and partials once and clones them for each page. A
// mistake in any template is an error here, at the start of the program, and
// so is a page that is in none of the lists, in two, or in a list only.
func Parse(lists ...Types) (*Set, error) {
	common := template.New("").Funcs(funcs).Funcs(listFuncs)
	if err := parse(common, "layouts/*.html", "partials/*.html"); err != nil {
		return nil, err
	}
	set := &Set{pages: map[string]*template.Template{}, types: Types{}}
	names, err := fs.Glob(sources, "pages/*.html")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		page := template.Must(common.Clone())
		if err := parse(page, name); err != nil {
			return nil, err
		}
		set.pages[strings.TrimSuffix(path.Base(name), ".html")] = page
	}
	return set, set.declare(lists)
}

var indent = regexp.MustCompile(`(?m)^\t+`)

// parse adds the templates that files define. Their indentation is for those
// who read the files; it does not travel to a phone with every row.
func parse(into *template.Template, patterns ...string) error {
	for _, pattern := range patterns {
		names, err := fs.Glob(sources, pattern)
		if err != nil {
			return err
		}
		for _, name := range names {
			text, err := sources.ReadFile(name)
			if err != nil {
				return err
			}
			if _, err := into.New(name).Parse(indent.ReplaceAllString(string(text), "")); err != nil {
				return fmt.Errorf("parsing %s: %w", name, err)
			}
		}
	}
	return nil
}

// declare takes over the lists and holds them against the pages.
func (s *Set) declare(lists []Types) error {
	for _, list := range lists {
		for name, data := range list {
			page, part := pageAndPart(name)
			if _, twice := s.types[name]; twice {
				return fmt.Errorf("the page %q is listed twice", name)
			}
			if s.pages[page] == nil || s.pages[page].Lookup(part) == nil {
				return fmt.Errorf("%q is listed, but there is no such page or part", name)
			}
			s.types[name] = data
		}
	}
	for _, name := range s.Names() {
		if _, ok := s.types[name]; !ok {
			return fmt.Errorf("the page %q is in no list of pages and their data", name)
		}
	}
	return nil
}

// Page returns the templates of a page; nil for none.
func (s *Set) Page(name string) *template.Template { return s.pages[name] }

// Names lists the pages in alphabetical order.
func (s *Set) Names() []string { return slices.Sorted(maps.Keys(s.pages)) }

// Part writes one named template of a page; "layout" is all of it. It is made
// in memory first, so that a mistake in a template never leaves half a page.
func (s *Set) Part(w io.Writer, name, part string, data any) error {
	page := s.Page(name)
	if page == nil {
		return fmt.Errorf("there is no page %q", name)
	}
	line := name
	if part != layout {
		line += "/" + part
	}
	if want, got := reflect.TypeOf(s.types[line]), reflect.TypeOf(data); want != got {
		return fmt.Errorf("page %s is declared to take %v, not %v", line, want, got)
	}
	var b bytes.Buffer
	if err := page.ExecuteTemplate(&b, part, data); err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	_, err := b.WriteTo(w)
	return err
}
