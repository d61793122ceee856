package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Every page of the list, on a phone by daylight and at a desk in the dark: no barrier of WCAG 2.2
// A or AA that can be found by program, nothing
// wider than the window, nothing too small to tap, no complaint of the
// browser.
func TestPages(t *testing.T) {
	t.Parallel()
	dir, printed := demoFolder(t)
	people := demoPeople(t, printed)
	s := serve(t, dir)
	names := demoNames(t, s, people)
	checker := made(t, axe)

	list := map[string][]string{}
	var order []string
	for _, line := range strings.Split(string(read(t, "../../testdata/pages.txt")), "\n") {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		who, path, ok := strings.Cut(line, " ")
		if !ok {
			t.Fatalf("pages.txt: %q", line)
		}
		if list[who] == nil {
			order = append(order, who)
		}
		list[who] = append(list[who], strings.TrimSpace(path))
	}
	if len(order) != 4 {
		t.Fatalf("pages.txt names %v", order)
	}
	// The server is there until the last of the parallel tests has ended.
	for _, who := range order {
		t.Run(who, func(t *testing.T) {
			t.Parallel()
			b := newTab(t, s.base)
			b.allowed = append(b.allowed, "status of 404") // pages of the list that are not there
			if who != "visitor" {
				b.signIn(people[who][0], people[who][1])
			}
			for _, path := range list[who] {
				b.lookAt(checker, who, path, names.Replace(path))
			}
		})
	}
}

// lookAt opens one page and holds it against everything.
func (t *tab) lookAt(checker, who, name, path string) {
	t.tb.Helper()
	if strings.Contains(path, "{") {
		t.tb.Fatalf("pages.txt: nothing is known of %s", path)
	}
	controls := 24
	if who == "engineer" {
		controls = 44
	}
	t.scheme("light")
	t.open(path)
	t.looksRight(who+" "+name, controls)
	t.noBarrier(checker, who+" "+name+" on a phone, by daylight")
	t.scheme("dark")
	t.width(desk)
	if wide := js[[]string](t, tooWide); len(wide) > 0 {
		t.tb.Errorf("%s %s scrolls sideways at a desk: %v", who, name, wide)
	}
	t.noBarrier(checker, who+" "+name+" at a desk, in the dark")
	t.width(phone)
}

func (t *tab) scheme(name string) {
	t.tb.Helper()
	p := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme",
		Value: name}}}
	if _, err := chromedp.Call(t.ctx, emulation.SetEmulatedMedia, p); err != nil {
		t.tb.Fatal(err)
	}
}

const axeVersion = "4.13.0"

// axe returns the accessibility checker as a script. It is fetched once into
// the cache folder of whoever runs the tests and is no part of this
// repository.
var axe = sync.OnceValues(func() (string, error) {
	cache, err := os.UserCacheDir()
	if err != nil {
		return "", err
	}
	dir := filepath.Join(cache, "gaugebook-tests", "axe-core-"+axeVersion)
	file := filepath.Join(dir, "node_modules", "axe-core", "axe.min.js")
	if _, err := os.Stat(file); err != nil {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return "", err
		}
		if err := runTool("npm", "install", "--prefix", dir, "--no-audit", "--no-fund", "--ignore-scripts",
			"--no-save", "axe-core@"+axeVersion); err != nil {
			return "", err
		}
	}
	script, err := os.ReadFile(file)
	if err == nil && !strings.Contains(string(script[:min(len(script), 200)]), axeVersion) {
		err = fmt.Errorf("%s is another version", file)
	}
	return string(script), err
})

// noBarrier runs the checker on the page in front.
func (t *tab) noBarrier(checker, where string) {
	t.tb.Helper()
	if !js[bool](t, "typeof axe === 'object'") {
		t.do(checker)
	}
	// The bar at the foot of a section lies over whatever ends there; one scroll
	// frees it, which the checker cannot know.
	js[bool](t, `document.querySelectorAll(".foothold").forEach((bar) => { bar.style.position = "static" }), true`)
	found := js[struct {
		Passes     int
		Violations []struct {
			Id, Help string
			Nodes    []string
		}
	}](t, `axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
		resultTypes: ["violations"] }).then((r) => ({
		passes: r.passes.length,
		violations: r.violations.map((v) => ({ id: v.id, help: v.help, nodes: v.nodes.slice(0, 3).map((n) => n.target.join(" ") + " " + n.failureSummary.split("\n").slice(1, 2).join("") + " " + n.html.slice(0, 160)) })) }))`)
	if found.Passes < 5 {
		t.tb.Errorf("%s: the checker found only %d things to look at", where, found.Passes)
	}
	for _, v := range found.Violations {
		t.tb.Errorf("%s: %s, %s\n  %s", where, v.Id, v.Help, strings.Join(v.Nodes, "\n  "))
	}
}
