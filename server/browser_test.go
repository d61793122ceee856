package server_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

// browser is one tab of a real, headless Chromium as wide as a phone.
type browser struct {
	t    *testing.T
	ctx  context.Context
	site *servertest.Site
}

func openBrowser(t *testing.T, site *servertest.Site, role records.Role) *browser {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox,
		chromedp.Flag("disable-background-networking", true))
	alloc, stop := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(stop)
	ctx, close := chromedp.NewContext(alloc)
	t.Cleanup(close)
	b := &browser{t, ctx, site}
	b.do(chromedp.EmulateViewport(390, 844))
	for _, c := range site.As(role).Cookies() {
		if _, err := chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{Name: c.Name, Value: c.Value,
			URL: site.HTTP.URL}); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

func (b *browser) open(path string) {
	b.t.Helper()
	b.do(chromedp.Navigate(b.site.HTTP.URL + path))
}

// set fills a field as a person does: type, then leave it.
func (b *browser) set(name, value string) {
	b.t.Helper()
	b.js(fmt.Sprintf(`(() => {
		const f = document.querySelector("form[data-section]").elements.namedItem(%q);
		f.value = %q;
		const el = f instanceof RadioNodeList ? [...f].find((r) => r.checked) : f;
		el.dispatchEvent(new Event("change", { bubbles: true }));
		return true;
	})()`, name, value))
}

func (b *browser) js(expression string) {
	b.t.Helper()
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](expression)); err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
}

