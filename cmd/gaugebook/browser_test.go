package main

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/server/servertest"
	"gaugebook/templates"
)

// A whole record on a phone, field by field, as an engineer enters it: the
// findings come in while they type, and nothing is lost without signal.
func TestRecordOnAPhone(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	newOwner(t, dir)
	f := setUp(t, serve(t, dir))
	f.addHome("14 Larkspur Rise", "imogen.farrow@example.org")
	b := newTab(t, f.base)
	b.signIn(engineerEmail, engineerPassword)
	b.looksRight("/", 44)

	// Find the appliance and start.
	b.run(types("#q", "aa7 4tb"))
	b.leads("/find", click(`main form[action="/find"] button`))
	b.looksRight("/find", 44)
	b.leads("/appliances/", click(`main .ledger a[href^="/appliances/"]`))
	b.looksRight("/appliances/…", 44)
	b.tap(`input[name="purpose"][value="commissioning"]`)
	b.leads("/records/", click(`form[action$="/records"] button`))
	b.looksRight("/records/… (draft)", 44)
	path := js[string](b, "location.pathname")
	record := strings.TrimPrefix(path, "/records/")
	b.leads(path+"/sections/", click(`main .work a`))

	for i, s := range records.Sections {
		here := path + "/sections/" + string(s.ID)
		b.until("section "+s.Title, fmt.Sprintf("location.pathname === %q && "+
			"document.querySelector('form[data-section]')", here))
		b.do("window.notReloaded = true")
		switch s.ID {
		case records.Tightness.ID:
			b.wrongFirst(f)
		case records.Pressure.ID:
			b.withoutSignal(f)
		}
		b.fillAsAPerson(f, s)
		if s.ID == records.Handover.ID {
			b.sign(templates.Slug(records.ReceivedSignature.Key))
		}
		b.until("saved", `document.querySelector("[data-state]").textContent.startsWith("Saved")`)
		b.until("the page was not loaded again", "window.notReloaded")
		b.looksRight(here, 44)
		next := path + "/review"
		if i+1 < len(records.Sections) {
			next = path + "/sections/" + string(records.Sections[i+1].ID)
		}
		b.leads(next, click(`form[data-section] .foothold .go button:last-child`))
	}

	// What the browser typed is what is saved.
	saved := map[string]string{}
	for _, s := range records.Sections {
		at := path + "/sections/" + string(s.ID)
		for name, value := range f.engineer.get(at).form(at).values {
			saved[name] = value[0]
		}
		for name, want := range f.sampleEntries(s.ID) {
			if saved[name] != want {
				t.Errorf("%s holds %q, not %q", name, saved[name], want)
			}
		}
	}
	if ink := saved[records.ReceivedSignature.Key]; !strings.HasPrefix(ink, "M") || strings.Count(ink, "L") < 5 {
		t.Errorf("the signature is %q", ink)
	}
	b.until("a clear review",
		`document.querySelector("main").innerText.includes("every reading is inside its limit or exempt")`)
	b.looksRight(path+"/review", 44)
	b.leads(path, click(`form[action$="/issue"] button`))
	b.until("issued", `/\d{4}-00001/.test(document.querySelector("main").innerText)`)
	b.looksRight(path+" (issued)", 44)
	p := f.engineer.get("/records/"+record).says("In force", "every reading inside or exempt")
	c := issuedOf(p, record)
	b.open("/v/" + c.number + "/" + c.code)
	b.looksRight("/v/…", 44)
	var file []letter
	servertest.Eventually(t, "the letter", func() bool { file = letters(t, dir); return len(file) == 1 })
	b.open(privateLink.FindString(file[0].text))
	b.looksRight("/r/…", 44)
}

// tap taps what a person sees of a control: the label around it.
func (t *tab) tap(selector string) {
	t.tb.Helper()
	t.run(chromedp.Tap(chromedp.CSS(`label:has(> ` + selector + `)`)))
}

