package rules_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"sort"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/rules"
)

var study = flag.Bool("study", false,
	"run the study of doubtful findings in full and write testdata/rules/doubt-study.md")

const (
	studySeed      = 20261125
	quickStudy     = 2000
	fullStudy      = 100000
	mostFalsePct   = 1.0
	studyFile      = "../../testdata/rules/doubt-study.md"
	fewestForFloor = 60 // below it a share says too little to fail on
)

// count is how often something was tried and what came of it.
type count struct{ tried, doubtful, outside, refused int }

func (c count) noticed() int { return c.doubtful + c.outside + c.refused }

func (c count) pct(n int) float64 { return 100 * float64(n) / float64(max(1, c.tried)) }

// result is what a run of the study found.
type result struct {
	records, falseRecords int
	falseBy               map[string]int // by rule, on true records
	falseWords            map[string]string
	bySlip, byField       map[string]*count
	caughtBy, aloneBy     map[string]int // by rule, on spoilt records
	spoilt                int
}

// runStudy draws so many true records, spoils each once, and judges both.
// Instruments err so many times as much as stated.
func runStudy(n int, errors float64) *result {
	res := &result{records: n, falseBy: map[string]int{}, falseWords: map[string]string{}, bySlip: map[string]*count{},
		byField: map[string]*count{}, caughtBy: map[string]int{}, aloneBy: map[string]int{}}
	d := draw{rand.New(rand.NewPCG(studySeed, 1)), errors}
	for i := range n {
		r, facts, s := studyRecord(d)
		truth := outcomes(rules.Evaluate(r, facts))
		alarm := false
		for id, f := range truth {
			if f.Outcome == records.Doubtful {
				alarm = true
				res.falseBy[id]++
				res.falseWords[id] = f.Reading + ": " + f.Reason
			}
		}
		if alarm {
			res.falseRecords++
		}
		res.spoil(d, slips[i%len(slips)], r, facts, s, truth)
	}
	return res
}

func outcomes(fs []records.Finding) map[string]records.Finding {
	out := make(map[string]records.Finding, len(fs))
	for _, f := range fs {
		out[f.Rule] = f
	}
	return out
}

// spoil notes what a slip changed for the worse. A record's own false alarms
// do not count as having caught it.
func (res *result) spoil(d draw, sl slip, r *records.Record, facts records.Facts, s site,
	truth map[string]records.Finding) {
	touched, refused := sl.spoil(d, r, facts, s)
	if touched == "" {
		return
	}
	var doubts []string
	outside := false
	for id, f := range outcomes(rules.Evaluate(r, facts)) {
		was := truth[id].Outcome
		switch {
		case f.Outcome == records.Doubtful && was != records.Doubtful:
			doubts = append(doubts, id)
		case f.Outcome == records.Outside && was != records.Outside:
			outside = true
		}
	}
	res.spoilt++
	for _, id := range doubts {
		res.caughtBy[id]++
		if len(doubts) == 1 {
			res.aloneBy[id]++
		}
	}
	for _, c := range []*count{counter(res.bySlip, sl.name), counter(res.byField, touched)} {
		c.tried++
		switch {
		case len(doubts) > 0:
			c.doubtful++
		case outside:
			c.outside++
		case refused:
			c.refused++
		}
	}
}

func counter(m map[string]*count, key string) *count {
	if m[key] == nil {
		m[key] = &count{}
	}
	return m[key]
}

