package rules_test

import (
	"fmt"
	"os"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

func TestProbe(t *testing.T) {
	base := os.Getenv("PROBE")
	if base == "" {
		t.Skip()
	}
	for _, f := range allFields() {
		r0, _, err := ruleCase{base: base}.build()
		if err != nil {
			t.Fatal(err)
		}
		var entries []string
		now, has := r0.Values[f.Key].Reading()
		switch f.Kind {
		case records.NumberKind:
			vals := []float64{f.Min, f.Max}
			if has {
				vals = append(vals, now.Value*0.1, now.Value*0.5, now.Value*0.7, now.Value*1.4, now.Value*2, now.Value*10)
			} else {
				vals = append(vals, 0.01*f.Max, 0.1*f.Max, 0.3*f.Max)
			}
			for _, v := range vals {
				entries = append(entries, records.FormatNumber(v, f.Decimals))
			}
		case records.ChoiceKind:
			for _, c := range f.Choices {
				entries = append(entries, c.Code)
			}
		case records.FlagKind:
			entries = []string{"yes", "no"}
		case records.DateKind:
			entries = []string{"2010-01-01", "2090-01-01"}
		case records.ClockKind:
			entries = []string{"00:01", "23:59"}
		}
		entries = append(entries, "")
		clear := ""
		for _, e := range entries {
			r, facts, _ := ruleCase{base: base}.build()
			if e == r.Values[f.Key].Text() && e != "" {
				continue
			}
			if e == "" {
				if !r.Values[f.Key].Present() {
					continue
				}
				delete(r.Values, f.Key)
			} else {
				v, err := f.Parse(e)
				if err != nil {
					continue
				}
				r.Values[f.Key] = v
			}
			fs := rules.Evaluate(r, facts)
			if records.StandingOf(fs) == records.Clear {
				clear += fmt.Sprintf(" %q", e)
			}
		}
		fmt.Printf("%s = %q clear at:%s\n", f.Key, r0.Values[f.Key].Text(), clear)
	}
}