// until waits for an expression to become true, also over a change of page.
func (b *browser) until(what, expression string) {
	b.t.Helper()
	for range 200 {
		ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("Boolean("+expression+")"))
		if err == nil && ok {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	shown, _ := chromedp.Run(b.ctx,
		chromedp.Evaluate[string](`document.querySelector("[data-state]")?.textContent + " @ " + location.pathname`))
	b.t.Fatalf("never so: %s (%s)", what, shown)
}

func (b *browser) untilSays(words string) {
	b.t.Helper()
	b.until("the state says "+words, fmt.Sprintf(`document.querySelector("[data-state]").textContent.includes(%q)`,
		words))
}

// untilSaved waits until the stored draft holds what fits.
func (b *browser) untilSaved(id string, f *records.Field, fits func(string) bool) {
	b.t.Helper()
	got := ""
	for range 200 {
		r, err := b.site.Store.Records.Record(b.t.Context(), id)
		if err != nil {
			b.t.Fatal(err)
		}
		if got = r.Values[f.Key].Text(); fits(got) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.t.Fatalf("%s stays %q", f.Key, got)
}

func is(want string) func(string) bool { return func(got string) bool { return got == want } }

func TestSectionInABrowser(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := openBrowser(t, site, records.RoleEngineer)
	path := "/records/" + r.ID + "/sections/"

	// A refused entry is named beside its field, a good one judged there.
	b.open(path + "tightness")
	b.set("tightness.let_by_rise_mbar", "0,4")
	b.until("the error is beside the field",
		`document.querySelector("#live-tightness-let_by_rise_mbar .error") && document.getElementById("tightness-let_by_rise_mbar").getAttribute("aria-invalid") === "true"`)
	b.set("tightness.let_by_rise_mbar", "5.0")
	b.until("the error is gone", `!document.querySelector("#live-tightness-let_by_rise_mbar .error")`)
	b.set("tightness.smell", "yes")
	b.until("the finding is beside the field", `document.querySelector("#live-tightness-smell .finding.outside")`)
	b.untilSaved(r.ID, records.LetByRiseMbar.Field, is("5.0"))
	b.untilSays("Saved")

	// One more row than the page came with.
	b.js(`(() => { const n = document.querySelectorAll(".row").length; [...document.querySelectorAll("[data-rows] > button")][0].click(); return document.querySelectorAll(".row").length === n + 1 })()`)
	b.until("the new row has a field of its own",
		`document.querySelector('[name="tightness.runs[2].length_m"]') && !document.querySelector('[name*="#"]')`)

	// A field that depends on another answer is there only with that answer.
	b.open(path + "heat")
	b.until("hidden at first", `document.getElementById("at-heat-start_m3").hidden`)
	b.set("heat.meter", records.MeterMetric)
	b.until("shown for its answer",
		`!document.getElementById("at-heat-start_m3").hidden && document.getElementById("at-heat-dial_ft3").hidden`)

	// The buttons save first and then lead on.
	b.untilSays("Saved")
	b.js(`(() => { document.querySelector('button[name=go][value=combustion]').click(); return true })()`)
	b.until("at the next section", `location.pathname.endsWith("/sections/combustion")`)
}

func TestSignatureInABrowser(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := openBrowser(t, site, records.RoleEngineer)
	b.open("/records/" + r.ID + "/sections/handover")
	b.js(`(() => { document.querySelector("[data-ink] svg").scrollIntoView({ block: "center", behavior: "instant" }); return true })()`)
	box, err := chromedp.Run(b.ctx,
		chromedp.Evaluate[[]float64](`(() => { const r = document.querySelector("[data-ink] svg").getBoundingClientRect(); return [r.left, r.top, r.width, r.height] })()`))
	if err != nil {
		t.Fatal(err)
	}
	x, y := box[0]+30, box[1]+30
	b.do(chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft))
	for i := range 6 {
		b.do(chromedp.MouseEvent("mouseMoved", x+float64(i*20), y+float64(i%2*20), chromedp.ButtonLeft))
	}
	b.do(chromedp.MouseEvent("mouseReleased", x+100, y, chromedp.ButtonLeft))
	b.untilSaved(r.ID, records.EngineerSignature.Field, func(ink string) bool {
		return strings.HasPrefix(ink, "M") && strings.Count(ink, "L") >= 4
	})
	b.js(`(() => { document.querySelector("[data-ink] button").click(); return true })()`)
	b.untilSaved(r.ID, records.EngineerSignature.Field, is(""))
}

// Where there is no signal, what was typed stays on the phone and is offered
// again.
func TestNoConnection(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := openBrowser(t, site, records.RoleEngineer)
	path := "/records/" + r.ID + "/sections/tightness"
	b.open(path)
	site.Down.Store(true)
	b.set("tightness.test_min", "2")
	b.untilSays("Kept on this phone")
	b.js(`(() => { document.querySelector('button[name=go][value=pressure]').click(); return true })()`)
	b.untilSays("no connection")
	b.until("still on the page", `location.pathname.endsWith("/sections/tightness")`)
	site.Down.Store(false)

	// The page is closed and opened again, later.
	b.open("/")
	b.until("home names what waits",
		`!document.querySelector("[data-waiting]").hidden && document.querySelector("[data-waiting] a").pathname.endsWith("/sections/tightness")`)
	b.open(path)
	b.until("offered", `document.querySelector(".restore")`)
	b.js(`(() => { document.querySelector(".restore button").click(); return true })()`)
	b.untilSaved(r.ID, records.TestMinutes.Field, is("2"))
	b.untilSays("Saved")
	b.open("/")
	b.until("nothing waits", `document.querySelector("[data-waiting]").hidden`)
}

// Somebody else saves in between: nothing is overwritten, and Save leads to
// both versions.
func TestConflictInABrowser(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := openBrowser(t, site, records.RoleEngineer)
	b.open("/records/" + r.ID + "/sections/tightness")
	_, err := site.Book.SaveSection(t.Context(), site.People[records.RoleOwner], r.ID, r.Revision, "tightness",
		server.Entries{Fields: map[string]string{records.TestMinutes.Key: "3"}})
	if err != nil {
		t.Fatal(err)
	}
	b.set("tightness.test_min", "2")
	b.untilSays("changed somewhere else")
	b.js(`(() => { document.querySelector('button[name=go][value=""]').click(); return true })()`)
	b.until("both versions",
		`document.querySelector("h1").textContent.includes("two versions") && document.body.textContent.includes("3 min") && document.body.textContent.includes("2 min")`)
	b.untilSaved(r.ID, records.TestMinutes.Field, is("3"))
}

// No page may break its own content policy, or fail to load what it names.
func TestPagesLoadCleanly(t *testing.T) {
	site := servertest.Start(t)
	draft, row := site.Full(adverse), site.Issued()
	b := openBrowser(t, site, records.RoleOwner)
	if _, err := chromedp.Call(b.ctx, network.SetCacheDisabled,
		network.SetCacheDisabledParams{CacheDisabled: true}); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/", "/find?q=rise", "/register", "/appliances/" + site.Appliance.ID,
		"/records/" + draft.ID, "/records/" + draft.ID + "/sections/tightness",
		"/records/" + draft.ID + "/review", "/records/" + row.ID, "/rules", "/firm", "/people", "/instruments",
		"/drop-bands", "/messages", "/messages/" + firstMessage(t, site), "/r/none", "/r/" + site.Token(row.ID),
		"/verify", "/no-such-page"} {
		b.open(path)
		wide, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`))
		if err != nil {
			t.Fatal(err)
		}
		if wide > 390 {
			t.Errorf("%s is %d pixels wide on a phone of 390", path, wide)
		}
		b.until(path+": styled", `getComputedStyle(document.querySelector("main")).maxWidth !== "none"`)
	}
}
