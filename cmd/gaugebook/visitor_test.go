package main

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// visitor is somebody with a browser without script: it follows links and
// sends forms with everything that stands in them.
type visitor struct {
	tb     testing.TB
	base   func() string
	client *http.Client
}

func (s *service) visitor(tb testing.TB) *visitor {
	tb.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		tb.Fatal(err)
	}
	return &visitor{tb, func() string { return s.base }, &http.Client{Jar: jar, Transport: s.via}}
}

// page is an answer: where it ended, with which status, and what it says.
type page struct {
	v      *visitor
	status int
	path   string // with the query
	body   []byte
	header http.Header
	doc    *html.Node
}

func (v *visitor) do(req *http.Request) *page {
	v.tb.Helper()
	res, err := v.client.Do(req)
	if err != nil {
		v.tb.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		v.tb.Fatal(err)
	}
	p := &page{v: v, status: res.StatusCode, path: res.Request.URL.RequestURI(), body: body, header: res.Header}
	if strings.HasPrefix(res.Header.Get("Content-Type"), "text/html") {
		if p.doc, err = html.Parse(strings.NewReader(string(body))); err != nil {
			v.tb.Fatal(err)
		}
	}
	return p
}

// get opens a page that has to be there.
func (v *visitor) get(path string) *page {
	v.tb.Helper()
	p := v.look(path)
	if p.status != http.StatusOK {
		v.tb.Fatalf("%s: status %d\n%s", path, p.status, p.words())
	}
	return p
}

// look opens a page, whatever its status.
func (v *visitor) look(path string) *page {
	v.tb.Helper()
	if !strings.HasPrefix(path, "http") {
		path = v.base() + path
	}
	req, err := http.NewRequest(http.MethodGet, path, nil)
	if err != nil {
		v.tb.Fatal(err)
	}
	return v.do(req)
}

