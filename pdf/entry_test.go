package pdf_test

import (
	"strings"
	"testing"

	"gaugebook/records"
)

// judged adds a finding in a section on fields.
func judged(doc *records.Document, section records.SectionID, title, reading string, working []string,
	fs ...*records.Field) {
	doc.Findings = append(doc.Findings, records.Finding{Rule: string(section) + ".added", Section: section,
		Title: title, Outcome: records.Inside,
		Reading: reading, Reason: "it is so", Working: working, Fields: keys(fs...)})
}

// TestValueShownOnce: what a finding shows as found is not entered again, and
// what only looks the same is.
func TestValueShownOnce(t *testing.T) {
	t.Parallel()
	letBy, watched := records.LetByPressureMbar.Field, records.LetByMinutes.Field
	for name, c := range map[string]struct {
		add  func(*records.Document)
		both bool // printed as an entry as well
	}{
		"no finding": {func(*records.Document) {}, true},
		"the one value": {func(d *records.Document) {
			judged(d, "tightness", "Gauge", "10.0 mbar", nil, letBy)
		}, false},
		"one of two": {func(d *records.Document) {
			judged(d, "tightness", "Gauge", "10.0 mbar", nil, letBy, watched)
		}, false},
		"worked out": {func(d *records.Document) {
			judged(d, "tightness", "Gauge", "10.0 mbar", []string{"1 = 1"}, letBy, watched)
		}, true},
		"other decimals": {func(d *records.Document) { judged(d, "tightness", "Gauge", "10 mbar", nil, letBy) }, true},
		"another section": {func(d *records.Document) {
			judged(d, "pressure", "Gauge", "10.0 mbar", nil, letBy)
		}, true},
		"not read by it": {func(d *records.Document) {
			judged(d, "tightness", "Gauge", "10.0 mbar", nil, watched)
		}, true},
		"two of one value": {func(d *records.Document) {
			d.Record.Values.Put(records.TestPressureMbar.Field, "10.0")
			judged(d, "tightness", "Gauge", "10.0 mbar", nil, letBy, records.TestPressureMbar.Field)
		}, true},
	} {
		doc := draft(t)
		c.add(&doc)
		path := save(t, render(t, doc))
		if got := strings.Contains(words(t, path), "Let-by pressure 10.0 mbar"); got != c.both {
			t.Errorf("%s: printed among what was entered: %v, want %v", name, got, c.both)
		}
		checkValues(t, doc, path)
	}
}

// TestReasonOfInside: a sentence that only says again that a check is inside
// is left out, and one that says more is not.
func TestReasonOfInside(t *testing.T) {
	t.Parallel()
	for reason, printed := range map[string]bool{
		"Only that it is inside": false, "In calibration; due on 4 May 2027": true,
		"No range is stated; nothing out of the ordinary": true,
	} {
		doc := draft(t)
		doc.Findings = append(doc.Findings, records.Finding{Rule: "flue.x", Section: "flue", Title: "Added",
			Outcome: records.Inside, Reading: "yes", Reason: reason})
		if got := strings.Contains(words(t, save(t, render(t, doc))), reason); got != printed {
			t.Errorf("%q is printed: %v, want %v", reason, got, printed)
		}
		doc.Findings[len(doc.Findings)-1].Outcome = records.Doubtful
		if !strings.Contains(words(t, save(t, render(t, doc))), reason) {
			t.Errorf("%q of a doubtful finding is not printed", reason)
		}
	}
}

func TestContactDetailsAreNotPrinted(t *testing.T) {
	t.Parallel()
	for _, k := range kinds {
		doc := k.make(t)
		text := words(t, save(t, render(t, doc)))
		for _, w := range []string{doc.Record.Contact.Email, doc.Record.Contact.Phone} {
			if w != "" && strings.Contains(text, w) {
				t.Errorf("%s: %q is printed", k.name, w)
			}
		}
	}
}

func TestPrintedLabelsAreOfFields(t *testing.T) {
	t.Parallel()
	text := words(t, save(t, render(t, clear(t))))
	for _, w := range []string{"Kind of gauge Electronic, 0.1 mbar or finer",
		"CO₂ of the analyser Calculated from oxygen", "At minimum rate Readings taken"} {
		if !strings.Contains(text, w) {
			t.Errorf("%q is not in the text", w)
		}
	}
}
