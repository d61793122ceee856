package layout_test

import (
	"fmt"
	"strings"
	"testing"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
)

func TestTableOverPages(t *testing.T) {
	t.Parallel()
	table := layout.Table{Columns: []layout.Column{{Head: "HEADA", Weight: 1}, {Head: "HEADB", Weight: 3},
		{Head: "HEADC", Weight: 2, Align: layout.Right}}}
	var cells []string
	for i := range 94 {
		if i%20 == 0 {
			table.Rows = append(table.Rows, layout.Row{Group: fmt.Sprintf("GROUP%d", i)})
		}
		a, c := fmt.Sprintf("a%d", i), fmt.Sprintf("c%d", i)
		b := fmt.Sprintf("b%d with quite some words that go on over more than the one line of text it gets, e%d", i, i)
		table.Rows = append(table.Rows, layout.TextRow(a, b, c))
		cells = append(cells, a, c, fmt.Sprintf("e%d", i), fmt.Sprintf("b%d", i))
	}
	d := layout.New(layout.Options{Header: layout.Header("left", "right"), Footer: layout.Footer("foot")})
	d.Heading(1, "Table")
	d.Table(table)
	path := pdftest.Check(t, mustBytes(t, d))
	checkMargins(t, path)
	if d.Page() != 5 {
		t.Errorf("%d pages, want 5", d.Page())
	}
	found := map[string]int{}
	for i, p := range pdftest.Pages(t, path) {
		row := map[string]float64{}
		heads := 0
		lastY := 0.0
		for _, w := range p.Words {
			found[w.Text]++
			if strings.HasPrefix(w.Text, "HEAD") {
				heads++
			}
			row[w.Text] = w.YMin
			if w.Text != "page" {
				lastY = max(lastY, w.YMin)
			}
		}
		if heads != 3 {
			t.Errorf("page %d: %d words of the head, want 3", i+1, heads)
		}
		for n := range 94 { // a row is whole, and its cells stand on one baseline
			a, okA := row[fmt.Sprintf("a%d", n)]
			c, okC := row[fmt.Sprintf("c%d", n)]
			_, okE := row[fmt.Sprintf("e%d", n)]
			if okA != okC || okA != okE || okA && a != c {
				t.Errorf("page %d: row %d is torn", i+1, n)
			}
		}
		for n := 0; n < 94; n += 20 { // a group heading has its first row below it
			if y, ok := row[fmt.Sprintf("GROUP%d", n)]; ok {
				if ay, ok := row[fmt.Sprintf("a%d", n)]; !ok || ay <= y {
					t.Errorf("page %d: group %d stands alone", i+1, n)
				}
			}
		}
	}
	for _, w := range cells {
		if found[w] != 1 {
			t.Errorf("%q is there %d times", w, found[w])
		}
	}
	if found["of"] < 5 || found["5"] < 5 {
		t.Error("pages are not numbered")
	}
}

func TestRowTallerThanPage(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{})
	d.Paragraph(layout.Body, "before")
	d.Table(layout.Table{Columns: []layout.Column{{Head: "KEY", Weight: 1}, {Head: "NOTE", Weight: 4}},
		Rows: []layout.Row{layout.TextRow("short", "one"), layout.TextRow("tall", long(9000)),
			layout.TextRow("last", "end")}})
	path := pdftest.Check(t, mustBytes(t, d))
	checkMargins(t, path)
	var all strings.Builder
	for _, p := range pdftest.Pages(t, path) {
		for _, w := range p.Words {
			if w.Text != "KEY" && w.Text != "NOTE" {
				all.WriteString(w.Text)
			}
		}
	}
	if !strings.Contains(all.String(), "tall"+strings.ReplaceAll(long(9000), " ", "")+"lastend") {
		t.Error("words of the tall row are missing or out of order")
	}
}

func TestTableRefusals(t *testing.T) {
	t.Parallel()
	one := []layout.Column{{Weight: 1}}
	for want, table := range map[string]layout.Table{
		"row 1 has 2 cells": {Columns: one, Rows: []layout.Row{layout.TextRow("a", "b")}},
		"no columns":        {},
		"weight 1 is 0":     {Columns: []layout.Column{{}}},
		"without a word":    {Columns: one, Rows: []layout.Row{{Cells: []layout.Cell{{Mark: layout.Inside}}}}},
		"no mark 99":        {Columns: one, Rows: []layout.Row{{Cells: []layout.Cell{{Mark: 99, Text: "x"}}}}},
		"javascript": {Columns: one, Rows: []layout.Row{{Cells: []layout.Cell{{Text: "x",
			Link: "javascript:alert(1)"}}}}},
		"names no host": {Columns: one, Rows: []layout.Row{{Cells: []layout.Cell{{Text: "x", Link: "https:///a"}}}}},
		"escape it first": {Columns: one, Rows: []layout.Row{{Cells: []layout.Cell{{Text: "x",
			Link: "https://a.example/\u0142"}}}}},
	} {
		d := layout.New(layout.Options{})
		d.Table(table)
		if _, err := d.Bytes(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	d := layout.New(layout.Options{})
	d.Table(layout.Table{Columns: one})
	d.Pairs(2)
	if _, err := d.Bytes(); err != nil {
		t.Errorf("a table without rows: %v", err)
	}
	d.Pairs(0, layout.Pair{Label: "a"})
	if _, err := d.Bytes(); err == nil {
		t.Error("0 columns of pairs are let through")
	}
}
