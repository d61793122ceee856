package pdf_test

import (
	"strings"
	"testing"

	"gaugebook/pdf"
	"gaugebook/records"
)

func notice(t *testing.T, doc records.Document) string {
	t.Helper()
	file, err := pdf.ConditionReport(doc)
	if err != nil {
		t.Fatal(err)
	}
	keep(t, t.Name(), file)
	path := save(t, file)
	checkPages(t, path)
	return path
}

func wants(t *testing.T, name, text string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(text, w) {
			t.Errorf("%s lacks %q", name, w)
		}
	}
}

func TestConditionReport(t *testing.T) {
	t.Parallel()
	doc := adverse(t)
	path := notice(t, doc)
	all := words(t, path)
	wants(t, "the notice", all, "Do not use this gas appliance", "Harrowgate Brassmere 24c", "HG-24C-0091-7734",
		"Kitchen, north wall", "14 Tallow Row",
		"Copperlea Heating", "01632 960045", "REG-120774", "LIC-448120", "4 March 2026", "0800 111 999",
		"Record 2026-00042",
		"Permission was given.", "Told: Małgorzata Żółkiewska, in person, with a written notice left in the kitchen.",
		"What to do now", "Leave the label on",
		"Received and understood by", "Engineer")
	for _, e := range doc.Record.Condition.Entries {
		wants(t, "the notice", all, e.Found, e.Done)
	}
	wants(t, "the notice", all, "Immediately dangerous:", "At risk:", "Observation:")
	labels := words(t, path, "-f", itoa(len(pages(t, path))))
	if n := strings.Count(labels, "DO NOT USE"); n != 2 || strings.Count(labels, "immediately dangerous") != 2 {
		t.Errorf("%d labels in the gravest class, want 2: %s", n, labels)
	}
	if strings.Contains(all, doc.Record.Contact.Email) {
		t.Error("the notice carries the customer's e-mail")
	}
}

func TestConditionReportStates(t *testing.T) {
	t.Parallel()
	doc := adverse(t)
	doc.Record.Condition.LeftOff, doc.Record.Condition.Refused = false, true
	wants(t, "refused", words(t, notice(t, sealed(t, doc))), "refused", "the gas emergency service is told")
	doc.Record.Condition.Refused, doc.Record.Condition.Told, doc.Record.Condition.ToldHow = false, "", ""
	wants(t, "nothing known", words(t, notice(t, sealed(t, doc))), "not on record yet", "Told, and how:")
	doc.Record.Values.Put(records.NobodyPresent.Field, "yes")
	wants(t, "nobody there", words(t, notice(t, sealed(t, doc))), "this notice was left on site")
	doc.Number, doc.Seal, doc.VerifyURL = "", records.Seal{}, ""
	wants(t, "a draft", words(t, notice(t, doc)), "Draft, not issued", "Record not issued yet")
	for i := range doc.Record.Condition.Entries {
		doc.Record.Condition.Entries[i].Class = records.Observation
	}
	text := words(t, notice(t, doc))
	wants(t, "observations", text, "needs attention", "was not turned off for this")
	if strings.Contains(text, "DO NOT USE") {
		t.Error("a label for an observation")
	}
	doc.Record.Condition = nil
	if _, err := pdf.ConditionReport(doc); records.KindOf(err) != records.NotReady {
		t.Errorf("no condition report: %v", err)
	}
}
