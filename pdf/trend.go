package pdf

import (
	"strconv"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
	"gaugebook/records/gas"
)

// followed is what one visit adds to the picture over the visits. A value that
// was not read has ok false.
type followed struct {
	visit                        records.EarlierVisit
	day                          float64 // since the first visit
	pressure, maxRatio, minRatio optional
}

type optional struct {
	v  float64
	ok bool
}

// visitTrend shows working pressure and CO/CO₂ ratio over the visits, in numbers
// and as a picture. One visit alone shows no drift.
type visitTrend struct{ *printer }

func (p visitTrend) print() {
	visits := append(append([]records.EarlierVisit{}, p.doc.Earlier...),
		records.EarlierVisitOf(p.doc.Number, p.doc.Record))
	if len(visits) < 2 {
		return
	}
	var points []followed
	for _, v := range visits {
		points = append(points, followed{visit: v, day: float64(v.WorkDate.DaysSince(visits[0].WorkDate)),
			pressure: reading(v, records.ApplianceMbar),
			maxRatio: ratio(v, records.COMaxPPM, records.CO2MaxPct), minRatio: ratio(v, records.COMinPPM,
				records.CO2MinPct)})
	}
	p.Heading(3, "Over the visits")
	p.table(points)
	last := points[len(points)-1].day
	if last <= 0 {
		return
	}
	p.panel("Working pressure at the appliance, mbar", points,
		p.limitBut(records.MeterMbar.Field, "mbar", records.ApplianceMbar.Field),
		line{"", layout.White, func(f followed) optional { return f.pressure }})
	p.panel("CO/CO₂ ratio; ring: maximum rate, disc: minimum rate", points,
		p.limitOn("", records.COMaxPPM.Field, records.CO2MaxPct.Field),
		line{"maximum rate", layout.White, func(f followed) optional { return f.maxRatio }},
		line{"minimum rate", layout.Ink, func(f followed) optional { return f.minRatio }})
}

func reading(v records.EarlierVisit, f records.NumberField) optional {
	x, err := strconv.ParseFloat(v.Readings[f.Key], 64)
	return optional{x, err == nil}
}

func ratio(v records.EarlierVisit, co, co2 records.NumberField) optional {
	a, b := reading(v, co), reading(v, co2)
	if !a.ok || !b.ok {
		return optional{}
	}
	r, err := gas.RatioCOToCO2(a.v, b.v)
	return optional{r, err == nil}
}

func (p visitTrend) table(points []followed) {
	t := layout.Table{PadY: 0.8, Gap: 4, Style: noteStyle, Columns: []layout.Column{{Head: "Visit", Weight: 4.4}}}
	for _, head := range []string{"mbar", "CO max.", "CO₂ max.", "CO min.", "CO₂ min.", "Ratio max.",
		"Ratio min."} {
		t.Columns = append(t.Columns, layout.Column{Head: head, Weight: 1.75, Align: layout.Right})
	}
	for i, f := range points {
		number := f.visit.Number
		if i == len(points)-1 {
			number = "this one"
		}
		cells := []string{long(f.visit.WorkDate) + ", " + p.line(number) + ", " + string(f.visit.Purpose)}
		for _, d := range records.DriftFields {
			cells = append(cells, p.line(f.visit.Readings[d.Key]))
		}
		for _, r := range []optional{f.maxRatio, f.minRatio} {
			text := ""
			if r.ok {
				text = records.FormatNumber(r.v, 4)
			}
			cells = append(cells, text)
		}
		t.Rows = append(t.Rows, layout.TextRow(cells...))
	}
	p.Table(t)
}

// line is one run of points of a panel.
type line struct {
	name  string
	fill  layout.Colour
	value func(followed) optional
}

const trendHeight = 78

// panel draws one quantity against time.
func (p visitTrend) panel(title string, points []followed, limit *records.Limit, lines ...line) {
	lo, hi, any := 0.0, 0.0, false
	grow := func(v float64) {
		if !any {
			lo, hi, any = v, v, true
		}
		lo, hi = min(lo, v), max(hi, v)
	}
	for _, l := range lines {
		for _, f := range points {
			if o := l.value(f); o.ok {
				grow(o.v)
			}
		}
	}
	if !any {
		return
	}
	var edges []float64
	if limit != nil {
		for _, e := range []*float64{limit.Low, limit.High} {
			if e != nil {
				grow(*e)
				edges = append(edges, *e)
			}
		}
	}
	room := max((hi-lo)*0.1, 1e-4)
	p.Space(4)
	p.KeepTogether(func() {
		p.Paragraph(tickStyle, title)
		p.Described("Plot over the visits: "+title, func() {
			p.Figure(trendHeight, func(f *layout.Figure) {
				ys, decimals := ticks(max(0, lo-room), hi+room, 5)
				last := points[len(points)-1].day
				f.Window(0, last, ys[0], ys[len(ys)-1], layout.Inset{Left: 34, Top: 6, Right: 14, Bottom: 16})
				drawTrend(f, points, ys, decimals, edges, lines)
			})
		})
	})
}

func drawTrend(f *layout.Figure, points []followed, ys []float64, decimals int, edges []float64, lines []line) {
	last := points[len(points)-1].day
	for _, y := range ys {
		f.Line(0, y, last, y, gridPen)
		f.Text(0, y, -7, 3, tickStyle.Aligned(layout.Right), records.FormatNumber(y, decimals))
	}
	f.Line(0, ys[0], last, ys[0], axisPen)
	for _, e := range edges {
		f.Line(0, e, last, e, limitPen)
	}
	perDay := (f.W - 48) / last
	labelled := last*perDay + 44 // the last visit is always named
	for i := len(points) - 1; i >= 0; i-- {
		if at := points[i].day * perDay; labelled-at >= 44 {
			labelled = at
			d := points[i].visit.WorkDate
			f.Text(points[i].day, ys[0], 0, 11, tickStyle.Aligned(layout.Centre),
				strings.ReplaceAll(d.Time().Format("Jan 2006"), " ", "\u00a0"))
		}
	}
	for _, l := range lines {
		var run []layout.Point
		for _, q := range points {
			if o := l.value(q); o.ok {
				run = append(run, layout.Point{X: q.day, Y: o.v})
			}
		}
		f.Polyline(linePen, run...)
		for _, q := range run {
			dot(f, q.X, q.Y, l.fill)
		}
	}
}
