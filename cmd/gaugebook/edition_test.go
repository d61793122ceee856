package main

import (
	"encoding/json"
	"maps"
	"os/exec"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// inventedEdition is an edition whose every figure differs from the real ones.
const inventedEdition = `	{
		Code: "edition-0", Name: "edition 0", Label: "Edition 0 (invented)",
		Source: Source{Document: "Invented procedure", Edition: "Edition 0", From: MustDate("2026-06-01"),
			Until: MustDate("2026-09-15"), Confidence: Practice},
		MostVolumeM3: 0.02, LetByMbar: [2]float64{5, 6}, LetByLeastMin: 3,
		TestMbar: [2]float64{22, 24}, ReducedTestMbar: 19, StabiliseLeastMin: 4, TestLeastMin: 5,
		Movement: []GaugeMovement{{GaugeElectronic, 0.1, Practice}, {GaugeWater, 0.5, Practice}},
		Drops: []MeterDrop{
			{Meter: "none", UpToMM: 40, Mbar: 2, Confidence: Practice},
			{Meter: "e6", UpToMM: 40, Mbar: 2, Confidence: Practice},
			{Meter: "g4", UpToMM: 40, Mbar: 3, Confidence: Practice},
			{Meter: "g10", UpToMM: 40, Mbar: 1, Confidence: Practice},
		},
		PurgeVolumes: 2, PurgeSource: Practice,
	},
`

// addedEdition puts one more entry into the list of editions, the two real ones
// moved apart to make room for it, and changes nothing else.
var addedEdition = map[string][]string{
	"tightness_edition.go": {
		"var TightnessEditions = []ProcedureEdition{\n",
		"var TightnessEditions = []ProcedureEdition{\n" + inventedEdition,
		`Until: MustDate("2026-09-30")`, `Until: MustDate("2026-06-15")`,
		`From: MustDate("2026-03-01")`, `From: MustDate("2026-09-01")`,
	},
}

// zeroRecord is the sample on a day, tested as edition 0 asks, with changes;
// nil removes a value.
func zeroRecord(t *testing.T, day string, changes map[string]any) string {
	t.Helper()
	r := rules.Sample()
	r.WorkDate = records.MustDate(day)
	raw, err := records.EncodeRecord(r)
	if err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	sections := doc["sections"].(map[string]any)
	// What the later program asks for otherwise has no part in this.
	delete(sections, "heat")
	delete(sections["appliance"].(map[string]any), "serial")
	values := sections["tightness"].(map[string]any)
	maps.Copy(values, map[string]any{"edition": nil, "let_by_pressure_mbar": 5.5, "let_by_min": 3,
		"test_pressure_mbar": 23, "stabilise_min": 4, "test_min": 5})
	maps.Copy(values, changes)
	maps.DeleteFunc(values, func(_ string, v any) bool { return v == nil })
	if raw, err = json.Marshal(doc); err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// A new edition is data: with one entry more in the list it is offered, chosen
// by the date, judged by its own figures and listed among the rules.
func TestAnEditionIsData(t *testing.T) {
	t.Parallel()
	program := later(t)
	run := func(stdin string, args ...string) string {
		t.Helper()
		cmd := exec.Command(program, args...)
		cmd.Stdin = strings.NewReader(stdin)
		var errs strings.Builder
		cmd.Stderr = &errs
		out, err := cmd.Output()
		if cmd.ProcessState == nil || cmd.ProcessState.ExitCode() == exitBad {
			t.Fatalf("%v: %v: %s", args, err, errs.String())
		}
		return string(out)
	}
	finding := func(rule, day string, changes map[string]any) records.Finding {
		t.Helper()
		var judged records.Evaluation
		out := run(zeroRecord(t, day, changes), "check", "--json", "-")
		if err := json.Unmarshal([]byte(out), &judged); err != nil {
			t.Fatal(err)
		}
		for _, f := range judged.Findings {
			if f.Rule == rule {
				return f
			}
		}
		t.Fatalf("no finding for %s", rule)
		return records.Finding{}
	}
	const only0 = "2026-07-01"
	for _, c := range []struct {
		rule, day string
		changes   map[string]any
		want      records.Outcome
		shows     string
	}{
		{"edition", "2026-05-31", nil, records.Inside, "edition 3 only"},
		{"edition", "2026-05-31", map[string]any{"edition": "edition-0"}, records.Outside, "not in force on 31 May"},
		{"edition", "2026-06-01", nil, records.Missing, "edition 0 or edition 3 could be used"},
		{"edition", "2026-06-01", map[string]any{"edition": "edition-4"}, records.Missing, "edition 0 or edition 3 "},
		{"edition", "2026-06-15", map[string]any{"edition": "edition-0"}, records.Inside, "Edition 0 (invented)"},
		{"edition", "2026-06-16", nil, records.Inside, "edition 0 only"},
		{"edition", "2026-08-31", nil, records.Inside, "edition 0 only"},
		{"edition", "2026-09-01", nil, records.Missing, "edition 0 or edition 4 could be used"},
		{"edition", "2026-09-15", map[string]any{"edition": "edition-4"}, records.Inside, "Edition 4"},
		{"edition", "2026-09-16", nil, records.Inside, "edition 4 only"},
		{"edition", only0, map[string]any{"edition": "edition-4"}, records.Outside, "not in force on 1 July 2026"},
		{"scope", only0, nil, records.Inside, "at most 0.02 m³"},
		{"scope", only0, map[string]any{"meter": "g10"}, records.Outside, "at most 0.02 m³"},
		{"let_by_pressure", only0, map[string]any{"let_by_pressure_mbar": 6}, records.Inside, "5 to 6 mbar"},
		{"let_by_pressure", only0, map[string]any{"let_by_pressure_mbar": 6.01}, records.Outside, "5 to 6 mbar"},
		{"let_by_pressure", "2026-09-01", map[string]any{"edition": "edition-4", "let_by_pressure_mbar": 8.5},
			records.Inside, "7 to 10 mbar"},
		{"let_by_time", only0, map[string]any{"let_by_min": 2.9}, records.Outside, "at least 3 min"},
		{"let_by_rise", only0, map[string]any{"let_by_rise_mbar": 0.11}, records.Outside, "at most 0.1 mbar"},
		{"stabilise", only0, map[string]any{"stabilise_min": 3.9}, records.Outside, "at least 4 min"},
		{"duration", only0, map[string]any{"test_min": 4.9}, records.Outside, "at least 5 min"},
		{"test_pressure", only0, map[string]any{"test_pressure_mbar": 22}, records.Inside, "22 to 24 mbar"},
		{"test_pressure", only0, map[string]any{"test_pressure_mbar": 19}, records.Inside, "22 mbar could not be"},
		{"test_pressure", only0, map[string]any{"test_pressure_mbar": 18.99}, records.Outside, "Below 19 mbar"},
		{"drop", only0, map[string]any{"drop_mbar": 0.1}, records.Inside, "No perceptible movement"},
		{"drop", only0, map[string]any{"drop_mbar": 3}, records.Inside, "at most 3 mbar"},
		{"drop", only0, map[string]any{"drop_mbar": 3.01}, records.Outside, "at most 3 mbar"},
		{"drop", only0, map[string]any{"drop_mbar": 0.5, "gauge_kind": "water"}, records.Inside, "at most 0.5 mbar"},
		{"pipework", only0, map[string]any{"drop_mbar": 2}, records.Exempt, "Edition 0 does not ask for it"},
		{"purged", only0, nil, records.Inside, "2 × 0.012389 m³ = 0.0248 m³"},
	} {
		f := finding("tightness."+c.rule, c.day, c.changes)
		raw, _ := json.Marshal(f)
		if f.Outcome != c.want || !strings.Contains(string(raw), c.shows) {
			t.Errorf("%s on %s with %v: want %s and %q: %s", c.rule, c.day, c.changes, c.want, c.shows, raw)
		}
	}
	listed := run("", "rules")
	for _, want := range []string{"Invented procedure, Edition 0, scope", "5 to 6 mbar", "19 to 24 mbar",
		"from 1 June 2026, until 15 September 2026", "Invented procedure, Edition 0, permissible drop"} {
		if !strings.Contains(listed, want) {
			t.Errorf("gaugebook rules does not list %q", want)
		}
	}
	if !strings.Contains(run("", "schema"), `"edition-0"`) {
		t.Error("gaugebook schema does not offer the edition")
	}
	if strings.Contains(command(t, nil, "rules").out, "Invented procedure") {
		t.Error("the program as it is knows the invented edition")
	}
}
