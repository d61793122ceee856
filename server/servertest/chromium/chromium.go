// Package chromium runs one real, headless Chromium for all browser tests of a
// test binary.
package chromium

import (
	"context"
	"fmt"
	"os/exec"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// limit is how long anything may take on a machine that does much else. A page
// that works is there in a fraction of it.
const limit = 2 * time.Minute

var running struct {
	once sync.Once
	ctx  context.Context
	stop func()
	err  error
}

func start() {
	path, err := exec.LookPath("chromium-headless-shell")
	if err != nil {
		running.err = err
		return
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-component-update", true), chromedp.Flag("lang", "en-GB"),
		chromedp.Flag("touch-events", "enabled"), chromedp.WSURLReadTimeout(limit))
	allocator, free := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, end := chromedp.NewContext(allocator)
	running.ctx, running.stop = ctx, func() { end(); free() }
	running.err = chromedp.Do(ctx)
}

// Run runs the tests of a package, which call it in TestMain, and ends the
// browser if any of them started it.
func Run(m *testing.M) int {
	code := m.Run()
	if running.stop != nil {
		running.stop()
	}
	return code
}

// NewTab opens a window with cookies and storage of its own, which closes when
// the test ends. A browser that is not there fails the test.
func NewTab(tb testing.TB, options ...chromedp.ContextOption) context.Context {
	tb.Helper()
	running.once.Do(start)
	if running.err != nil {
		tb.Fatalf("Chromium: %v", running.err)
	}
	ctx, end := chromedp.NewContext(running.ctx, append(options, chromedp.WithNewBrowserContext())...)
	tb.Cleanup(end)
	if err := chromedp.Do(ctx); err != nil { // without a time limit: it would be the tab's
		tb.Fatalf("a new tab: %v", err)
	}
	return ctx
}

// Until waits for an expression of the page in a tab to become true. A page
// that is being replaced answers with an error; that is no answer yet.
func Until(tab context.Context, expression string) error {
	ctx, stop := context.WithTimeout(tab, limit)
	defer stop()
	for {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("Boolean("+expression+")"))
		if err == nil && ok {
			return nil
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("after %s still not %s (%w)", limit, expression, err)
		case <-time.After(20 * time.Millisecond): // the browser needs the processor for the page
		}
	}
}
