package server_test

import (
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/server/servertest"
	"gaugebook/server/servertest/browser"
)

// No page may break its own content policy, or fail to load what it names.
func TestPagesLoadCleanly(t *testing.T) {
	site := servertest.Start(t)
	draft, row := site.Full(servertest.Adverse), site.Issued()
	b := browser.Open(t, site, records.RoleOwner)
	if _, err := chromedp.Call(b.Ctx, network.SetCacheDisabled,
		network.SetCacheDisabledParams{CacheDisabled: true}); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/", "/find?q=rise", "/register", "/appliances/" + site.Appliance.ID,
		"/records/" + draft.ID, "/records/" + draft.ID + "/sections/tightness",
		"/records/" + draft.ID + "/review", "/records/" + row.ID, "/rules", "/firm", "/people", "/instruments",
		"/drop-bands", "/limits", "/messages", "/messages/" + firstMessage(t, site), "/r/none",
		"/r/" + site.Token(row.ID),
		"/verify", "/no-such-page"} {
		b.Go(path)
		wide, err := chromedp.Run(b.Ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`))
		if err != nil {
			t.Fatal(err)
		}
		if wide > 390 {
			t.Errorf("%s is %d pixels wide on a phone of 390", path, wide)
		}
		b.Until(path+": styled", `getComputedStyle(document.querySelector("main")).maxWidth !== "none"`)
	}
}
