package layout_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
)

// long is n characters of text with a different word every time.
func long(n int) string {
	var b strings.Builder
	for i := 0; b.Len() < n; i++ {
		fmt.Fprintf(&b, "word%d ", i)
	}
	return b.String()[:n]
}

func TestLongNote(t *testing.T) {
	t.Parallel()
	note := long(10_000)
	unbroken := strings.Repeat("0123456789", 1000)
	d := layout.New(layout.Options{})
	d.Paragraph(layout.Body, note)
	d.NewPage()
	d.Paragraph(layout.Body, unbroken)
	path := pdftest.Check(t, mustBytes(t, d))
	checkMargins(t, path)
	var all strings.Builder
	for _, p := range pdftest.Pages(t, path) {
		for _, w := range p.Words {
			all.WriteString(w.Text)
		}
	}
	squeezed := strings.ReplaceAll(note, " ", "")
	if !strings.Contains(all.String(), squeezed) {
		t.Error("a word of the note is missing or out of order")
	}
	if strings.Count(all.String(), "0123456789") < 990 {
		t.Error("parts of the unbroken word are missing")
	}
}

func TestParagraphBreaks(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{})
	d.Paragraph(layout.Body, "one\r\ntwo\n\nfour   spaced\tout\u00a0here\nsee a\u0301 and soft\u00adhyphen")
	path := pdftest.Check(t, mustBytes(t, d))
	got := strings.Split(strings.TrimSpace(pdftest.Text(t, path, "-layout")), "\n")
	want := []string{"one", "two", "", "four spaced out here", "see á and softhyphen"}
	for i, w := range want {
		if i >= len(got) || strings.TrimSpace(got[i]) != w {
			t.Fatalf("lines %q, want %q", got, want)
		}
	}
}

func TestPreferredBreak(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{})
	d.Columns(0, []float64{1, 5}, func() {
		d.Paragraph(layout.Body, "supercalifragilistic-expialidocious")
	}, func() {})
	// pdftotext proper joins what a hyphen parts, so look at the words it saw.
	if w := pdftest.Pages(t, pdftest.Check(t, mustBytes(t, d)))[0].Words; len(w) != 2 ||
		w[0].Text != "supercalifragilistic-" {
		t.Errorf("%v: want the break after the hyphen", w)
	}
}

func TestNarrowWidthFails(t *testing.T) {
	t.Parallel()
	var e *layout.WidthError
	d := layout.New(layout.Options{})
	d.Indent(d.Width()-3, func() { d.Paragraph(layout.Body, "Wide") })
	if _, err := d.Bytes(); !errors.As(err, &e) || e.Text != "Wide" || !(e.Needed > e.Width) {
		t.Errorf("paragraph: %v", err)
	}
	d = layout.New(layout.Options{})
	d.Table(layout.Table{Columns: []layout.Column{{Weight: 1000}, {Weight: 1}},
		Rows: []layout.Row{layout.TextRow("a", "value")}})
	if _, err := d.Bytes(); !errors.As(err, &e) || !strings.Contains(err.Error(), `"value"`) {
		t.Errorf("table: %v", err)
	}
	d = layout.New(layout.Options{})
	d.Indent(d.Width()+50, func() { d.Paragraph(layout.Body, "Wide"); d.Bullets(layout.Body, "x") })
	if _, err := d.Bytes(); !errors.As(err, &e) {
		t.Errorf("width below zero: %v", err)
	}
}

