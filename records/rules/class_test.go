package rules_test

import (
	"encoding/csv"
	"os"
	"sort"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// How serious each rule suggests its outside findings to be, in the general
// terms of the published unsafe-situations procedure. The suggestion is ours
// and is only that; the table makes a change to one deliberate.
func TestSuggestedClasses(t *testing.T) {
	in, err := os.Open("../../testdata/rules/classes/suggested.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	rows, err := csv.NewReader(in).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{}
	for _, row := range rows[1:] {
		if row[2] == "" {
			t.Errorf("%s: no source", row[0])
		}
		want[row[0]] = row[1]
	}
	got := map[string]map[records.Class]bool{}
	for _, c := range mustCases(t) {
		r, facts, err := c.build()
		if err != nil || c.outcome != records.Outside {
			continue
		}
		f, _ := findingOf(rules.Evaluate(r, facts), c.rule)
		if got[c.rule] == nil {
			got[c.rule] = map[records.Class]bool{}
		}
		got[c.rule][f.Suggested] = true
	}
	for rule, classes := range got {
		var names []string
		for c := range classes {
			names = append(names, string(c))
		}
		sort.Strings(names)
		if s := strings.Join(names, " or "); s != want[rule] {
			t.Errorf("%s suggests %q, the table says %q", rule, s, want[rule])
		}
		delete(want, rule)
	}
	for rule := range want {
		t.Errorf("%s is in the table but has no case outside", rule)
	}
}
