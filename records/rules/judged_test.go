package rules_test

import (
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// judged is a record, written as in testdata/rules, and what a rule must make of
// it.
type judged struct {
	base, changes string
	want          records.Outcome
	shows         string
}

const (
	in, out, miss, doubt = records.Inside, records.Outside, records.Missing, records.Doubtful
	exempt, nearby, tell = records.Exempt, records.Close, records.Attention
)

// mustJudge holds each rule to its rows. A change day=… is the day of the work.
func mustJudge(t *testing.T, table map[string][]judged) {
	t.Helper()
	for rule, rows := range table {
		for _, row := range rows {
			c := ruleCase{rule: rule, base: row.base, changes: row.changes}
			if c.base == "" {
				c.base = "clear"
			}
			if day, rest, ok := strings.Cut(row.changes, ";"); ok && strings.HasPrefix(day, "day=") {
				c.workDate, c.changes = strings.TrimPrefix(day, "day="), rest
			}
			r, facts, err := c.build()
			if err != nil {
				t.Errorf("%s on %s with %q: %v", rule, c.base, row.changes, err)
				continue
			}
			f, there := findingOf(rules.Evaluate(r, facts), rule)
			if !there || f.Outcome != row.want || !strings.Contains(text(f), row.shows) {
				t.Errorf("%s on %s with %q: %s, want %s showing %q: %s", rule, c.base, row.changes, f.Outcome, row.want,
					row.shows, text(f))
			}
		}
	}
}