func TestMissingGlyph(t *testing.T) {
	t.Parallel()
	for text, r := range map[string]rune{
		"name: \u0634":         '\u0634', // Arabic: there is a glyph, but not the right form and order
		"\u05d0 here":          '\u05d0', // Hebrew
		"flame \U0001f525":     '\U0001f525',
		"\u6c34":               '\u6c34',
		"bad \xff byte":        utf8.RuneError,
		"bell \a":              '\a',
		"math \U0001d538 sign": '\U0001d538',
		"\u0e01":               '\u0e01',
	} {
		d := layout.New(layout.Options{})
		d.Paragraph(layout.Body, "fine")
		d.Table(layout.Table{Columns: []layout.Column{{Weight: 1}}, Rows: []layout.Row{layout.TextRow(text)}})
		var e *layout.MissingGlyphError
		if _, err := d.Bytes(); !errors.As(err, &e) || e.Missing[0].Rune != r ||
			e.Missing[0].Text != strings.ToValidUTF8(text, "\ufffd") ||
			!strings.Contains(err.Error(), fmt.Sprintf("%U", r)) {
			t.Errorf("%q: %v", text, err)
		}
		printable, replaced := layout.Printable(text)
		if len(replaced) != 1 || replaced[0] != r || !strings.ContainsRune(printable, layout.Replacement) {
			t.Errorf("Printable(%q) = %q, %q", text, printable, replaced)
		}
		d = layout.New(layout.Options{})
		d.Paragraph(layout.Body, printable)
		if got := pdftest.Words(t, pdftest.Check(t, mustBytes(t, d))); got != printable {
			t.Errorf("printed %q, want %q", got, printable)
		}
	}
	d := layout.New(layout.Options{Footer: layout.Footer("\u0634")})
	if _, err := d.Bytes(); err == nil {
		t.Error("a missing glyph in a footer is let through")
	}
	if s, r := layout.Printable(manyScripts); s != manyScripts || len(r) != 0 {
		t.Errorf("Printable changed %q to %q", manyScripts, s)
	}
}

func TestHeadingStaysWithNext(t *testing.T) {
	t.Parallel()
	for _, tall := range []float64{60, 300, 600} {
		for lines := 38; lines < 56; lines++ {
			d := layout.New(layout.Options{})
			for i := range lines {
				d.Paragraph(layout.Body, fmt.Sprint("line ", i))
			}
			d.Heading(1, "HEADONE")
			d.Heading(2, "HEADTWO")
			captioned(d, tall, "caption", func(f *layout.Figure) { f.Text(0, f.H/2, 0, 0, layout.Body, "MIDDLE") })
			path := pdftest.Write(t, "d.pdf", mustBytes(t, d))
			for _, p := range strings.Split(pdftest.Text(t, path), "\f") {
				if n := strings.Count(p, "HEADONE") + strings.Count(p, "HEADTWO") + strings.Count(p, "MIDDLE") +
					strings.Count(p, "caption"); n != 0 && n != 4 {
					t.Fatalf("%d lines, %.0f pt: page parts %q", lines, tall, p)
				}
			}
		}
	}
}

func TestKeepTogether(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{})
	d.Space(10)
	d.Paragraph(layout.Body, strings.Repeat("x\n", 45))
	calls := 0
	d.Box(layout.Callout, func() {
		calls++
		for i := range 12 {
			d.Paragraph(layout.Body, fmt.Sprint("BOXED", i))
		}
	})
	if calls != 2 || d.Page() != 2 {
		t.Errorf("block called %d times, page %d", calls, d.Page())
	}
	d.Box(layout.Panel, func() { d.Paragraph(layout.Body, strings.Repeat("y\n", 200)) }) // no page can hold it
	if d.Page() < 5 {
		t.Errorf("tall box ends on page %d", d.Page())
	}
	path := pdftest.Check(t, mustBytes(t, d))
	if text := pdftest.Text(t, path, "-l", "1"); strings.Contains(text, "BOXED") {
		t.Error("the block taken back still prints on page 1")
	}
	if text := pdftest.Words(t, path); strings.Count(text, "BOXED") != 12 || strings.Count(text, "y") != 200 {
		t.Errorf("%d of 12, %d of 200", strings.Count(text, "BOXED"), strings.Count(text, "y"))
	}
	checkMargins(t, path)
}
