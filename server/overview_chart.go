package server

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"gaugebook/records"
)

// Charts are SVG drawn here, from numbers alone. A chart is as wide as a
// phone in its own units and grows from there, so that its words are never
// smaller than about eleven pixels. Each has a title and a description, tells
// its parts by fill as well as by colour, and stands beside a table that says
// the same.

// chartWidth is the width of every chart in units of its own.
const chartWidth = 340

// chart collects the drawing.
type chart struct{ strings.Builder }

func (c *chart) add(format string, args ...any) { fmt.Fprintf(c, format, args...) }

// text writes words; class is middle, end or blank, with tones of the sheet.
func (c *chart) text(x, y float64, class, words string) {
	c.add(`<text x="%s" y="%s" class="%s">%s</text>`, unit(x), unit(y), class, template.HTMLEscapeString(words))
}

// unit writes a length; a length that is none is a fault of the caller and
// drawn as nought.
func unit(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0
	}
	return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
}

// drawn closes the drawing. The id tells the charts of one page apart.
func (c *chart) drawn(id, title, description string, height float64) template.HTML {
	esc := template.HTMLEscapeString
	return template.HTML(fmt.Sprintf(`<svg class="chart" viewBox="0 0 %d %s" role="img" aria-labelledby="%s-t %s-d"><title id="%s-t">%s</title><desc id="%s-d">%s</desc>%s</svg>`,
		//nolint:gosec // all words are escaped above
		chartWidth, unit(height), id, id, id, esc(title), id, esc(description), c.String()))
}

// monthBar is one bar of what is due.
type monthBar struct {
	Label             string
	Late, Near, Ahead int
}

func (b monthBar) total() int { return b.Late + b.Near + b.Ahead }

// dueChart draws a bar for each month, in parts by how the duties stand: late
// is solid, near is hatched, ahead is an outline.
func dueChart(id string, bars []monthBar) template.HTML {
	const left, right, row, top = 74.0, 44.0, 20.0, 4.0
	most := 1
	for _, b := range bars {
		most = max(most, b.total())
	}
	c := &chart{}
	c.add(`<defs><pattern id="%s-near" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0V5"/></pattern></defs>`, id)
	width := float64(chartWidth) - left - right
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
			w := max(width*float64(part.n)/float64(most), 1.5)
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

// shareBar is one share: so many of so many.
type shareBar struct {
	Label    string
	Part, Of int
}

// percent is the share; nought of nought is nought.
func (b shareBar) percent() float64 {
	if b.Of <= 0 {
		return 0
	}
	return 100 * float64(b.Part) / float64(b.Of)
}

// shareChart draws each share as the level in a tube.
func shareChart(id, title string, bars []shareBar) template.HTML {
	const row = 36.0
	c := &chart{}
	for i, b := range bars {
		y := float64(i) * row
		c.text(0, y+13, "", records.Shorten(b.Label, 32))
		c.text(chartWidth, y+13, "end figure", fmt.Sprintf("%d of %d", b.Part, b.Of))
		c.add(`<rect class="tube" x="0.5" y="%s" width="%d" height="9"/>`, unit(y+19), chartWidth-1)
		if w := (chartWidth - 1) * b.percent() / 100; w > 0 {
			c.add(`<rect class="level" x="0.5" y="%s" width="%s" height="9"/>`, unit(y+19), unit(w))
		}
	}
	return c.drawn(id, title, "For each, how many of the records were clear: the tube is all of them, the level the "+
		"clear ones. The table below says the same.", float64(len(bars))*row)
}

// driftPoint is one reading of a visit; Day counts from the first visit.
type driftPoint struct {
	Day   float64
	Value float64
}

// driftLine is one run of readings. A ring or a disc tells two runs apart.
type driftLine struct {
	Name   string
	Disc   bool
	Points []driftPoint
}

// driftChart draws readings over visits: days to the right, from first to
// last, values from nought upwards.
func driftChart(id, title string, first, last records.Date, lines []driftLine) template.HTML {
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
	at := func(p driftPoint) (x, y float64) {
		return left + (chartWidth-left-right)*p.Day/days, top + (height-top-bottom)*(1-p.Value/highest)
	}
	c := &chart{}
	for v := 0.0; v <= highest*1.0001; v += step {
		_, y := at(driftPoint{0, v})
		c.add(`<path class="grid" d="M%s %sH%d"/>`, unit(left), unit(y), chartWidth-int(right))
		c.text(left-6, y+4, "end figure", records.FormatNumber(v, decimals))
	}
	c.text(left, height-6, "", monthOf(first))
	c.text(chartWidth-right, height-6, "end", monthOf(last))
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

func monthOf(d records.Date) string { return d.Time().Format("Jan 2006") }