// wrongFirst types a number with a comma and a let-by outside its limit. The
// message and the findings come in beside the fields, without a new page.
func (t *tab) wrongFirst(f *firm) {
	t.tb.Helper()
	t.allowed = append(t.allowed, "422") // the browser notes every refused save
	in := f.sampleEntries(records.Tightness.ID)
	for _, key := range []string{records.TightnessSupply.Key, records.TightnessSituation.Key,
		records.TightnessGaugeHow.Key} {
		t.enter(key, in[key])
	}
	rise, live := records.LetByRiseMbar.Key, "live-"+templates.Slug(records.LetByRiseMbar.Key)
	t.enter(rise, "9,9")
	t.until("the message at the field",
		fmt.Sprintf(`document.getElementById(%q).innerText.includes("Not accepted") && document.querySelector('[name=%q]').getAttribute("aria-invalid") === "true"`, live, rise))
	t.enter(rise, "9.9")
	finding := `document.querySelector("#finding-` + templates.Slug("tightness.let_by_rise") + `")`
	t.until("the rise outside its limit", finding+`?.innerText.includes("outside") && !document.getElementById("`+live+
		`").innerText.includes("Not accepted")`)
	t.enter(rise, in[rise])
	t.until("the rise inside its limit", finding+`?.innerText.includes("inside")`)
}

// withoutSignal enters a reading while there is no connection, leaves the
// page, and finds the reading again.
func (t *tab) withoutSignal(f *firm) {
	t.tb.Helper()
	t.allowed = append(t.allowed, "ERR_INTERNET_DISCONNECTED")
	t.enter(records.Examined.Key, f.sampleEntries(records.Pressure.ID)[records.Examined.Key])
	t.until("saved", `document.querySelector("[data-state]").innerText.startsWith("Saved")`)
	key := records.StandingMbar.Key
	offline := func(off bool) {
		p := network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{{Offline: off, DownloadThroughput: -1, UploadThroughput: -1}}}
		if _, err := chromedp.Call(t.ctx, network.EmulateNetworkConditionsByRule, p); err != nil {
			t.tb.Fatal(err)
		}
	}
	offline(true)
	t.enter(key, "23.9")
	t.until("told that it is kept on the phone",
		`document.querySelector("[data-state]").innerText.includes("Kept on this phone")`)
	offline(false)
	t.run(chromedp.Reload())
	t.until("the offer to put it back", `document.querySelector(".restore")?.innerText.includes("never sent")`)
	t.do("window.notReloaded = true")
	t.run(click(".restore button"))
	t.until("put back and saved",
		fmt.Sprintf(`document.querySelector('[name=%q]').value === "23.9" && document.querySelector("[data-state]").innerText.startsWith("Saved")`, key))
}

// fillAsAPerson enters the sample's readings in the order of the form.
func (t *tab) fillAsAPerson(f *firm, s *records.Section) {
	t.tb.Helper()
	in := f.sampleEntries(s.ID)
	for _, field := range s.Fields() {
		if field.Kind != records.RowsKind {
			if value, given := in[field.Key]; given {
				t.enter(field.Key, value)
			}
			continue
		}
		for i := 0; ; i++ {
			row, any := map[string]string{}, false
			for _, c := range field.Columns {
				name := fmt.Sprintf("%s[%d].%s", field.Key, i, c.Key)
				if v, given := in[name]; given {
					row[name], any = v, true
				}
			}
			if !any {
				break
			}
			first := fmt.Sprintf("%s[%d].%s", field.Key, i, field.Columns[0].Key)
			if !js[bool](t, fmt.Sprintf("Boolean(document.getElementsByName(%q)[0])", first)) {
				t.run(click(fmt.Sprintf(`[data-rows=%q] > button`, field.Key)))
			}
			for _, c := range field.Columns {
				name := fmt.Sprintf("%s[%d].%s", field.Key, i, c.Key)
				if v, given := row[name]; given {
					t.enter(name, v)
				}
			}
		}
	}
}

