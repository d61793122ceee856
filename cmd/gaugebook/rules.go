package main

import (
	"fmt"
	"path/filepath"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/server/api"
)

func dirOf(name string) string { return filepath.Dir(name) }

type rulesCommand struct {
	JSON    bool   `name:"json" help:"Print as JSON."`
	Explain string `help:"Explain one rule, with a worked example computed now." placeholder:"ID"`
}

func (c *rulesCommand) Run(e *env) error {
	if c.Explain != "" {
		return c.explain(e)
	}
	all := rules.All()
	lines := make([]api.RuleLine, len(all))
	for i, r := range all {
		lines[i] = api.RuleLineOf(r)
	}
	if c.JSON {
		return writeJSON(e.stdout, lines)
	}
	for _, l := range lines {
		fmt.Fprintf(e.stdout, "%s\n  %s\n", l.ID, l.Title)
		printLimits(e, l.Limits)
	}
	return nil
}

func (c *rulesCommand) explain(e *env) error {
	r, ok := rules.ByID(c.Explain)
	if !ok {
		return &records.Error{Kind: records.Invalid, Field: "--explain", Value: c.Explain,
			Want: "a rule id from “gaugebook rules”"}
	}
	example := rules.Example(r.ID)
	if c.JSON {
		return writeJSON(e.stdout, struct {
			api.RuleLine
			Example records.Finding `json:"example"`
		}{api.RuleLineOf(r), example})
	}
	fmt.Fprintf(e.stdout, "%s\n  %s\n\n%s\n\nReads:\n", r.ID, r.Title, r.Explains)
	for _, f := range r.Reads {
		fmt.Fprintf(e.stdout, "  %s  %s\n", f.Key, f.Label)
	}
	if len(r.Limits) > 0 {
		fmt.Fprintln(e.stdout, "\nLimits, unless the manufacturer states others:")
		printLimits(e, r.Limits)
	}
	fmt.Fprintf(e.stdout, "\nExample, an invented record: %s\n  %s\n", example.Outcome, example.Reason)
	for _, w := range example.Working {
		fmt.Fprintf(e.stdout, "    %s\n", w)
	}
	return nil
}

func printLimits(e *env, limits []records.Limit) {
	for _, l := range limits {
		fmt.Fprintf(e.stdout, "    %s\n      %s (%s%s)\n", l.Text, l.Source, l.Rank, window(l.Source))
	}
}

// window says when a source is in force and how well its figure is confirmed.
func window(s records.Source) string {
	out := ""
	if !s.From.IsZero() {
		out += ", from " + s.From.Long()
	}
	if !s.Until.IsZero() {
		out += ", until " + s.Until.Long()
	}
	if s.Confidence != "" {
		out += "; " + string(s.Confidence)
	}
	return out
}
