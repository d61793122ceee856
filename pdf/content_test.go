package pdf_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"gaugebook/pdf/layout"
	"gaugebook/records"
	"gaugebook/records/rules"
)

// TestOurTextPrints goes over every text of ours that may be printed: none may
// need a sign that no font holds.
func TestOurTextPrints(t *testing.T) {
	t.Parallel()
	n := 0
	check := func(where string, texts ...string) {
		for _, s := range texts {
			n++
			if _, missing := layout.Printable(s); len(missing) > 0 {
				t.Errorf("%s: %q needs %q", where, s, missing)
			}
		}
	}
	var field func(f *records.Field)
	field = func(f *records.Field) {
		check(f.Key, f.Label, f.Unit, f.Hint)
		for _, c := range f.Choices {
			check(f.Key, c.Label)
		}
		for _, c := range f.Columns {
			field(c)
		}
	}
	for _, s := range records.Sections {
		check(string(s.ID), s.Title, s.Intro)
		for _, g := range s.Groups {
			check(string(s.ID), g.Title, g.Intro)
		}
		for _, f := range s.Fields() {
			field(f)
		}
	}
	for _, r := range rules.All() {
		check(r.ID, r.Title, r.Explains)
		for _, l := range r.Limits {
			check(r.ID, l.Text, l.Unit, string(l.Rank), l.Source.String(), string(l.Source.Confidence))
		}
		f := rules.Example(r.ID)
		check(r.ID, append(f.Working, f.Reading, f.Reason)...)
	}
	if n < 500 {
		t.Errorf("only %d texts were looked at", n)
	}
}

var claims = regexp.MustCompile(`(?i)[^.]*\bsafe(ly)?\b[^.]*\.`)

func TestNeverSaysSafe(t *testing.T) {
	t.Parallel()
	for _, k := range kinds {
		text := words(t, save(t, render(t, k.make(t))))
		found := claims.FindAllString(text, -1)
		if len(found) != 1 || !strings.Contains(found[0], "does not say that the appliance is safe") {
			t.Errorf("%s speaks of safe: %q", k.name, found)
		}
	}
}

func firstPage(t *testing.T, doc records.Document) string {
	t.Helper()
	return words(t, save(t, render(t, doc)), "-l", "1")
}

// TestEmergencyNumbers: numbers of Great Britain from the Health and Safety
// Executive's emergency contacts; of Northern Ireland from memory,
// unconfirmed.
func TestEmergencyNumbers(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		nation records.Nation
		fuel   string
		want   []string
		not    []string
	}{
		{records.England, records.FuelNatural, []string{"0800 111 999"}, []string{"0800 002 001", "LPG"}},
		{records.Wales, records.FuelNatural, []string{"0800 111 999"}, []string{"0800 002 001"}},
		{records.Scotland, records.FuelNatural, []string{"0800 111 999"}, []string{"0800 002 001"}},
		{records.NorthernIreland, records.FuelNatural,
			[]string{"0800 002 001", "Compare this number with your gas supplier’s"}, []string{"0800 111 999"}},
		{records.NorthernIreland, records.FuelPropane, []string{"LPG supplier’s emergency number",
			"storage vessel or the cylinder store"}, []string{"0800 111 999", "0800 002 001"}},
		{records.England, records.FuelButane, []string{"LPG supplier’s emergency number",
			"If you cannot find it, call 0800 111 999"}, nil},
		{records.England, "", []string{"0800 111 999", "If you burn LPG"}, nil},
	} {
		doc := draft(t)
		doc.Record.Property.Nation = c.nation
		delete(doc.Record.Values, records.ApplianceFuel.Key)
		if c.fuel != "" {
			doc.Record.Values.Put(records.ApplianceFuel.Field, c.fuel)
		}
		text := firstPage(t, doc)
		for _, w := range append(c.want, "carbon monoxide alarm sounds", "emergency control valve",
			"doors and windows", "call from outside", "999") {
			if !strings.Contains(text, w) {
				t.Errorf("%s, %q: page one lacks %q", c.nation, c.fuel, w)
			}
		}
		for _, w := range c.not {
			if strings.Contains(text, w) {
				t.Errorf("%s, %q: page one says %q", c.nation, c.fuel, w)
			}
		}
	}
}

