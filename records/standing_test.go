package records_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
)

func findings(outcomes ...records.Outcome) []records.Finding {
	out := make([]records.Finding, len(outcomes))
	for i, o := range outcomes {
		out[i] = records.Finding{Rule: "rule." + string(rune('a'+i)), Title: "Rule " + string(rune('A'+i)), Outcome: o}
	}
	return out
}

func TestStandingOf(t *testing.T) {
	type o = records.Outcome
	const in, out, miss, doubt, ex = records.Inside, records.Outside, records.Missing, records.Doubtful, records.Exempt
	for _, c := range []struct {
		fs        []o
		want      records.Standing
		unsettled int
	}{
		{nil, records.Open, 0},
		{[]o{in}, records.Clear, 0},
		{[]o{ex}, records.Clear, 0},
		{[]o{in, ex, in}, records.Clear, 0},
		{[]o{in, miss}, records.Open, 1},
		{[]o{doubt, in}, records.Open, 1},
		{[]o{miss, doubt}, records.Open, 2},
		{[]o{out}, records.Adverse, 1},
		{[]o{miss, out}, records.Adverse, 2},
		{[]o{out, doubt, in, ex}, records.Adverse, 2},
		{[]o{""}, records.Open, 1}, // an outcome that nobody gave settles nothing
	} {
		fs := findings(c.fs...)
		if got := records.StandingOf(fs); got != c.want {
			t.Errorf("%v: %s, want %s", c.fs, got, c.want)
		}
		if got := records.Unsettled(fs); len(got) != c.unsettled {
			t.Errorf("%v: %d unsettled, want %d", c.fs, len(got), c.unsettled)
		}
	}
}

func TestReadyToIssue(t *testing.T) {
	answer := func(rule string) records.ConditionEntry {
		return records.ConditionEntry{Rule: rule, Class: records.AtRisk, Found: "found", Done: "done"}
	}
	report := func(entries ...records.ConditionEntry) *records.ConditionReport {
		return &records.ConditionReport{Entries: entries, Told: "the owner", ToldHow: "in person"}
	}
	change := func(c *records.ConditionReport, f func(*records.ConditionReport)) *records.ConditionReport {
		f(c)
		return c
	}
	in, out, miss, doubt := records.Inside, records.Outside, records.Missing, records.Doubtful
	for _, c := range []struct {
		name   string
		fs     []records.Finding
		report *records.ConditionReport
		fields []string // of the errors; nil: ready
		says   string
	}{
		{"nothing judged", nil, report(), []string{""}, "nothing has been judged yet"},
		{"clear without a report", findings(in, records.Exempt), nil, nil, ""},
		{"clear with an empty report", findings(in), &records.ConditionReport{}, nil, ""},
		{"clear with a report all the same", findings(in), report(answer("rule.z")), nil, ""},
		{"outside", findings(in, out), nil, []string{"rule.b"}, "Rule B: is outside: put it right, or answer it"},
		{"missing", findings(miss), nil, []string{"rule.a"}, "Rule A: is missing"},
		{"doubtful", findings(doubt), nil, []string{"rule.a"}, "Rule A: is doubtful"},
		{"each is told", findings(out, in, miss), report(), []string{"rule.a", "rule.c"}, ""},
		{"answered", findings(out), report(answer("rule.a")), nil, ""},
		{"all answered", findings(out, miss, doubt), report(answer("rule.c"), answer("rule.b"), answer("rule.a")), nil,
			""},
		{"another answered", findings(out), report(answer("rule.b")), []string{"rule.a"},
			"answer it in the condition report"},
		{"one of two answered", findings(out, out), report(answer("rule.a")), []string{"rule.b"}, ""},
		{"not classed", findings(out), report(records.ConditionEntry{Rule: "rule.a", Found: "f", Done: "d"}),
			[]string{"rule.a"}, "how serious it is"},
		{"unknown class", findings(out), report(records.ConditionEntry{Rule: "rule.a", Class: "grave", Found: "f",
			Done: "d"}), []string{"rule.a"}, "how serious it is"},
		{"not said what was found", findings(out),
			report(records.ConditionEntry{Rule: "rule.a", Class: records.AtRisk, Found: " \n", Done: "d"}),
			[]string{"rule.a"}, "what was found"},
		{"not said what was done", findings(out),
			report(records.ConditionEntry{Rule: "rule.a", Class: records.AtRisk, Found: "f"}), []string{"rule.a"},
			"what was done"},
		{"nobody told", findings(out), change(report(answer("rule.a")), func(c *records.ConditionReport) {
			c.Told = " "
		}), []string{"condition.told"}, "Who was told"},
		{"told no way", findings(out), change(report(answer("rule.a")), func(c *records.ConditionReport) {
			c.ToldHow = ""
		}), []string{"condition.told"}, "and how"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := records.ReadyToIssue(c.fs, c.report)
			if (err == nil) != (c.fields == nil) {
				t.Fatalf("%v", err)
			}
			if err == nil {
				return
			}
			var fields []string
			var es records.Errors
			var e *records.Error
			if errors.As(err, &es) {
				for _, e := range es {
					fields = append(fields, e.Field)
				}
			} else if errors.As(err, &e) {
				fields = append(fields, e.Field)
			}
			if records.KindOf(err) != records.NotReady || !slices.Equal(fields, c.fields) ||
				!strings.Contains(err.Error(), c.says) {
				t.Errorf("%s %v: %v", records.KindOf(err), fields, err)
			}
		})
	}
}

func TestDutyStateOn(t *testing.T) {
	d := records.Duty{Due: records.MustDate("2028-03-01")}
	for day, want := range map[string]records.DutyState{
		"2020-01-01": records.Ahead,
		"2028-01-04": records.Ahead, // 57 days, over a 29 February
		"2028-01-05": records.Near,  // 56 days
		"2028-02-29": records.Near,
		"2028-03-01": records.Near, // in time on the day itself
		"2028-03-02": records.Late,
		"2040-01-01": records.Late,
	} {
		if got := d.StateOn(records.MustDate(day)); got != want {
			t.Errorf("on %s: %s, want %s", day, got, want)
		}
	}
}
