package chart

import (
	"encoding/xml"
	"errors"
	"html/template"
	"io"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gaugebook/records"
)

// wellFormed reads a chart as XML and returns its words. It fails for an
// attribute that the content policy refuses and for a number that is none.
func wellFormed(t *testing.T, svg template.HTML) string {
	t.Helper()
	dec, words := xml.NewDecoder(strings.NewReader(string(svg))), ""
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, svg)
		}
		switch x := tok.(type) {
		case xml.CharData:
			words += string(x) + " "
		case xml.StartElement:
			for _, a := range x.Attr {
				if a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") ||
					strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Errorf("<%s %s=%q>", x.Name.Local, a.Name.Local, a.Value)
				}
			}
		}
	}
	if !strings.Contains(string(svg), `role="img"`) || !strings.Contains(string(svg), "<title") ||
		!strings.Contains(string(svg), "<desc") {
		t.Errorf("no name or description: %s", svg)
	}
	return words
}

func rects(svg template.HTML, class string) (widths []float64) {
	for _, m := range regexp.MustCompile(`<rect class="`+class+
		`"[^>]* width="([0-9.]+)"`).FindAllStringSubmatch(string(svg), -1) {
		w, _ := strconv.ParseFloat(m[1], 64)
		widths = append(widths, w)
	}
	return widths
}

func TestDueChart(t *testing.T) {
	svg := Due("due", []Month{{"before", 30, 0, 0}, {"Nov <2026>", 5, 10, 0}, {"Dec 2026", 0, 0, 60},
		{"Jan 2027", 0, 0, 0}})
	words := wellFormed(t, svg)
	for _, w := range []string{"before", "30", "Nov <2026>", "15", "Dec 2026", "60", "Jan 2027"} {
		if !strings.Contains(words, w) {
			t.Errorf("no %q in %q", w, words)
		}
	}
	late, near, ahead := rects(svg, "late"), rects(svg, "near"), rects(svg, "ahead")
	if len(late) != 2 || len(near) != 1 || len(ahead) != 1 {
		t.Fatalf("parts %v %v %v", late, near, ahead)
	}
	if math.Abs(late[0]/ahead[0]-0.5) > 0.01 || math.Abs(near[0]/late[1]-2) > 0.01 {
		t.Errorf("widths %v %v %v are not as 30, 5, 10 and 60", late, near, ahead)
	}
	wellFormed(t, Due("due", nil))
}

func TestShareChart(t *testing.T) {
	svg := Shares("share", "Clear & first-time", []Share{{"Maud <b>", 3, 4}, {strings.Repeat("x", 90), 0, 0},
		{"Piers", 5, 5}})
	words := wellFormed(t, svg)
	if !strings.Contains(words, "3 of 4") || !strings.Contains(words, "Maud <b>") ||
		strings.Contains(words, strings.Repeat("x", 40)) {
		t.Error(words)
	}
	tubes, levels := rects(svg, "tube"), rects(svg, "level")
	if len(tubes) != 3 || len(levels) != 2 || math.Abs(levels[0]/tubes[0]-0.75) > 0.01 ||
		math.Abs(levels[1]-tubes[2]) > 0.1 {
		t.Errorf("tubes %v, levels %v", tubes, levels)
	}
}

// Every point of a drift chart lies within it, whatever is drawn.
func TestDriftChart(t *testing.T) {
	first, last := records.MustDate("2022-05-01"), records.MustDate("2026-05-01")
	at := regexp.MustCompile(`cx="([0-9.-]+)" cy="([0-9.-]+)"`)
	rng := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		scale := math.Pow(10, rng.Float64()*8-5)
		var line Line
		for range rng.IntN(7) {
			line.Points = append(line.Points, Point{rng.Float64() * 1461, rng.Float64() * scale})
		}
		svg := Drift("d", "Ratio", first, last, []Line{line})
		wellFormed(t, svg)
		points := at.FindAllStringSubmatch(string(svg), -1)
		if len(points) != len(line.Points) {
			t.Fatalf("%d points of %d", len(points), len(line.Points))
		}
		for i, p := range points {
			x, _ := strconv.ParseFloat(p[1], 64)
			y, _ := strconv.ParseFloat(p[2], 64)
			if x < 50 || x > width || y < 0 || y > 130 {
				t.Fatalf("point %v of %+v", p, line)
			}
			for j, q := range line.Points {
				other, _ := strconv.ParseFloat(points[j][2], 64)
				if q.Value > line.Points[i].Value+scale/20 && other >= y {
					t.Fatalf("a higher value is not drawn higher: %v", line)
				}
			}
		}
	}
	for _, svg := range []template.HTML{Drift("d", "x", first, first, nil),
		Drift("d", "x", first, last, []Line{{"a", true, []Point{{0, 0}}}})} {
		wellFormed(t, svg)
	}
	if words := wellFormed(t, Drift("d", "x", first, last, []Line{{"minimum rate", true, nil},
		{"maximum rate", false, nil}})); !strings.Contains(words, "Disc: minimum rate; ring: maximum rate") {
		t.Error(words)
	}
}

func TestTickStep(t *testing.T) {
	for least, want := range map[float64]float64{0: 1, -1: 1, math.NaN(): 1, math.Inf(1): 1, 0.0004: 0.0005,
		0.0011: 0.002, 1: 1, 3: 5, 7: 10, 20: 20} {
		if got := tickStep(least); math.Abs(got-want) > want*1e-9 {
			t.Errorf("tickStep(%v) = %v, want %v", least, got, want)
		}
	}
}
