package engineer_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/servertest"
	"gaugebook/server/servertest/browser"
)

func is(want string) func(string) bool { return func(got string) bool { return got == want } }

func TestSectionInABrowser(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := browser.Open(t, site, records.RoleEngineer)
	path := "/records/" + r.ID + "/sections/"

	// A refused entry is named beside its field, a good one judged there.
	b.Go(path + "tightness")
	b.Set("tightness.let_by_rise_mbar", "0,4")
	b.Until("the error is beside the field",
		`document.querySelector("#live-tightness-let_by_rise_mbar .error") && document.getElementById("tightness-let_by_rise_mbar").getAttribute("aria-invalid") === "true"`)
	b.Set("tightness.let_by_rise_mbar", "5.0")
	b.Until("the error is gone", `!document.querySelector("#live-tightness-let_by_rise_mbar .error")`)
	b.Set("tightness.smell", "yes")
	b.Until("the finding is beside the field", `document.querySelector("#live-tightness-smell .finding.outside")`)
	b.UntilSaved(r.ID, records.LetByRiseMbar.Field, is("5.0"))
	b.UntilSays("Saved")

	// One more row than the page came with.
	b.JS(`(() => { const n = document.querySelectorAll(".row").length; [...document.querySelectorAll("[data-rows] > button")][0].click(); return document.querySelectorAll(".row").length === n + 1 })()`)
	b.Until("the new row has a field of its own",
		`document.querySelector('[name="tightness.runs[2].length_m"]') && !document.querySelector('[name*="#"]')`)

	// A field that depends on another answer is there only with that answer.
	b.Go(path + "heat")
	b.Until("hidden at first", `document.getElementById("at-heat-start_m3").hidden`)
	b.Set("heat.meter", records.MeterMetric)
	b.Until("shown for its answer",
		`!document.getElementById("at-heat-start_m3").hidden && document.getElementById("at-heat-dial_ft3").hidden`)

	// The buttons save first and then lead on.
	b.UntilSays("Saved")
	b.JS(`(() => { document.querySelector('button[name=go][value=combustion]').click(); return true })()`)
	b.Until("at the next section", `location.pathname.endsWith("/sections/combustion")`)
}

func TestSignatureInABrowser(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := browser.Open(t, site, records.RoleEngineer)
	b.Go("/records/" + r.ID + "/sections/handover")
	b.JS(`(() => { document.querySelector("[data-ink] svg").scrollIntoView({ block: "center", behavior: "instant" }); return true })()`)
	box, err := chromedp.Run(b.Ctx,
		chromedp.Evaluate[[]float64](`(() => { const r = document.querySelector("[data-ink] svg").getBoundingClientRect(); return [r.left, r.top, r.width, r.height] })()`))
	if err != nil {
		t.Fatal(err)
	}
	x, y := box[0]+30, box[1]+30
	b.Do(chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft))
	for i := range 6 {
		b.Do(chromedp.MouseEvent("mouseMoved", x+float64(i*20), y+float64(i%2*20), chromedp.ButtonLeft))
	}
	b.Do(chromedp.MouseEvent("mouseReleased", x+100, y, chromedp.ButtonLeft))
	b.UntilSaved(r.ID, records.EngineerSignature.Field, func(ink string) bool {
		return strings.HasPrefix(ink, "M") && strings.Count(ink, "L") >= 4
	})
	b.JS(`(() => { document.querySelector("[data-ink] button").click(); return true })()`)
	b.UntilSaved(r.ID, records.EngineerSignature.Field, is(""))
}

// Where there is no signal, what was typed stays on the phone and is offered
// again.
func TestNoConnection(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := browser.Open(t, site, records.RoleEngineer)
	path := "/records/" + r.ID + "/sections/tightness"
	b.Go(path)
	site.Down.Store(true)
	b.Set("tightness.test_min", "2")
	b.UntilSays("Kept on this phone")
	b.JS(`(() => { document.querySelector('button[name=go][value=pressure]').click(); return true })()`)
	b.UntilSays("no connection")
	b.Until("still on the page", `location.pathname.endsWith("/sections/tightness")`)
	site.Down.Store(false)

	// The page is closed and opened again, later.
	b.Go("/")
	b.Until("home names what waits",
		`!document.querySelector("[data-waiting]").hidden && document.querySelector("[data-waiting] a").pathname.endsWith("/sections/tightness")`)
	b.Go(path)
	b.Until("offered", `document.querySelector(".restore")`)
	b.JS(`(() => { document.querySelector(".restore button").click(); return true })()`)
	b.UntilSaved(r.ID, records.TestMinutes.Field, is("2"))
	b.UntilSays("Saved")
	b.Go("/")
	b.Until("nothing waits", `document.querySelector("[data-waiting]").hidden`)
}

// Somebody else saves in between: nothing is overwritten, and Save leads to
// both versions.
func TestConflictInABrowser(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := browser.Open(t, site, records.RoleEngineer)
	b.Go("/records/" + r.ID + "/sections/tightness")
	_, err := site.App.SaveSection(t.Context(), site.People[records.RoleOwner], r.ID, r.Revision, "tightness",
		app.Entries{Fields: map[string]string{records.TestMinutes.Key: "3"}})
	if err != nil {
		t.Fatal(err)
	}
	b.Set("tightness.test_min", "2")
	b.UntilSays("changed somewhere else")
	b.JS(`(() => { document.querySelector('button[name=go][value=""]').click(); return true })()`)
	b.Until("both versions",
		`document.querySelector("h1").textContent.includes("two versions") && document.body.textContent.includes("3 min") && document.body.textContent.includes("2 min")`)
	b.UntilSaved(r.ID, records.TestMinutes.Field, is("3"))
}