// send posts values to a path, as a form does.
func (v *visitor) send(path string, values url.Values) *page {
	v.tb.Helper()
	req, err := http.NewRequest(http.MethodPost, v.base()+path, strings.NewReader(values.Encode()))
	if err != nil {
		v.tb.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	req.Header.Set("Origin", v.base())
	return v.do(req)
}

// signIn signs somebody in.
func (v *visitor) signIn(email, password string) *visitor {
	v.tb.Helper()
	p := v.get("/sign-in").fill("/sign-in", fields{"email": email, "password": password}).press()
	if p.status != http.StatusOK || p.path != "/" {
		v.tb.Fatalf("%s cannot sign in: %d %s\n%s", email, p.status, p.path, p.words())
	}
	return v
}

// fields are entries by the name of the field.
type fields map[string]string

// form is a form of a page with what stands in it.
type form struct {
	page   *page
	node   *html.Node
	action string
	values url.Values
	known  map[string]bool // every name that it has a field for
}

// form returns the form with the action; it has to be there.
func (p *page) form(action string) *form {
	p.v.tb.Helper()
	for n := range p.elements(atom.Form) {
		if path, _, _ := strings.Cut(attr(n, "action"), "#"); path == action && attr(n, "method") == "post" {
			return p.formOf(n)
		}
	}
	p.v.tb.Fatalf("%s has no form for %s (status %d)\n%s", p.path, action, p.status, p.words())
	return nil
}

func (p *page) has(action string) bool {
	for n := range p.elements(atom.Form) {
		if attr(n, "action") == action {
			return true
		}
	}
	return false
}

func (p *page) formOf(n *html.Node) *form {
	f := &form{page: p, node: n, action: attr(n, "action"), values: url.Values{}, known: map[string]bool{}}
	for c := range outside(n, atom.Template) {
		name := attr(c, "name")
		if name == "" {
			continue
		}
		switch c.DataAtom {
		case atom.Input:
			f.known[name] = true
			if kind := attr(c, "type"); (kind == "radio" || kind == "checkbox") && !hasAttr(c, "checked") {
				continue
			}
			f.values.Add(name, attr(c, "value"))
		case atom.Textarea:
			f.known[name] = true
			f.values.Add(name, strings.TrimPrefix(textOf(c), "\n"))
		case atom.Select:
			f.known[name] = true
			f.values.Add(name, selected(c))
		}
	}
	return f
}

func selected(n *html.Node) string {
	first, got := true, ""
	for o := range n.Descendants() {
		if o.DataAtom == atom.Option && (first || hasAttr(o, "selected")) {
			first, got = false, attr(o, "value")
		}
	}
	return got
}

// fill writes entries into the form with the action. A field that the form
// does not have fails the test.
func (p *page) fill(action string, in fields) *form {
	p.v.tb.Helper()
	f := p.form(action)
	for name, value := range in {
		if !f.known[name] {
			p.v.tb.Fatalf("the form %s has no field %s", action, name)
		}
		f.values.Set(name, value)
	}
	return f
}

// press sends the form with its only button, or with the value of one named
// go.
func (f *form) press(to ...string) *page {
	f.page.v.tb.Helper()
	if len(to) > 0 {
		f.values.Set("go", to[0])
	}
	return f.page.v.send(strings.SplitN(f.action, "#", 2)[0], f.values)
}

// stays sends a form and does not follow where the answer leads.
func (v *visitor) stays(f *form) *page {
	v.tb.Helper()
	here := *v.client
	here.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return (&visitor{v.tb, v.base, &here}).send(f.action, f.values)
}

// words is the text of the page's main part, white space folded.
func (p *page) words() string {
	if p.doc == nil {
		return string(p.body)
	}
	for n := range p.doc.Descendants() {
		if attr(n, "id") == "main" {
			return fold(textOf(n))
		}
	}
	return fold(textOf(p.doc))
}

// at returns the text of the element with the id, and whether it is there.
func (p *page) at(id string) (string, bool) {
	if p.doc == nil {
		return "", false
	}
	for n := range p.doc.Descendants() {
		if attr(n, "id") == id {
			return fold(textOf(n)), true
		}
	}
	return "", false
}

// link returns the first address on the page that begins so.
func (p *page) link(prefix string) string {
	p.v.tb.Helper()
	if all := p.links(prefix); len(all) > 0 {
		return all[0]
	}
	p.v.tb.Fatalf("%s has no link to %s…\n%s", p.path, prefix, p.words())
	return ""
}

func (p *page) links(prefix string) []string {
	var out []string
	for n := range p.elements(atom.A) {
		if strings.HasPrefix(attr(n, "href"), prefix) {
			out = append(out, attr(n, "href"))
		}
	}
	return out
}

// says holds the page against what it must say and returns it.
func (p *page) says(want ...string) *page {
	p.v.tb.Helper()
	text := p.words()
	for _, w := range want {
		if !strings.Contains(text, w) {
			p.v.tb.Errorf("%s (status %d) does not say %q:\n%.1500s", p.path, p.status, w, text)
		}
	}
	return p
}

func (p *page) saysNot(unwanted ...string) *page {
	p.v.tb.Helper()
	for _, w := range unwanted {
		if strings.Contains(string(p.body), w) {
			p.v.tb.Errorf("%s says %q", p.path, w)
		}
	}
	return p
}

func (p *page) was(status int) *page {
	p.v.tb.Helper()
	if p.status != status {
		p.v.tb.Fatalf("%s: status %d, want %d\n%.2000s", p.path, p.status, status, p.words())
	}
	return p
}

func (p *page) elements(a atom.Atom) func(func(*html.Node) bool) {
	return func(yield func(*html.Node) bool) {
		if p.doc == nil {
			return
		}
		for n := range outside(p.doc, atom.Template) {
			if n.DataAtom == a && !yield(n) {
				return
			}
		}
	}
}

// outside walks a tree without what lies in elements of one kind: the content
// of a template is not part of a page.
func outside(n *html.Node, without atom.Atom) func(func(*html.Node) bool) {
	var walk func(*html.Node, func(*html.Node) bool) bool
	walk = func(n *html.Node, yield func(*html.Node) bool) bool {
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			if c.DataAtom == without {
				continue
			}
			if !yield(c) || !walk(c, yield) {
				return false
			}
		}
		return true
	}
	return func(yield func(*html.Node) bool) { walk(n, yield) }
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func hasAttr(n *html.Node, name string) bool {
	for _, a := range n.Attr {
		if a.Key == name {
			return true
		}
	}
	return false
}

func textOf(n *html.Node) string {
	var b strings.Builder
	for c := range outside(n, atom.Template) {
		if c.Type == html.TextNode {
			b.WriteString(c.Data)
			continue
		}
		// What stands in fields is read too.
		if c.DataAtom == atom.Input && attr(c, "type") != "hidden" && attr(c, "type") != "radio" {
			b.WriteString(" " + attr(c, "value") + " ")
		}
		b.WriteByte(' ')
	}
	return b.String()
}

func fold(s string) string { return strings.Join(strings.Fields(s), " ") }
