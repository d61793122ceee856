package pdf

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// sourceNotes number the sources of the limits: a number for a document as far
// as its figures are of one rank, time in force and confidence, and a letter
// for each place in it, so that all of this is said once.
type sourceNotes struct {
	documents []*noteDocument
	byKey     map[noteKey]*noteDocument
}

// noteKey is a source without its clause.
type noteKey struct {
	records.Source
	rank records.Rank
}

type noteDocument struct {
	noteKey
	number  int
	clauses []string
}

// unconfirmed is the one sign for a figure that is not confirmed.
const unconfirmed = "*"

// cite gives a source its number, in the order of first use: [3b], with a
// star where the figure is not confirmed.
func (n *sourceNotes) cite(s records.Source, rank records.Rank) string {
	if s.Document == "" {
		return ""
	}
	key := noteKey{s, rank}
	key.Clause = ""
	for _, d := range n.documents { // a date has a source without a rank
		if rank == "" && d.Source == key.Source {
			key.rank = d.rank
		}
	}
	d := n.byKey[key]
	if d == nil {
		d = &noteDocument{noteKey: key, number: len(n.documents) + 1}
		if n.byKey == nil {
			n.byKey = map[noteKey]*noteDocument{}
		}
		n.documents = append(n.documents, d)
		n.byKey[key] = d
	}
	at := slices.Index(d.clauses, s.Clause)
	if at < 0 {
		at = len(d.clauses)
		d.clauses = append(d.clauses, s.Clause)
	}
	return fmt.Sprintf("[%d%s]%s", d.number, letterOf(at), starOf(s))
}

// letterOf is a, b … z, aa, ab …
func letterOf(i int) string {
	if i >= 26 {
		return letterOf(i/26-1) + letterOf(i%26)
	}
	return string(rune('a' + i))
}

func starOf(s records.Source) string {
	if s.Confidence == records.Unconfirmed || s.Confidence == records.OneSource {
		return unconfirmed
	}
	return ""
}

// about says how much the figures of a document weigh.
func (d noteDocument) about() string {
	return list(present(string(d.rank), inForce(d.Source), d.confidence()), "; ")
}

// confidence says how well the figures are confirmed, where they are not.
func (d noteDocument) confidence() string {
	switch k := d.Confidence; {
	case k == records.Confirmed:
		return ""
	case k == records.Practice && d.rank == records.ByPractice:
		return "no published source"
	default:
		return string(k)
	}
}

func inForce(s records.Source) string {
	switch {
	case s.From.IsZero() && s.Until.IsZero():
		return ""
	case s.Until.IsZero():
		return "in force from " + long(s.From)
	case s.From.IsZero():
		return "in force until " + long(s.Until)
	}
	return "in force from " + long(s.From) + " until " + long(s.Until)
}

// sources prints the notes, a document a paragraph.
func (p closingPages) sources() {
	if len(p.notes.documents) == 0 {
		return
	}
	p.Heading(3, "Sources of the limits")
	for _, d := range p.notes.documents {
		spans := []layout.Span{{Text: fmt.Sprintf("%d%s\u00a0", d.number, starOf(d.Source)), Style: noteBold},
			{Text: p.line(list(present(d.Document, d.Edition), ", ")), Style: noteStyle}}
		if about := d.about(); about != "" {
			spans = append(spans, layout.Span{Text: " " + p.line(inBrackets(about)), Style: noteSlate})
		}
		between := ": "
		for i, clause := range d.clauses {
			if clause == "" && len(d.clauses) == 1 {
				break
			}
			spans = append(spans, layout.Span{Text: between, Style: noteStyle},
				layout.Span{Text: letterOf(i) + "\u00a0", Style: noteBold},
				layout.Span{Text: p.line(cmp.Or(clause, "the whole")), Style: noteStyle})
			between = "; "
		}
		p.Rich(append(spans, layout.Span{Text: ".", Style: noteStyle})...)
	}
}

// workings prints how the figures were worked out, each computation once.
func (p closingPages) workings() {
	type worked struct {
		titles []string
		lines  []string
	}
	var all []*worked
	seen, printed := map[string]*worked{}, map[string]bool{}
	for _, f := range p.doc.Findings {
		if len(f.Working) == 0 {
			continue
		}
		key := strings.Join(f.Working, "\n")
		if w := seen[key]; w != nil {
			w.titles = append(w.titles, f.Title)
			continue
		}
		w := &worked{titles: []string{f.Title}}
		for _, l := range f.Working {
			if printed[l] { // a step of an earlier one
				l = "as above;"
			}
			if n := len(w.lines); n == 0 || w.lines[n-1] != l {
				w.lines = append(w.lines, l)
			}
		}
		for _, l := range f.Working {
			printed[l] = true
		}
		seen[key] = w
		all = append(all, w)
	}
	if len(all) == 0 {
		return
	}
	p.Heading(3, "How the figures were worked out")
	for _, w := range all {
		if len(w.lines) == 1 && w.lines[0] == "as above;" {
			continue // its working is all there
		}
		p.Rich(layout.Span{Text: p.line(list(w.titles, ", ", " and ")) + ". ", Style: noteBold},
			layout.Span{Text: p.line(glued(strings.TrimSuffix(strings.Join(w.lines, " "), ";"))), Style: noteStyle})
	}
}
