package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"text/tabwriter"
	"time"

	"gaugebook/pdf"
	"gaugebook/records"
	"gaugebook/records/rules"
)

type checkCommand struct {
	File  string `arg:"" help:"Record as JSON (see gaugebook schema); - for standard input."`
	JSON  bool   `name:"json" help:"Print the findings as JSON."`
	Bands string `help:"JSON file with permissible-drop tables from your own copy of the standard." type:"existingfile"`
}

func (c *checkCommand) Run(e *env) error {
	r, err := e.record(c.File)
	if err != nil {
		return err
	}
	var facts records.Facts
	if c.Bands != "" {
		if facts.DropBands, err = readBands(c.Bands); err != nil {
			return err
		}
	}
	findings := rules.Evaluate(r, facts)
	v := records.EvaluationOf(findings)
	e.code = map[records.Standing]int{records.Clear: exitClear, records.Adverse: exitAdverse,
		records.Open: exitOpen, records.NeedsAttention: exitAttention}[v.Standing]
	if c.JSON {
		return writeJSON(e.stdout, v)
	}
	return printFindings(e.stdout, v)
}

func (e *env) record(name string) (*records.Record, error) {
	in, err := e.open(name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	return e.decode(in)
}

// decode reads a record and refuses a date of the work that has not come yet:
// which editions apply would be a guess, and nothing can have been read.
func (e *env) decode(in io.Reader) (*records.Record, error) {
	r, err := records.DecodeRecord(in)
	if err != nil {
		return nil, err
	}
	zone, err := time.LoadLocation(defaultZone)
	if err != nil {
		return nil, err
	}
	return r, records.CheckWorkDate(r.WorkDate, records.DateOf(e.now().In(zone)))
}

func readBands(name string) ([]records.DropBands, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	var bands []records.DropBands
	if err := records.DecodeStrict(data, &bands); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	for i, b := range bands {
		if bands[i], err = b.Checked(); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	return bands, nil
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

func printFindings(w io.Writer, v records.Evaluation) error {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "RULE\tOUTCOME\tREADING\tLIMIT\tSOURCE")
	for _, f := range v.Findings {
		limit, source := "", ""
		if f.Limit != nil {
			limit, source = f.Limit.Text, f.Limit.Source.String()
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%s\n", f.Rule, f.Outcome, dash(f.Reading), dash(limit), dash(source))
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	for _, f := range records.Unsettled(v.Findings) {
		fmt.Fprintf(w, "\n%s: %s\n  %s\n", f.Rule, f.Outcome, f.Reason)
		for _, line := range f.Working {
			fmt.Fprintf(w, "    %s\n", line)
		}
	}
	_, err := fmt.Fprintf(w,
		"\nStanding: %s. This says which readings are inside which limits, not that an appliance is safe.\n",
		v.Standing)
	return err
}

func dash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

type renderCommand struct {
	File  string `arg:"" help:"Record as JSON, a draft or one that was issued; - for standard input."`
	Out   string `short:"o" required:"" help:"PDF file to write."`
	Bands string `help:"JSON file with permissible-drop tables, for a draft." type:"existingfile"`
}

func (c *renderCommand) Run(e *env) error {
	in, err := e.open(c.File)
	if err != nil {
		return err
	}
	defer in.Close()
	data, err := io.ReadAll(io.LimitReader(in, 4*records.MaxDocument))
	if err != nil {
		return err
	}
	doc, err := e.documentOf(data, c.Bands)
	if err != nil {
		return err
	}
	out, err := pdf.Render(doc)
	if err != nil {
		return err
	}
	if err := writeWhole(c.Out, out); err != nil {
		return fmt.Errorf("--out %s: %w", c.Out, err)
	}
	return nil
}

// documentOf takes either JSON. Without the firm's key an issued record is
// printed without a seal, so it does not pass for the one that was issued.
func (e *env) documentOf(data []byte, bandsFile string) (records.Document, error) {
	var probe struct {
		Number string `json:"number"`
	}
	if json.Unmarshal(data, &probe) == nil && probe.Number != "" {
		issued, err := records.DecodeIssued(data)
		return records.Document{Issued: issued}, err
	}
	r, err := e.decode(bytes.NewReader(data))
	if err != nil {
		return records.Document{}, err
	}
	var facts records.Facts
	if bandsFile != "" {
		if facts.DropBands, err = readBands(bandsFile); err != nil {
			return records.Document{}, err
		}
	}
	findings := rules.Evaluate(r, facts)
	return records.Document{Issued: records.Issued{Record: r, Findings: findings,
		Standing: records.StandingOf(findings)}}, nil
}

// writeWhole writes the file beside its place and renames it, so that a
// failure leaves no half file.
func writeWhole(name string, data []byte) error {
	tmp, err := os.CreateTemp(dirOf(name), ".gaugebook-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	_, err = tmp.Write(data)
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	if err := os.Chmod(tmp.Name(), 0o644); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), name)
}

type schemaCommand struct{}

func (schemaCommand) Run(e *env) error {
	_, err := e.stdout.Write(records.Schema())
	return err
}
