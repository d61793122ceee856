package rules_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/gas"
	"gaugebook/records/rules"
)

func findingOf(fs []records.Finding, rule string) (records.Finding, bool) {
	for _, f := range fs {
		if f.Rule == rule {
			return f, true
		}
	}
	return records.Finding{}, false
}

func TestRulesOnBothSidesOfEachEdge(t *testing.T) {
	for _, c := range mustCases(t) {
		r, facts, err := c.build()
		if err != nil {
			t.Errorf("%s: %v", c, err)
			continue
		}
		f, ok := findingOf(rules.Evaluate(r, facts), c.rule)
		if !ok {
			t.Errorf("%s: no finding", c)
			continue
		}
		if f.Outcome != c.outcome {
			t.Errorf("%s on %s: %s (%s, %s), want %s by %s", c, r.WorkDate, f.Outcome, f.Reading, f.Reason, c.outcome,
				c.source)
		}
		if raw, _ := json.Marshal(f); !strings.Contains(strings.ToLower(text(f)), strings.ToLower(c.shows)) {
			t.Errorf("%s: does not show %q: %s", c, c.shows, raw)
		}
	}
}

// text is all that a finding says.
func text(f records.Finding) string {
	parts := append([]string{f.Reading, f.Reason, string(f.Suggested)}, f.Working...)
	if f.Limit != nil {
		parts = append(parts, f.Limit.Text, string(f.Limit.Rank), f.Limit.Source.String(),
			string(f.Limit.Source.Confidence))
	}
	if f.Outranked != nil {
		parts = append(parts, "outranked "+f.Outranked.Text)
	}
	return strings.Join(parts, "\n")
}

// Every rule must be shown inside and not inside, every one that can be
// exempt or missing is up to its author, and no case may be of a rule that
// does not exist.
func TestEveryRuleHasCasesOnBothSides(t *testing.T) {
	type side struct{ inside, not bool }
	seen := map[string]*side{}
	for _, r := range rules.All() {
		seen[r.ID] = &side{}
	}
	for _, c := range mustCases(t) {
		s := seen[c.rule]
		if s == nil {
			t.Errorf("%s: there is no such rule", c)
			continue
		}
		switch c.outcome {
		case records.Inside:
			s.inside = true
		case records.Exempt:
		default:
			s.not = true
		}
	}
	for id, s := range seen {
		if !s.inside || !s.not {
			t.Errorf("%s: cases inside %v, cases not inside %v; want both", id, s.inside, s.not)
		}
	}
}

func TestCasesWithoutSourceAreRefused(t *testing.T) {
	head := strings.Join(columns, ",") + "\n"
	good := head + "tightness.drop,clear,,,inside,,IGEM/UP/1B,confirmed\n"
	if cs, err := readCases("t", strings.NewReader(good)); err != nil || len(cs) != 1 {
		t.Fatalf("good table: %v, %v", cs, err)
	}
	for _, bad := range []string{
		"tightness.drop,clear,,,inside,,,confirmed",
		"tightness.drop,clear,,,inside,,IGEM/UP/1B,",
		"tightness.drop,clear,,,inside,,IGEM/UP/1B,sure",
		"tightness.drop,nowhere,,,inside,,IGEM/UP/1B,confirmed",
		"tightness.drop,clear,,,passed,,IGEM/UP/1B,confirmed",
	} {
		if _, err := readCases("t", strings.NewReader(head+bad+"\n")); err == nil {
			t.Errorf("accepted %q", bad)
		}
	}
}

func TestSampleIsClear(t *testing.T) {
	r := rules.Sample()
	if err := r.Check(); err != nil {
		t.Fatal(err)
	}
	fs := rules.Evaluate(r, records.Facts{})
	for _, f := range fs {
		if !f.Settled() {
			t.Errorf("%s is %s: %s", f.Rule, f.Outcome, f.Reason)
		}
	}
	if got := records.StandingOf(fs); got != records.Clear {
		t.Errorf("standing %s", got)
	}
	if len(fs) != len(rules.All()) {
		t.Errorf("%d findings for %d rules", len(fs), len(rules.All()))
	}
}