// True records must hardly ever be called doubtful, and slips must be noticed
// at least as often as the floors say.
func TestStudyOfDoubt(t *testing.T) {
	n := quickStudy
	if *study {
		n = fullStudy
	}
	start := time.Now()
	res := runStudy(n, 1)
	if share := 100 * float64(res.falseRecords) / float64(n); share > mostFalsePct {
		t.Errorf("%.2f %% of true records have a doubtful finding, want at most %.0f %%", share, mostFalsePct)
	}
	for id, k := range res.falseBy {
		t.Logf("false alarm of %s: %d, e.g. %s", id, k, res.falseWords[id])
	}
	for _, sl := range slips {
		c := counter(res.bySlip, sl.name)
		t.Logf("%s: doubtful %.1f %%, noticed %.1f %% of %d", sl.name, c.pct(c.doubtful), c.pct(c.noticed()), c.tried)
		if share := c.pct(c.noticed()); c.tried < fewestForFloor || share < sl.floorPct {
			t.Errorf("%s: %.1f %% of %d noticed, want at least %.0f %%", sl.name, share, c.tried, sl.floorPct)
		}
	}
	if *study {
		if err := os.WriteFile(studyFile, []byte(res.report(start, runStudy(n/5, 2))), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func (res *result) report(start time.Time, coarse *result) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# How often doubt is right\n\n"+
		"Written by `go test ./records/rules -run TestStudyOfDoubt -study`, seed %d, %s, %d true records and %d "+
		"spoilt ones.\n\nEach record is drawn from physics (an installation, its state on a day, what instruments "+
		"of stated uncertainty show of it; `records/rules/study_record_test.go`), then spoilt by one slip "+
		"(`study_slip_test.go`). The figures hold for such records, not for the world: they assume an appliance at "+
		"full rate, runs entered as they are, and errors no larger than stated. The quick run of %d records in `go "+
		"test` fails above %.0f %% false alarms or below the floor of a slip.\n\n",
		studySeed, start.UTC().Format("2006-01-02"), res.records, res.spoilt, quickStudy, mostFalsePct)
	fmt.Fprintf(&b, "**False alarms: %d of %d true records (%.3f %%) have a doubtful finding.**\n\n",
		res.falseRecords, res.records, 100*float64(res.falseRecords)/float64(res.records))
	fmt.Fprintf(&b,
		"With instruments that err twice as much as stated it would be %d of %d (%.2f %%); that is not gated.\n\n",
		coarse.falseRecords, coarse.records, 100*float64(coarse.falseRecords)/float64(coarse.records))
	b.WriteString("## By slip\n\nIn percent of the slips tried. Outside: not doubtful, but newly outside a limit. " +
		"Refused: neither, but not accepted at entry. What is left passes unseen: mostly slips no larger than the " +
		"readings' own uncertainty.\n\n| slip | what | tried | doubtful | outside | refused | noticed | floor " +
		"|\n|---|---|---:|---:|---:|---:|---:|---:|\n")
	for _, sl := range slips {
		c := counter(res.bySlip, sl.name)
		fmt.Fprintf(&b, "| %s | %s | %d | %.1f | %.1f | %.1f | %.1f | %.0f |\n", sl.name, sl.what, c.tried,
			c.pct(c.doubtful), c.pct(c.outside), c.pct(c.refused), c.pct(c.noticed()), sl.floorPct)
	}
	b.WriteString("\n## By check\n\nFalse: doubtful on a true record. Caught: newly doubtful on a spoilt one; " +
		"alone: where no other check was. A check without figures guards against something that no slip here does; " +
		"its cases are in `doubt.csv`.\n\n| check | false | caught | alone |\n|---|---:|---:|---:|\n")
	for _, r := range rules.All() {
		if f, c := res.falseBy[r.ID], res.caughtBy[r.ID]; f > 0 || c > 0 {
			fmt.Fprintf(&b, "| `%s` | %d | %d | %d |\n", r.ID, f, c, res.aloneBy[r.ID])
		}
	}
	b.WriteString("\n## By field touched\n\n| field | tried | doubtful | noticed |\n|---|---:|---:|---:|\n")
	var fields []string
	for f := range res.byField {
		fields = append(fields, f)
	}
	sort.Strings(fields)
	for _, f := range fields {
		c := res.byField[f]
		fmt.Fprintf(&b, "| `%s` | %d | %.1f | %.1f |\n", f, c.tried, c.pct(c.doubtful), c.pct(c.noticed()))
	}
	return b.String()
}
