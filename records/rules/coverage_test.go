package rules_test

import (
	"encoding/csv"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

var update = flag.Bool("update", false, "rewrite testdata/COVERAGE.md")

const (
	coverageFile = "../../testdata/COVERAGE.md"
	gasChecks    = "../../testdata/gas/*.csv"
)

// coverage counts the check rows of one thing by degree of confidence, and
// the documents that they come from.
type coverage struct {
	by        map[string]int
	documents []string
}

func (c *coverage) add(confidence, document string) {
	if c.by == nil {
		c.by = map[string]int{}
	}
	c.by[confidence]++
	if document != "" && !slices.Contains(c.documents, document) {
		c.documents = append(c.documents, document)
	}
}

func (c *coverage) rows() int {
	n := 0
	for _, k := range c.by {
		n += k
	}
	return n
}

// line writes the counts in the order of the degrees, and the documents.
func (c *coverage) line(name string, degrees []string) string {
	s := fmt.Sprintf("| `%s` | %d |", name, c.rows())
	for _, d := range degrees {
		s += fmt.Sprintf(" %d |", c.by[d])
	}
	documents := slices.Clone(c.documents)
	slices.Sort(documents)
	return s + " " + strings.ReplaceAll(strings.Join(documents, "; "), "|", "/") + " |\n"
}

// documentOf is the document that a source names, without what it says there.
// Practice and our own choices name none.
func documentOf(source string) string {
	document, _, _ := strings.Cut(source, ":")
	lower := strings.ToLower(document)
	for _, none := range []string{"our own", "common practice", "derived", "from memory"} {
		if strings.HasPrefix(lower, none) {
			return ""
		}
	}
	return strings.TrimSpace(document)
}

// Which rule and which piece of physics is held against what outside the
// project: the table is made from the rows, and the test fails when stale.
func TestCoverageIsWhatTheRowsSay(t *testing.T) {
	want := ruleCoverage(t) + gasCoverage(t)
	if *update {
		if err := os.WriteFile(coverageFile, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(coverageFile)
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != want {
		t.Error("testdata/COVERAGE.md is stale: go test ./records/rules -run TestCoverage -update")
	}
}

var ruleDegrees = []string{string(records.Confirmed), string(records.OneSource), string(records.Practice),
	string(records.Unconfirmed)}

func ruleCoverage(t *testing.T) string {
	t.Helper()
	of := map[string]*coverage{}
	for _, c := range mustCases(t) {
		if of[c.rule] == nil {
			of[c.rule] = &coverage{}
		}
		document := documentOf(c.source)
		if c.confidence == string(records.Practice) {
			document = ""
		}
		of[c.rule].add(c.confidence, document)
	}
	var table strings.Builder
	rows, total := 0, map[string]int{}
	var alone []string
	for _, s := range records.Sections {
		fmt.Fprintf(&table, "\n### %s\n\n| rule | rows | confirmed | one source | practice | memory | documents "+
			"|\n|---|---:|---:|---:|---:|---:|---|\n", s.Title)
		for _, r := range rules.All() {
			if r.Section != s.ID {
				continue
			}
			c := of[r.ID]
			if c == nil {
				c = &coverage{}
			}
			table.WriteString(c.line(r.ID, ruleDegrees))
			rows += c.rows()
			for d, n := range c.by {
				total[d] += n
			}
			if c.by[string(records.Confirmed)]+c.by[string(records.OneSource)] == 0 {
				alone = append(alone, "`"+r.ID+"`")
			}
		}
	}
	return fmt.Sprintf("# What is held against what outside\n\nMade from the rows of `testdata/rules` and "+
		"`testdata/gas` by `go test ./records/rules -run TestCoverage -update`. A row is one case with its expected "+
		"outcome and the source of that expectation. What the columns mean: [rules](rules/README.md), "+
		"[gas](gas/README.md). How often doubtful findings are right: [study](rules/doubt-study.md).\n\n%d rules, "+
		"%d rows: %d confirmed, %d from one secondary source, %d common practice or our own choice, %d from memory "+
		"and unconfirmed.\n\n%d rules rest on no published source that was seen: %s.\n\n## Rules\n",
		len(rules.All()), rows, total[ruleDegrees[0]], total[ruleDegrees[1]], total[ruleDegrees[2]],
		total[ruleDegrees[3]],
		len(alone), strings.Join(alone, ", ")) + table.String()
}

var gasDegrees = []string{"H", "M", "L", "derived", "common", "mem"}

func gasCoverage(t *testing.T) string {
	t.Helper()
	files, err := filepath.Glob(gasChecks)
	if err != nil || len(files) == 0 {
		t.Fatalf("no check values of gas: %v", err)
	}
	of := map[string]*coverage{}
	var names []string
	for _, file := range files {
		for _, row := range columnsOf(t, file) {
			name := row["quantity"]
			if name == "" {
				name = strings.TrimSuffix(filepath.Base(file), ".csv")
			}
			if of[name] == nil {
				of[name], names = &coverage{}, append(names, name)
			}
			document, _, _ := strings.Cut(documentOf(row["source"]), ",")
			of[name].add(row["confidence"], document)
		}
	}
	slices.Sort(names)
	var b strings.Builder
	rows := 0
	for _, name := range names {
		b.WriteString(of[name].line(name, gasDegrees))
		rows += of[name].rows()
	}
	return fmt.Sprintf("\n## Gas physics\n\n%d quantities, %d rows.\n\n| quantity | rows | H | M | L | derived | "+
		"common | memory | documents |\n|---|---:|---:|---:|---:|---:|---:|---:|---|\n", len(names), rows) + b.String()
}

// columnsOf reads a table into rows by column.
func columnsOf(t testing.TB, file string) []map[string]string {
	t.Helper()
	in, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	r := csv.NewReader(in)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", file, len(rows), err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, column := range rows[0] {
			m[column] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func TestDocumentOfNamesNoneForOurOwnChoice(t *testing.T) {
	for source, want := range map[string]string{
		"IGEM/UP/1B: scope": "IGEM/UP/1B", "Our own choice: 1 mbar": "", "common practice, no published source": "",
		"BS 6891": "BS 6891",
	} {
		if got := documentOf(source); got != want {
			t.Errorf("%q names %q, want %q", source, got, want)
		}
	}
}