func TestOutcomeOnPageOne(t *testing.T) {
	t.Parallel()
	off := adverse(t)
	observed := failing(t)
	for i := range observed.Record.Condition.Entries {
		observed.Record.Condition.Entries[i].Class = records.Observation
	}
	apply := 0
	for _, f := range observed.Findings {
		if f.Outcome != records.Exempt {
			apply++
		}
	}
	open := draft(t)
	open.Findings[1].Outcome = records.Missing
	bare := draft(t)
	bare.Findings = nil
	for name, c := range map[string]struct {
		doc   records.Document
		words []string
	}{
		"clear": {clear(t), []string{"All 7 checks were inside their limits.",
			"On 4 March 2026, the day of the visit."}},
		"left off": {off, []string{"Do not use this boiler", "left turned off or disconnected, with a label",
			"Of 7 checks, 2 were outside their limits and 1 could not be judged because something is missing; 4 inside.",
			"Drop in the tightness test: 5.1 mbar, outside.", "immediately dangerous",
			"Traced to the union below the meter.", "Appliance disconnected and a plug fitted.",
			"Małgorzata Żółkiewska, in person, with a written notice left in the kitchen.", "0800 111 999"}},
		"at risk, not turned off": {failing(t), []string{"Do not use this boiler", "It was found at risk on",
			"more findings not settled", "0800 111 999"}},
		"observed": {sealed(t, observed), []string{"Something needs attention",
			fmt.Sprintf("Of %d checks", apply), "observation"}},
		"nothing judged": {bare, []string{"Not everything could be judged",
			"No reading has been held against a limit."}},
		"missing": {open, []string{"Not everything could be judged", "No answer to this is on record yet."}},
	} {
		text := firstPage(t, c.doc)
		for _, w := range c.words {
			if !strings.Contains(text, w) {
				t.Errorf("%s: page one lacks %q:\n%s", name, w, text)
			}
		}
		if name != "clear" && strings.Contains(text, "All 7") {
			t.Errorf("%s: page one says that all is inside", name)
		}
	}
}

func TestAmendmentNamesWhatItReplaces(t *testing.T) {
	t.Parallel()
	doc := clear(t)
	doc.Record.Replaces, doc.Record.AmendReason = "2026-00041", "Serial number misread"
	text := firstPage(t, sealed(t, doc))
	if !strings.Contains(text, "It replaces record 2026-00041. Reason: Serial number misread.") {
		t.Errorf("page one: %s", text)
	}
}

// TestNewSectionNeedsNoCode prints a section of every kind of field that this
// package has never heard of.
func TestNewSectionNeedsNoCode(t *testing.T) {
	fs := []*records.Field{
		{Key: "novel.number", Label: "Flow of custard", Kind: records.NumberKind, Unit: "l/min", Max: 100, Decimals: 2},
		{Key: "novel.choice", Label: "Colour of it", Kind: records.ChoiceKind,
			Choices: []records.Choice{{Code: "y", Label: "Saffron yellow"}}},
		{Key: "novel.flag", Label: "Lumpy", Kind: records.FlagKind},
		{Key: "novel.text", Label: "Spoon", Kind: records.TextKind, MaxLen: 40},
		{Key: "novel.notes", Label: "Thoughts", Kind: records.NotesKind, MaxLen: 400},
		{Key: "novel.clock", Label: "Tasted at", Kind: records.ClockKind},
		{Key: "novel.ink", Label: "Cook's signature", Kind: records.StrokesKind, MaxLen: 400},
	}
	rows := records.RowsField{Field: &records.Field{Key: "novel.rows", Label: "Bowls", Kind: records.RowsKind,
		MaxRows: 5,
		Columns: []*records.Field{{Key: "size_mm", Label: "Size", Unit: "mm", Kind: records.NumberKind, Max: 900},
			{Key: "cracked", Label: "Cracked", Kind: records.FlagKind}}}}
	old := records.Sections
	t.Cleanup(func() { records.Sections = old })
	records.Sections = append(append([]*records.Section{}, old...), &records.Section{ID: "novel",
		Title:  "Pudding course",
		Groups: []records.Group{{Title: "On the table", Fields: append(fs, rows.Field)}}})
	doc := draft(t)
	for i, entry := range []string{"12.50", "y", "no", "Silver", "Too sweet\nfor me", "18:45", "M1,1 L90,40"} {
		doc.Record.Values.Put(fs[i], entry)
	}
	doc.Record.Values.PutRows(rows, map[string]string{"size_mm": "245", "cracked": "yes"})
	doc.Findings = append(doc.Findings, records.Finding{Rule: "novel.rule", Section: "novel", Title: "Custard sets",
		Outcome: records.Doubtful, Reading: "12.5 l/min"},
		records.Finding{Rule: "gone.rule", Section: "gone", Title: "Of a section that is no more",
			Outcome: records.Inside})
	path := save(t, render(t, doc))
	checkPages(t, path)
	checkValues(t, doc, path)
	text := words(t, path)
	for _, w := range []string{"Pudding course", "On the table", "12.50 l/min", "Saffron yellow", "Too sweet for me",
		"18:45", "Size, mm", "245", "Cook's signature", "Custard sets", "doubtful", "Other checks",
		"Of a section that is no more"} {
		if !strings.Contains(text, w) {
			t.Errorf("%q is not in the text", w)
		}
	}
}
