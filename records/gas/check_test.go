package gas_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gaugebook/records/gas"
)

const checkDir = "../../testdata/gas"

// checkFiles names, for every file of check values, the quantities it may
// hold. TestEveryCheckFileIsRead fails when a file is missing here.
var checkFiles = map[string]map[string]quantity{
	"fuel.csv":           fuelQuantities,
	"products.csv":       productQuantities,
	"combustion.csv":     combustionQuantities,
	"heat.csv":           heatQuantities,
	"volume.csv":         volumeQuantities,
	"pipe_discharge.csv": flowQuantities,
	"water.csv":          waterQuantities,
	"water_iapws.csv":    waterQuantities,
	"flue_vent.csv":      flueQuantities,
	"uncertainty.csv":    uncertaintyQuantities,
}

const fluidsFile = "pipe_loss_fluids.csv" // one column an input, see flow_test.go

// quantity computes one number from the inputs of a row.
type quantity func(in inputs) (float64, error)

// inputs are the name=value pairs of a row; an unknown name fails the test.
type inputs struct {
	t     *testing.T
	pairs map[string]string
	order []string
}

func (in inputs) text(name string) string {
	in.t.Helper()
	v, ok := in.pairs[name]
	if !ok {
		in.t.Fatalf("row has no input %q", name)
	}
	return v
}

func (in inputs) num(name string) float64 {
	in.t.Helper()
	v, err := strconv.ParseFloat(in.text(name), 64)
	if err != nil {
		in.t.Fatalf("input %s: %v", name, err)
	}
	return v
}

func (in inputs) fuel() gas.Fuel {
	in.t.Helper()
	f, ok := gas.FuelByCode(gas.FuelCode(in.text("fuel")))
	if !ok {
		in.t.Fatalf("no fuel %q", in.text("fuel"))
	}
	return f
}

// readCheckRows reads a file into rows by column name. It fails on a row
// without a source, without a known confidence, or with a repeated id.
func readCheckRows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join(checkDir, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if problem := checkTable(records); problem != "" {
		t.Fatalf("%s: %s", name, problem)
	}
	var rows []map[string]string
	for _, r := range records[1:] {
		row := map[string]string{}
		for i, column := range records[0] {
			row[column] = r[i]
		}
		rows = append(rows, row)
	}
	return rows
}

var confidences = []string{"H", "M", "L", "mem", "common", "derived"}

// checkTable returns what is wrong with a table of check values, or "".
func checkTable(records [][]string) string {
	if len(records) < 2 {
		return "no rows"
	}
	header := records[0]
	id, source, confidence := slices.Index(header, "id"), slices.Index(header, "source"),
		slices.Index(header, "confidence")
	if id < 0 || source < 0 || confidence < 0 {
		return "no column id, source or confidence"
	}
	seen := map[string]bool{}
	for _, r := range records[1:] {
		switch {
		case r[id] == "" || seen[r[id]]:
			return "id missing or repeated: " + r[id]
		case len(strings.TrimSpace(r[source])) < 8:
			return "row " + r[id] + " has no source"
		case !slices.Contains(confidences, r[confidence]):
			return "row " + r[id] + " has no known confidence"
		case (r[confidence] == "mem") != strings.Contains(r[source], "from memory, unconfirmed"):
			return "row " + r[id] + ": a recalled value says so in source and confidence"
		case (r[confidence] == "common") != strings.Contains(r[source], "common practice, no published source"):
			return "row " + r[id] + ": common practice says so in source and confidence"
		}
		seen[r[id]] = true
	}
	return ""
}

func TestCheckTableRefusesRowsWithoutSourceOrConfidence(t *testing.T) {
	header := []string{"id", "quantity", "inputs", "expected", "unit", "tolerance", "source", "confidence"}
	for _, c := range []struct {
		name, source, confidence string
		wantOK                   bool
	}{
		{"complete", "BS 6891:2005", "H", true},
		{"no source", " ", "H", false},
		{"no confidence", "BS 6891:2005", "", false},
		{"unknown confidence", "BS 6891:2005", "sure", false},
		{"recalled, not said so", "BS 6891:2005", "mem", false},
		{"recalled, said so in the source only", "x, from memory, unconfirmed", "H", false},
		{"common, not said so", "everybody knows", "common", false},
	} {
		got := checkTable([][]string{header, {"1", "q", "a=1", "1", "m", "0", c.source, c.confidence}})
		if (got == "") != c.wantOK {
			t.Errorf("%s: problem %q", c.name, got)
		}
	}
}

func TestAgainstPublishedValues(t *testing.T) {
	outside := 0
	for name, quantities := range checkFiles {
		for _, row := range readCheckRows(t, name) {
			t.Run(name+"/"+row["id"], func(t *testing.T) { runCheckRow(t, row, quantities) })
			outside++
		}
	}
	if outside < 300 {
		t.Errorf("only %d check rows, want at least 300", outside)
	}
}

func runCheckRow(t *testing.T, row map[string]string, quantities map[string]quantity) {
	compute, ok := quantities[row["quantity"]]
	if !ok {
		t.Fatalf("no quantity %q", row["quantity"])
	}
	in := inputs{t: t, pairs: map[string]string{}}
	for _, pair := range strings.Fields(row["inputs"]) {
		name, value, ok := strings.Cut(pair, "=")
		if !ok {
			t.Fatalf("input %q is not name=value", pair)
		}
		in.pairs[name], in.order = value, append(in.order, name)
	}
	got, err := compute(in)
	if err != nil {
		t.Fatal(err)
	}
	want := parseNumber(t, row["expected"])
	tolerance, relative := strings.CutSuffix(row["tolerance"], "%")
	allowed := parseNumber(t, tolerance)
	if relative {
		allowed *= math.Abs(want) / 100
	}
	if math.IsNaN(got) || math.Abs(got-want) > allowed {
		t.Errorf("%s of %s = %.6g %s, want %s ± %s (%s)", row["quantity"], row["inputs"],
			got, row["unit"], row["expected"], row["tolerance"], row["source"])
	}
}

func parseNumber(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestEveryCheckFileIsRead(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(checkDir, "*.csv"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no check files: %v", err)
	}
	for _, f := range files {
		if base := filepath.Base(f); checkFiles[base] == nil && base != fluidsFile {
			t.Errorf("no test reads %s", base)
		}
	}
}

func TestEveryQuantityIsChecked(t *testing.T) {
	used := map[string]bool{}
	for name := range checkFiles {
		for _, row := range readCheckRows(t, name) {
			used[row["quantity"]] = true
		}
	}
	for name, quantities := range checkFiles {
		for q := range quantities {
			if !used[q] {
				t.Errorf("%s: quantity %s has no check row", name, q)
			}
		}
	}
}
