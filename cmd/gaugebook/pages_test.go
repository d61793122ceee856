package main

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/servertest"
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
	checker := axe(t)

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
	t.noBarrier(checker, everyRule, who+" "+name+" on a phone, by daylight")
	t.scheme("dark")
	t.width(desk)
	if wide := js[[]string](t, tooWide); len(wide) > 0 {
		t.tb.Errorf("%s %s scrolls sideways at a desk: %v", who, name, wide)
	}
	t.noBarrier(checker, rulesOfLook, who+" "+name+" at a desk, in the dark")
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
var axe = func() func(testing.TB) string {
	fetch := sync.OnceValues(fetchAxe)
	return func(tb testing.TB) string {
		tb.Helper()
		script, err := fetch()
		if err != nil {
			tb.Fatalf("axe-core %s: %v", axeVersion, err)
		}
		return script
	}
}()

func fetchAxe() (string, error) {
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
		out, err := exec.Command("npm", "install", "--prefix", dir, "--no-audit", "--no-fund", "--ignore-scripts",
			"--no-save", "axe-core@"+axeVersion).CombinedOutput()
		if err != nil {
			return "", fmt.Errorf("npm: %w\n%s", err, out)
		}
	}
	script, err := os.ReadFile(file)
	if err == nil && !strings.Contains(string(script[:min(len(script), 200)]), axeVersion) {
		err = fmt.Errorf("%s is another version", file)
	}
	return string(script), err
}

// Rules for the checker: all those of WCAG 2.2 A and AA, and of these the ones
// whose answer can change with the width and the colours of a page.
const (
	everyRule   = `["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]`
	rulesOfLook = `{ type: "rule", values: ["color-contrast", "target-size", "link-in-text-block", "link-name",
		"button-name", "label", "scrollable-region-focusable"] }`
)

// noBarrier runs rules of the checker on the page in front.
func (t *tab) noBarrier(checker, rules, where string) {
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
	}](t, `axe.run(document, { runOnly: `+rules+`, resultTypes: ["violations"] }).then((r) => ({
		passes: r.passes.length,
		violations: r.violations.map((v) => ({ id: v.id, help: v.help, nodes: v.nodes.slice(0, 3).map((n) => n.target.join(" ") + " " + n.failureSummary.split("\n").slice(1, 2).join("") + " " + n.html.slice(0, 160)) })) }))`)
	if found.Passes < 2 {
		t.tb.Errorf("%s: the checker found only %d things to look at", where, found.Passes)
	}
	for _, v := range found.Violations {
		t.tb.Errorf("%s: %s, %s\n  %s", where, v.Id, v.Help, strings.Join(v.Nodes, "\n  "))
	}
}

// demoNames finds what the names in pages.txt stand for in a demo register.
func demoNames(tb testing.TB, s *service, people map[string][2]string) *strings.Replacer {
	tb.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, store.Options{Path: filepath.Join(s.dir, "register.db"), Now: time.Now})
	if err != nil {
		tb.Fatal(err)
	}
	defer st.Close()
	names := map[string]string{}
	first := func(name, value string) {
		if names[name] == "" {
			names[name] = value
		}
	}
	for q := (store.Query{Sort: store.ByDue, Limit: 100}); ; {
		rows, next, err := st.Register.Find(ctx, q)
		if err != nil {
			tb.Fatal(err)
		}
		for _, r := range rows {
			history, err := st.Records.History(ctx, r.ApplianceID)
			if err != nil {
				tb.Fatal(err)
			}
			for _, line := range history {
				path := "/records/" + line.ID
				switch {
				case line.Stage == records.Draft && line.Standing == records.Clear:
					first("ready", path)
				case line.Stage == records.Draft:
					first("draft", path)
				case line.Stage == records.StageIssued && line.Standing == records.Clear:
					first("issued", path)
				case line.Stage == records.StageIssued:
					first("adverse", path)
				default:
					first(string(line.Stage), path)
				}
			}
			if len(history) > 2 {
				first("appliance", "/appliances/"+r.ApplianceID)
				first("property", "/properties/"+r.PropertyID)
				first("postcode", url.QueryEscape(r.Postcode))
			}
		}
		if next == "" {
			break
		}
		q.After = next
	}
	chaseNames(tb, st, names)
	owner := s.visitor(tb).signIn(people["owner"][0], people["owner"][1])
	names["person"] = owner.get("/people").link("/people/")
	names["instrument"] = owner.get("/instruments").link("/instruments/")
	names["verify"] = owner.get(names["issued"]).link("/v/")
	for name, record := range map[string]string{"customer": "issued", "customer-adverse": "adverse"} {
		names[name] = sentAgain(tb, s, owner, names[record])
	}
	var pairs []string
	for name, value := range names {
		pairs = append(pairs, "{"+name+"}", value)
	}
	return strings.NewReplacer(pairs...)
}

// chaseNames finds a visit that is booked, its appliance and customer, and the
// link of a reminder that stops them.
func chaseNames(tb testing.TB, st *store.Store, names map[string]string) {
	tb.Helper()
	ctx, today := context.Background(), records.DateOf(time.Now())
	visits, err := st.Bookings.Between(ctx, "", today, today.AddDays(14))
	if err != nil || len(visits) == 0 {
		tb.Fatalf("no visit is booked: %v", err)
	}
	v := visits[0]
	names["visit"], names["book"], names["customer-page"] = "/bookings/"+v.ID,
		"/bookings/new?appliance="+v.ApplianceID+"&on="+v.On.String(), "/customers/"+v.PropertyID
	messages, _, err := st.Outbox.Find(ctx, store.OutboxQuery{})
	if err != nil {
		tb.Fatal(err)
	}
	for _, m := range messages {
		if u, err := url.Parse(m.StopURL); err == nil && u.Path != "" {
			names["stop"] = u.Path
		}
	}
}

// sentAgain has a record's letter sent once more and returns the private link
// in it.
func sentAgain(tb testing.TB, s *service, owner *visitor, record string) string {
	tb.Helper()
	before := map[string]bool{}
	for _, l := range letters(tb, s.dir) {
		before[l.id] = true
	}
	owner.get(record).form(record + "/resend").press().was(200)
	link := ""
	servertest.Eventually(tb, "the letter sent again", func() bool {
		for _, l := range letters(tb, s.dir) {
			if !before[l.id] {
				link = privateLink.FindString(l.text)
			}
		}
		return link != ""
	})
	return link
}
