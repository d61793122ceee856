// Package browser shows pages of a test site in a real, headless Chromium.
// Packages that use it call chromium.Run in TestMain.
package browser

import (
	"context"
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/server/servertest"
	"gaugebook/server/servertest/chromium"
)

// Tab is one tab of a real, headless Chromium as wide as a phone.
type Tab struct {
	t    testing.TB
	Ctx  context.Context
	site *servertest.Site
}

// Open opens a tab, signed in as the person of a role.
func Open(t testing.TB, site *servertest.Site, role records.Role) *Tab {
	t.Helper()
	ctx := chromium.NewTab(t)
	b := &Tab{t, ctx, site}
	b.Do(chromedp.EmulateViewport(390, 844))
	for _, c := range site.As(role).Cookies() {
		if _, err := chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{Name: c.Name, Value: c.Value,
			URL: site.HTTP.URL}); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

// Do takes steps in the tab.
func (b *Tab) Do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.Ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

// Go opens a page.
func (b *Tab) Go(path string) {
	b.t.Helper()
	b.Do(chromedp.Navigate(b.site.HTTP.URL + path))
}

// Set fills a field as a person does: type, then leave it.
func (b *Tab) Set(name, value string) {
	b.t.Helper()
	b.JS(fmt.Sprintf(`(() => {
		const f = document.querySelector("form[data-section]").elements.namedItem(%q);
		f.value = %q;
		const el = f instanceof RadioNodeList ? [...f].find((r) => r.checked) : f;
		el.dispatchEvent(new Event("change", { bubbles: true }));
		return true;
	})()`, name, value))
}

// JS evaluates an expression that must be true or false.
func (b *Tab) JS(expression string) {
	b.t.Helper()
	if _, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](expression)); err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
}

// Until waits for an expression to become true, also over a change of page.
func (b *Tab) Until(what, expression string) {
	b.t.Helper()
	err := chromium.Until(b.Ctx, expression)
	if err == nil {
		return
	}
	shown, _ := chromedp.Run(b.Ctx,
		chromedp.Evaluate[string](`document.querySelector("[data-state]")?.textContent + " @ " + location.pathname`))
	b.t.Fatalf("%s: %v (%s)", what, err, shown)
}

// UntilSays waits until the page says how the draft is saved.
func (b *Tab) UntilSays(words string) {
	b.t.Helper()
	b.Until("the state says "+words, fmt.Sprintf(`document.querySelector("[data-state]").textContent.includes(%q)`,
		words))
}

// UntilSaved waits until the stored draft holds what fits.
func (b *Tab) UntilSaved(id string, f *records.Field, fits func(string) bool) {
	b.t.Helper()
	servertest.Eventually(b.t, f.Key+" is saved", func() bool {
		r, err := b.site.Store.Records.Record(b.t.Context(), id)
		if err != nil {
			b.t.Fatal(err)
		}
		return fits(r.Values[f.Key].Text())
	})
}