// A sample that round-trips through its document gives the same findings, so
// phone, server and command line agree.
func TestFindingsSurviveTheDocument(t *testing.T) {
	r := rules.Sample()
	raw, err := records.EncodeRecord(r)
	if err != nil {
		t.Fatal(err)
	}
	back, err := records.DecodeRecord(strings.NewReader(string(raw)))
	if err != nil {
		t.Fatal(err)
	}
	a, b := rules.Evaluate(r, records.Facts{}), rules.Evaluate(back, records.Facts{})
	if !reflect.DeepEqual(a, b) {
		t.Error("findings differ after encoding and decoding")
	}
}

func TestRulesAreExplained(t *testing.T) {
	ids := map[string]bool{}
	last := -1
	for _, r := range rules.All() {
		section, name, ok := strings.Cut(r.ID, ".")
		if !ok || name == "" || section != string(r.Section) {
			t.Errorf("%s: the id must be section.name of %s", r.ID, r.Section)
		}
		if ids[r.ID] {
			t.Errorf("%s: twice", r.ID)
		}
		ids[r.ID] = true
		at := -1
		for i, s := range records.Sections {
			if s.ID == r.Section {
				at = i
			}
		}
		if at < last || at < 0 {
			t.Errorf("%s: not in the order of the sections", r.ID)
		}
		last = at
		if r.Title == "" || !strings.HasSuffix(r.Explains, ".") {
			t.Errorf("%s: no title or no explanation", r.ID)
		}
		for _, l := range r.Limits {
			if l.Text == "" || l.Rank == "" || l.Source.Document == "" || l.Source.Confidence == "" {
				t.Errorf("%s: limit %+v lacks text, rank, document or confidence", r.ID, l)
			}
		}
		f := rules.Example(r.ID)
		if f.Rule != r.ID || !f.Settled() || f.Reason == "" {
			t.Errorf("%s: example %+v", r.ID, f)
		}
		if got, ok := rules.ByID(r.ID); !ok || got.ID != r.ID {
			t.Errorf("%s: not found by id", r.ID)
		}
	}
	if _, ok := rules.ByID("tightness.nothing"); ok || rules.Example("tightness.nothing").Rule != "" {
		t.Error("found a rule that is not there")
	}
}

// The codes that people choose from must be those that the physics knows.
func TestPipesAndMetersAreKnownToGas(t *testing.T) {
	known := map[string]bool{records.PipeCorrugated: true}
	for _, p := range gas.Pipes() {
		known[p.Code] = true
	}
	for _, c := range records.PipeChoices {
		if !known[c.Code] {
			t.Errorf("pipe %s has no data", c.Code)
		}
		delete(known, c.Code)
	}
	for code := range known {
		t.Errorf("pipe %s cannot be chosen", code)
	}
	meters := map[string]bool{}
	for _, m := range gas.Meters() {
		meters[m.Code] = true
	}
	for _, c := range records.TightnessMeter.Choices {
		if !meters[c.Code] {
			t.Errorf("meter %s has no data", c.Code)
		}
		delete(meters, c.Code)
	}
	for code := range meters {
		t.Errorf("meter %s cannot be chosen", code)
	}
	for _, c := range records.ApplianceFuel.Choices {
		if _, ok := gas.FuelByCode(gas.FuelCode(c.Code)); !ok {
			t.Errorf("fuel %s has no data", c.Code)
		}
	}
}

// On the first and last day of every edition the limit used is one in force.
func TestLimitsAreThoseInForce(t *testing.T) {
	days := map[records.Date]bool{}
	for _, r := range rules.All() {
		for _, l := range r.Limits {
			for _, d := range []records.Date{l.Source.From, l.Source.Until} {
				if !d.IsZero() && d.Year >= 2014 {
					days[d.AddDays(-1)], days[d], days[d.AddDays(1)] = true, true, true
				}
			}
		}
	}
	if len(days) < 12 {
		t.Fatalf("only %d days to look at", len(days))
	}
	for day := range days {
		for _, edition := range records.TightnessEditions {
			r := rules.Sample()
			r.WorkDate = day
			r.Values.Put(records.TightnessEdition.Field, edition.Code)
			for _, f := range rules.Evaluate(r, records.Facts{}) {
				if f.Limit != nil && !f.Limit.Source.InForce(day) {
					t.Errorf("%s on %s: %s is not in force", f.Rule, day, f.Limit.Source)
				}
			}
		}
	}
}