// enter puts one value in as a person would: taps an answer, chooses from a
// list, or types.
func (t *tab) enter(name, value string) {
	t.tb.Helper()
	now := js[struct{ Kind, Value string }](t,
		fmt.Sprintf(`(() => { const all = [...document.getElementsByName(%q)], e = all[0];
		return { kind: e ? e.type : "", value: e && e.type === "radio" ? (all.find((r) => r.checked)?.value ?? "") : e ? e.value : "" } })()`, name))
	field := at(name)
	switch {
	case now.Kind == "":
		t.tb.Fatalf("there is no field %s", name)
	case now.Value == value: // as it stands already, from the appliance or the last tap
	case now.Kind == "radio":
		// Findings that come in above move an answer away under the finger:
		// then a person looks and taps again.
		answer := field + fmt.Sprintf("[value=%q]", value)
		for range 3 {
			t.tap(answer)
			if js[bool](t, fmt.Sprintf("document.querySelector(%q).checked", answer)) {
				break
			}
		}
	case now.Kind == "select-one":
		t.do(fmt.Sprintf(`(() => { const e = document.getElementsByName(%q)[0]; e.focus(); e.value = %q; e.dispatchEvent(new Event("change", { bubbles: true })) })()`, name, value))
	case now.Kind == "time", now.Kind == "date":
		t.do(fmt.Sprintf(`(() => { const e = document.getElementsByName(%q)[0]; e.focus(); e.value = %q; e.dispatchEvent(new Event("change", { bubbles: true })) })()`, name, value))
	default:
		t.do(fmt.Sprintf("document.getElementsByName(%q)[0].select()", name))
		t.run(types(field, value))
		t.do("document.activeElement.blur()")
	}
	got := js[string](t,
		fmt.Sprintf(`(() => { const all = [...document.getElementsByName(%q)]; return (all[0].type === "radio" ? all.find((r) => r.checked)?.value : all[0].value) ?? "" })()`, name))
	if got != value {
		t.tb.Errorf("%s shows %q after %q was entered", name, got, value)
	}
}

// sign draws a signature with the pointer.
func (t *tab) sign(id string) {
	t.tb.Helper()
	pad := `#at-` + id + ` svg`
	t.run(chromedp.ScrollIntoView(chromedp.CSS(pad)))
	box := js[struct{ X, Y, W, H float64 }](t,
		fmt.Sprintf(`(() => { const b = document.querySelector(%q).getBoundingClientRect(); return { x: b.x, y: b.y, w: b.width, h: b.height } })()`, pad))
	point := func(kind input.DispatchMouseEventType, i int) step {
		return chromedp.MouseEvent(kind, box.X+box.W*(0.15+0.07*float64(i)), box.Y+box.H*(0.4+0.2*float64(i%3-1)),
			chromedp.ButtonLeft)
	}
	steps := []step{point("mousePressed", 0)}
	for i := 1; i < 10; i++ {
		steps = append(steps, point("mouseMoved", i))
	}
	t.run(append(steps, point("mouseReleased", 9))...)
}

// The same with script switched off: plain forms take a person from sign-in
// to the issued record.
func TestWithoutScript(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	newOwner(t, dir)
	f := setUp(t, serve(t, dir))
	_, home := f.addHome("3 Larkspur Rise", "noscript@example.org")
	record := f.startRecord(home, records.Commissioning, today(t))
	for _, s := range records.Sections {
		if s.ID != records.Pressure.ID {
			f.fillSection(record, s.ID)
		}
	}
	b := newTab(t, f.base)
	if _, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	b.open("/sign-in")
	b.run(types("#email", engineerEmail), types("#password", engineerPassword))
	b.leads("/", click(`form[action="/sign-in"] button`))
	path := "/records/" + record + "/sections/pressure"
	b.open(path)
	if js[bool](b, `Boolean(document.querySelector("button.sign, .rows > button"))`) {
		t.Fatal("script runs although it is switched off")
	}
	b.looksRight(path+" without script", 44)
	b.fillAsAPerson(f, &records.Pressure)
	b.leads("/records/"+record+"/sections/heat", click(`form[data-section] .foothold .go button:last-child`))
	b.open("/records/" + record + "/review")
	b.leads("/records/"+record, click(`form[action$="/issue"] button`))
	b.until("issued", `/\d{4}-00001/.test(document.querySelector("main").innerText)`)
	f.engineer.get("/records/" + record).was(http.StatusOK).says("In force")
}

