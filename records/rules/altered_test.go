package rules_test

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// altered is one record that a competent engineer would stop at, or one that is
// right: a base with one change, what must become of it, and why.
type altered struct {
	file, principle, base, changes, must, why, source string
}

const (
	mustStop = "not clear"
	mustPass = "clear"
)

func alteredRecords(tb testing.TB) []altered {
	tb.Helper()
	files, err := filepath.Glob("../../testdata/rules/altered/*.csv")
	if err != nil || len(files) == 0 {
		tb.Fatalf("no altered records: %v", err)
	}
	var out []altered
	for _, file := range files {
		for _, row := range columnsOf(tb, file) {
			out = append(out, altered{file: filepath.Base(file), principle: row["principle"], base: row["base"],
				changes: row["changes"], must: row["must"], why: row["why"], source: row["source"]})
		}
	}
	return out
}

// unsettledOf judges a base with changes.
func unsettledOf(base, changes string) (records.Standing, string, error) {
	r, facts, err := ruleCase{base: base, changes: changes}.build()
	if err != nil {
		return "", "", err
	}
	fs := rules.Evaluate(r, facts)
	var b strings.Builder
	for _, f := range records.Unsettled(fs) {
		fmt.Fprintf(&b, "\n\t\t%s %s [%s] %s", f.Rule, f.Outcome, f.Reading, f.Reason)
	}
	return records.StandingOf(fs), b.String(), nil
}

// Nothing dangerous comes out clear, and nothing that is right is stopped.
func TestAlteredRecords(t *testing.T) {
	n := 0
	for _, a := range alteredRecords(t) {
		n++
		standing, open, err := unsettledOf(a.base, a.changes)
		switch {
		case err != nil:
			t.Errorf("%s, %s on %s: %v", a.file, a.changes, a.base, err)
		case a.why == "" || a.source == "" || a.principle == "":
			t.Errorf("%s, %s on %s: no principle, reason or source", a.file, a.changes, a.base)
		case a.must == mustStop && standing == records.Clear:
			t.Errorf("%s, %s: %s on %s is clear: %s", a.file, a.principle, a.changes, a.base, a.why)
		case a.must == mustPass && standing != records.Clear:
			t.Errorf("%s, %s: %s on %s is %s: %s%s", a.file, a.principle, a.changes, a.base, standing, a.why, open)
		case a.must != mustStop && a.must != mustPass:
			t.Errorf("%s, %s on %s: must be %q", a.file, a.changes, a.base, a.must)
		}
	}
	if n < 150 {
		t.Errorf("only %d altered records", n)
	}
}

// Each base is clear, so that what makes an altered one not clear is its
// change.
func TestBasesOfAlteredRecordsAreClear(t *testing.T) {
	seen := map[string]bool{}
	for _, a := range alteredRecords(t) {
		if seen[a.base] {
			continue
		}
		seen[a.base] = true
		if standing, open, err := unsettledOf(a.base, ""); err != nil || standing != records.Clear {
			t.Errorf("%s: %s, %v%s", a.base, standing, err, open)
		}
	}
}

// A field that loosens a limit or switches a rule has an altered record, so
// that a new one cannot escape.
func TestEveryLooseningFieldHasAnAlteredRecord(t *testing.T) {
	var stopped []string
	for _, a := range alteredRecords(t) {
		if a.must == mustStop {
			stopped = append(stopped, a.changes)
		}
	}
	for _, key := range rules.Loosening() {
		if !slices.ContainsFunc(stopped, func(changes string) bool {
			section, column, _ := strings.Cut(key, "[].")
			return strings.Contains(changes, section+"=") && strings.Contains(changes, column)
		}) {
			t.Errorf("no altered record of %s must be stopped", key)
		}
	}
}
