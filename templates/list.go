package templates

import (
	"fmt"
	"html/template"
	"strings"
)

// listFuncs make what the partials of lists take.
var listFuncs = template.FuncMap{
	"link": func(href string, title any, notes ...any) link { return linkTo("", href, title, notes...) },
	// With a word or two at the end of the line.
	"linkTo": linkTo,
	"judged": judged,
	"led":    led,
	"heads":  headsOf,
	"table":  func(label string, heads ...string) table { return table{label, headsOf(heads...)} },
	"row":    func(label any, cells ...any) row { return row{label, cells} },
	"once":   func(what, text any, hint string) once { return once{fmt.Sprint(what), fmt.Sprint(text), hint} },
}

// link is a line of a list that leads to a page.
type link struct {
	Href, Title string
	Notes       []string // below the title, a line each
	Outcome     string   // of what it leads to, with its shape
	End         string   // words at the end of the line
}

func linkTo(end any, href string, title any, notes ...any) link {
	l := link{Href: href, Title: fmt.Sprint(title), End: fmt.Sprint(end)}
	for _, n := range notes {
		if text := fmt.Sprint(n); text != "" {
			l.Notes = append(l.Notes, text)
		}
	}
	return l
}

// judged is linkTo with an outcome or a state before the words.
func judged(outcome, end any, href string, title any, notes ...any) link {
	l := linkTo(end, href, title, notes...)
	l.Outcome = fmt.Sprint(outcome)
	return l
}

// led puts words before a text, unless it is blank.
func led(words string, text any) string {
	if s := fmt.Sprint(text); s != "" {
		return words + s
	}
	return ""
}

// table is how a table begins.
type table struct {
	Label string
	Heads []head
}

type head struct {
	Text    string
	Figures bool // of a column of figures
}

// headsOf are the heads of columns. One that ends in # is over figures.
func headsOf(texts ...string) []head {
	heads := make([]head, len(texts))
	for i, text := range texts {
		heads[i].Text, heads[i].Figures = strings.CutSuffix(text, "#")
	}
	return heads
}

type row struct {
	Label any
	Cells []any
}

// once is something that is shown now and never again.
type once struct{ What, Text, Hint string }
