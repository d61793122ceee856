package main

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"gaugebook/server/servertest/chromium"
)

// tab is one window of the browser, and what it complained about.
type tab struct {
	tb   testing.TB
	ctx  context.Context
	base string

	mu      sync.Mutex
	trouble []string
	allowed []string // complaints that the test provokes
}

const (
	phone, narrow, desk = 390, 320, 1280
	tall                = 844
)

// newTab opens a window as wide as a phone.
func newTab(tb testing.TB, base string) *tab {
	tb.Helper()
	t := &tab{tb: tb, base: base}
	t.ctx = chromium.NewTab(tb, chromedp.WithListener(t.listen))
	if _, err := chromedp.Call(t.ctx, log.Enable, cdp.Empty{}); err != nil {
		tb.Fatal(err)
	}
	t.width(phone)
	tb.Cleanup(t.quiet)
	return t
}

// listen notes errors and warnings of the console, broken promises and what
// the content policy refused.
func (t *tab) listen(event any) {
	var said string
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		said = "exception: " + e.ExceptionDetails.Text
		if e.ExceptionDetails.Exception != nil {
			said += " " + e.ExceptionDetails.Exception.Description
		}
	case *runtime.EventConsoleAPICalled:
		if e.Type != runtime.ConsoleAPICalledTypeError && e.Type != runtime.ConsoleAPICalledTypeWarning &&
			e.Type != runtime.ConsoleAPICalledTypeAssert {
			return
		}
		said = "console: "
		for _, a := range e.Args {
			said += string(a.Value) + " " + a.Description
		}
	case *log.EventEntryAdded:
		if e.Entry.Level != log.EntryLevelError && e.Entry.Level != log.EntryLevelWarning {
			return
		}
		said = fmt.Sprintf("%s %s: %s %s", e.Entry.Source, e.Entry.Level, e.Entry.Text, e.Entry.URL)
	default:
		return
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.trouble = append(t.trouble, said)
}

// quiet fails the test for every complaint that it did not provoke.
func (t *tab) quiet() {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, said := range t.trouble {
		provoked := false
		for _, a := range t.allowed {
			provoked = provoked || strings.Contains(said, a)
		}
		if !provoked {
			t.tb.Errorf("the browser complained: %s", said)
		}
	}
	t.trouble = nil
}

// step is one thing that a person does in the browser.
type step = chromedp.Action[chromedp.Void]

// run does some things in order, with two minutes for all of them.
func (t *tab) run(steps ...step) {
	t.tb.Helper()
	ctx, cancel := context.WithTimeout(t.ctx, 2*time.Minute)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.tb.Fatalf("%v\n%s", err, t.shown())
	}
}

// shown is what the window shows, for messages.
func (t *tab) shown() string {
	ctx, cancel := context.WithTimeout(t.ctx, 5*time.Second)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string]("location.href + '\\n' + "+
		"document.body.innerText.slice(0, 2000)"))
	if err != nil {
		return err.Error()
	}
	return text
}

func (t *tab) width(px int64) {
	t.tb.Helper()
	if px < 600 {
		t.run(chromedp.EmulateViewport(px, tall, chromedp.EmulateMobile, chromedp.EmulateTouch))
		return
	}
	t.run(chromedp.EmulateViewport(px, tall))
}

func (t *tab) open(path string) {
	t.tb.Helper()
	t.run(chromedp.Navigate(t.base+path), chromedp.WaitReady(chromedp.CSS("main")))
}

// js evaluates an expression in the page.
func js[T any](t *tab, expression string) T {
	t.tb.Helper()
	ctx, cancel := context.WithTimeout(t.ctx, 60*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.tb.Fatalf("%.300s: %v\n%s", expression, err, t.shown())
	}
	return v
}

// do runs script that gives nothing back.
func (t *tab) do(script string) {
	t.tb.Helper()
	js[chromedp.Void](t, script)
}

// click clicks the first element that fits.
func click(selector string) step { return chromedp.Click(chromedp.CSS(selector)) }

// types puts text into a field, key by key.
func types(selector, text string) step { return chromedp.SendKeys(chromedp.CSS(selector), text) }

// leads does something that opens another page and waits until that is there:
// the path itself, or one below it when it ends in a stroke.
func (t *tab) leads(to string, steps ...step) {
	t.tb.Helper()
	t.run(steps...)
	there := fmt.Sprintf("location.pathname === %q", to)
	if to != "/" && strings.HasSuffix(to, "/") {
		there = fmt.Sprintf("location.pathname.startsWith(%q)", to)
	}
	t.until("the page "+to, there+" && document.readyState === 'complete'")
}

// until waits for an expression of the page to become true.
func (t *tab) until(what, expression string) {
	t.tb.Helper()
	if err := chromium.Until(t.ctx, expression); err != nil {
		t.tb.Fatalf("%s: %v\n%s", what, err, t.shown())
	}
}

func (t *tab) signIn(email, password string) {
	t.tb.Helper()
	t.open("/sign-in")
	t.leads("/", types("#email", email), types("#password", password), click(`form[action="/sign-in"] button`))
	t.until("signed in", `document.body.dataset.person`)
}
