// Package chart draws numbers as SVG. A chart is as wide as a phone in its own
// units and grows from there, so that its words are never smaller than about
// eleven pixels. Each has a title and a description, tells its parts by fill as
// well as by colour, and stands beside a table that says the same.
package chart

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"gaugebook/records"
)

// width is the width of every chart in units of its own.
const width = 340

// drawing collects the parts of a chart.
type drawing struct{ strings.Builder }

func (d *drawing) add(format string, args ...any) { fmt.Fprintf(d, format, args...) }

// text writes words; class is middle, end or blank, with tones of the sheet.
func (d *drawing) text(x, y float64, class, words string) {
	d.add(`<text x="%s" y="%s" class="%s">%s</text>`, unit(x), unit(y), class, template.HTMLEscapeString(words))
}

// unit writes a length; NaN and infinity, a fault of the caller, are drawn as 0.
func unit(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0
	}
	return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
}

// drawn closes the drawing. The id tells the charts of one page apart.
func (d *drawing) drawn(id, title, description string, height float64) template.HTML {
	esc := template.HTMLEscapeString
	return template.HTML( //nolint:gosec // all words are escaped
		fmt.Sprintf(`<svg class="chart" viewBox="0 0 %d %s" role="img" aria-labelledby="%s-t %s-d">`, width,
			unit(height), id, id) +
			fmt.Sprintf(`<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`, id, esc(title), id, esc(description)) +
			d.String() + `</svg>`)
}

// Month is one bar of what is due.
type Month struct {
	Label             string
	Late, Near, Ahead int
}

func (b Month) total() int { return b.Late + b.Near + b.Ahead }

// Due draws a bar for each month, in parts by how the duties stand: late
// is solid, near is hatched, ahead is an outline.
func Due(id string, bars []Month) template.HTML {
	const left, right, row, top = 74.0, 44.0, 20.0, 4.0
	most := 1
	for _, b := range bars {
		most = max(most, b.total())
	}
	c := &drawing{}
	c.add(`<defs><pattern id="%s-near" width="5" height="5" patternUnits="userSpaceOnUse" `+
		`patternTransform="rotate(45)"><path class="hatch" d="M0 0V5"/></pattern></defs>`, id)
	room := float64(width) - left - right
	for i, b := range bars {
		y := top + float64(i)*row
		c.text(left-6, y+13, "end", b.Label)
		x := left
		for _, part := range []struct {
			class string
			n     int
		}{{"late", b.Late}, {"near", b.Near}, {"ahead", b.Ahead}} {
			if part.n == 0 {
				continue
			}
			w := max(room*float64(part.n)/float64(most), 1.5)
			fill := ""
			if part.class == "near" {
				fill = fmt.Sprintf(` fill="url(#%s-near)"`, id)
			}
			c.add(`<rect class="%s"%s x="%s" y="%s" width="%s" height="13"/>`, part.class, fill, unit(x), unit(y+2),
				unit(w))
			x += w
		}
		c.text(x+5, y+13, "figure", records.FormatNumber(float64(b.total()), 0))
	}
	c.add(`<path class="axis" d="M%s 0V%s"/>`, unit(left), unit(top+float64(len(bars))*row))
	return c.drawn(id, "What falls due, by month",
		"A bar for each month. Late is solid, near is hatched, ahead is an outline. The table below says the same.",
		top+float64(len(bars))*row+2)
}

// Share is one share: so many of so many.
type Share struct {
	Label    string
	Part, Of int
}

// percent is the share; 0 of 0 is 0.
func (b Share) percent() float64 {
	if b.Of <= 0 {
		return 0
	}
	return 100 * float64(b.Part) / float64(b.Of)
}

// Percent writes the share, in whole per cent.
func (b Share) Percent() string { return records.FormatNumber(b.percent(), 0) + " %" }

// Shares draws each share as the level in a tube.
func Shares(id, title string, bars []Share) template.HTML {
	const row = 36.0
	c := &drawing{}
	for i, b := range bars {
		y := float64(i) * row
		c.text(0, y+13, "", records.Shorten(b.Label, 32))
		c.text(width, y+13, "end figure", fmt.Sprintf("%d of %d", b.Part, b.Of))
		c.add(`<rect class="tube" x="0.5" y="%s" width="%d" height="9"/>`, unit(y+19), width-1)
		if w := (width - 1) * b.percent() / 100; w > 0 {
			c.add(`<rect class="level" x="0.5" y="%s" width="%s" height="9"/>`, unit(y+19), unit(w))
		}
	}
	return c.drawn(id, title, "For each, how many of the records were clear: the tube is all of them, the level the "+
		"clear ones. The table below says the same.", float64(len(bars))*row)
}

// Point is one reading of a visit; Day counts from the first visit.
type Point struct {
	Day   float64
	Value float64
}

// Line is one run of readings. A ring or a disc tells two runs apart.
type Line struct {
	Name   string
	Disc   bool
	Points []Point
}

// Drift draws readings over visits: days to the right, from first to
// last, values from 0 upwards.
func Drift(id, title string, first, last records.Date, lines []Line) template.HTML {
	const left, right, top, bottom, height = 52.0, 12.0, 8.0, 22.0, 150.0
	days, most := max(float64(last.DaysSince(first)), 1), 0.0
	for _, l := range lines {
		for _, p := range l.Points {
			most = max(most, p.Value)
		}
	}
	step := tickStep(most / 4)
	decimals := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	highest := max(math.Ceil(most/step-1e-9), 1) * step
	at := func(p Point) (x, y float64) {
		return left + (width-left-right)*p.Day/days, top + (height-top-bottom)*(1-p.Value/highest)
	}
	c := &drawing{}
	for v := 0.0; v <= highest*1.0001; v += step {
		_, y := at(Point{0, v})
		c.add(`<path class="grid" d="M%s %sH%d"/>`, unit(left), unit(y), width-int(right))
		c.text(left-6, y+4, "end figure", records.FormatNumber(v, decimals))
	}
	c.text(left, height-6, "", monthWords(first))
	c.text(width-right, height-6, "end", monthWords(last))
	for _, l := range lines {
		path := ""
		for i, p := range l.Points {
			x, y := at(p)
			path += map[bool]string{true: "M", false: "L"}[i == 0] + unit(x) + " " + unit(y)
		}
		if len(l.Points) > 1 {
			c.add(`<path class="run" d="%s"/>`, path)
		}
		for _, p := range l.Points {
			x, y := at(p)
			c.add(`<circle class="%s" cx="%s" cy="%s" r="4"/>`, map[bool]string{true: "disc", false: "ring"}[l.Disc],
				unit(x), unit(y))
		}
	}
	var words []string
	for _, l := range lines {
		if l.Name != "" {
			words = append(words, map[bool]string{true: "disc: ", false: "ring: "}[l.Disc]+l.Name)
		}
	}
	desc := "A point for each visit, from " + first.Long() + " to " + last.Long() + ". The table below says the same."
	if words != nil {
		desc = records.UpperFirst(strings.Join(words, "; ")) + ". " + desc
	}
	return c.drawn(id, title, desc, height)
}

// tickStep is the round step, 1, 2 or 5 times a power of ten, that is no less
// than the one asked for; 1 where nothing is to be shown.
func tickStep(least float64) float64 {
	if !(least > 0) || math.IsInf(least, 0) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= least*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// monthWords writes a month as an axis shows it.
func monthWords(d records.Date) string { return d.Time().Format("Jan 2006") }
