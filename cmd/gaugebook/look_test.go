package main

import (
	"fmt"
	"strings"
)

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
