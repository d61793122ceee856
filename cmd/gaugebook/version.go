package main

import (
	"cmp"
	"fmt"
	"io"
	"runtime/debug"
	"text/tabwriter"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
)

// release and commit are set by “make release”, with -ldflags -X.
var release, commit string

// build is what the program was made from.
type build struct {
	Version  string    `json:"version"`
	Commit   string    `json:"commit"`
	Go       string    `json:"go"`
	Schema   int64     `json:"schema"` // newest that the program knows
	Rules    int       `json:"rules"`  // how many
	Editions []edition `json:"tightness_editions"`
}

// edition is an edition of the procedure that rules go by.
type edition struct {
	Code     string       `json:"code"`
	Document string       `json:"document"`
	Edition  string       `json:"edition"`
	From     records.Date `json:"from,omitzero"`
	Until    records.Date `json:"until,omitzero"`
}

const unversioned = "unversioned"

// builtFrom reads what the Go tool and “make release” stamped.
func builtFrom() build {
	b := build{Version: cmp.Or(release, unversioned), Commit: commit, Schema: store.Newest(), Rules: len(rules.All())}
	info, ok := debug.ReadBuildInfo()
	if ok {
		b.Go = info.GoVersion
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				b.Commit = cmp.Or(b.Commit, s.Value)
			}
		}
	}
	b.Commit = cmp.Or(b.Commit, unversioned)
	for _, e := range records.TightnessEditions {
		b.Editions = append(b.Editions, edition{Code: e.Code, Document: e.Source.Document, Edition: e.Source.Edition,
			From: e.Source.From, Until: e.Source.Until})
	}
	return b
}

type versionCommand struct {
	JSON bool `name:"json" help:"Print as JSON."`
}

func (c *versionCommand) Run(e *env) error {
	b := builtFrom()
	if c.JSON {
		return writeJSON(e.stdout, b)
	}
	rows := [][]string{{"version", b.Version}, {"commit", b.Commit}, {"Go", b.Go},
		{"schema", fmt.Sprint(b.Schema)}, {"rules", fmt.Sprint(b.Rules)}}
	for _, x := range b.Editions {
		from, until := "", ""
		if !x.From.IsZero() {
			from = ", from " + x.From.String()
		}
		if !x.Until.IsZero() {
			until = ", until " + x.Until.String()
		}
		rows = append(rows, []string{"tightness rules", x.Document + ", " + x.Edition + from + until})
	}
	return printTable(e.stdout, rows)
}

// printTable writes rows of cells under each other.
func printTable(w io.Writer, rows [][]string) error {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, row := range rows {
		for i, cell := range row {
			if i > 0 {
				fmt.Fprint(tw, "\t")
			}
			fmt.Fprint(tw, cell)
		}
		fmt.Fprintln(tw)
	}
	return tw.Flush()
}