// looksRight holds the page in front against what every page must be at every
// width: nothing wider than the window, nothing too small to be tapped.
func (t *tab) looksRight(path string, controls int) {
	t.tb.Helper()
	for _, w := range []int64{narrow, phone} {
		t.width(w)
		if wide := js[[]string](t, tooWide); len(wide) > 0 {
			t.tb.Errorf("%s scrolls sideways at %d px: %s", path, w, strings.Join(wide, ", "))
		}
		small := js[[]string](t, fmt.Sprintf(tooSmall, 24, 24))
		if controls > 24 {
			small = append(small, js[[]string](t, fmt.Sprintf(tooLow, controls))...)
		}
		if len(small) > 0 {
			t.tb.Errorf("%s at %d px: too small to tap: %s", path, w, strings.Join(small, ", "))
		}
	}
}

// tooWide lists what makes the page wider than its window; what lies in a
// region that scrolls by itself may be wider.
const tooWide = `(() => {
  const root = document.scrollingElement, most = root.clientWidth;
  if (root.scrollWidth <= most) return [];
  return [...document.body.querySelectorAll("*")].filter((e) => e.getBoundingClientRect().right > most + 0.5 && !e.closest(".scroll"))
    .slice(0, 5).map((e) => e.parentElement.className + " > " + e.tagName + "." + e.className + " " + e.textContent.trim().slice(0, 30) + " to " + Math.round(e.getBoundingClientRect().right)).concat("page " + root.scrollWidth);
})()`

// targets finds what can be tapped, each with the box that takes the tap: of
// a radio button or tick its label, of a link in running text nothing, since
// the line sets its size.
const targets = `
  const seen = (e) => e.checkVisibility({ visibilityProperty: true, opacityProperty: false }) && e.getClientRects().length;
  const inText = (e) => e.matches("a") && getComputedStyle(e).display === "inline" && e.parentElement.textContent.trim() !== e.textContent.trim();
  const boxes = [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")]
    .filter((e) => seen(e) && !inText(e) && !e.matches(".skip"))
    .map((e) => [e, (e.matches("[type=radio], [type=checkbox]") && e.closest("label") || e).getBoundingClientRect()]);
  const name = (e, b) => (e.tagName + " " + (e.name || e.textContent || e.href || "").trim().slice(0, 40) + " " + Math.round(b.width * 10) / 10 + "×" + Math.round(b.height * 10) / 10);
`

const tooSmall = `(() => {` + targets + `
  return boxes.filter(([, b]) => b.width < %d - 0.01 || b.height < %d - 0.01).map(([e, b]) => name(e, b)).slice(0, 8);
})()`

// tooLow looks at the controls of the main part only: what an engineer taps
// with cold hands.
const tooLow = `(() => {` + targets + `
  return boxes.filter(([e, b]) => e.closest("main") && !e.closest(".trail, .finding, .live") && e.matches("button, input, select, textarea, a.button, .ledger a")
    && b.height < %d - 0.01).map(([e, b]) => name(e, b)).slice(0, 8);
})()`

// at is the selector of a field by its name.
func at(name string) string { return `[name="` + strings.ReplaceAll(name, `"`, `\"`) + `"]` }
