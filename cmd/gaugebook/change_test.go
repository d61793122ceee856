package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"gaugebook/pdf/pdftest"
	"gaugebook/records"
	"gaugebook/records/rules"
)

// laterProgram is the program as it would be after some fields of a record were
// changed and an edition of the tightness procedure was added: files of package
// records, edited as DEVELOPERS.md says, are laid over the real ones. It is
// built once.
var laterProgram = sync.OnceValues(func() (string, error) {
	if _, err := binary(); err != nil {
		return "", err
	}
	dir, err := os.MkdirTemp(built.dir, "later-*")
	if err != nil {
		return "", err
	}
	var overlay struct{ Replace map[string]string }
	overlay.Replace = map[string]string{}
	for _, edits := range []map[string][]string{changedFields, addedEdition} {
		for name, swaps := range edits {
			from, err := filepath.Abs("../../records/" + name)
			if err != nil {
				return "", err
			}
			text, err := os.ReadFile(from)
			if err != nil {
				return "", err
			}
			for i := 0; i < len(swaps); i += 2 {
				if strings.Count(string(text), swaps[i]) != 1 {
					return "", fmt.Errorf("%s does not hold %q once", name, swaps[i])
				}
				text = []byte(strings.Replace(string(text), swaps[i], swaps[i+1], 1))
			}
			overlay.Replace[from] = filepath.Join(dir, name)
			if err := os.WriteFile(overlay.Replace[from], text, 0o600); err != nil {
				return "", err
			}
		}
	}
	plan, err := json.Marshal(overlay)
	if err != nil {
		return "", err
	}
	file, exe := filepath.Join(dir, "overlay.json"), filepath.Join(dir, "gaugebook")
	if err := os.WriteFile(file, plan, 0o600); err != nil {
		return "", err
	}
	return exe, runTool("go", "build", "-ldflags=-s -w", "-overlay", file, "-o", exe, ".")
})

// changedFields narrows two ranges, retires a field and a code, and renames a
// field.
var changedFields = map[string][]string{
	"section_tightness.go": {
		`number("tightness.test_min", "Test time", "min", 0, 120, 1)`,
		`number("tightness.test_min", "Test time", "min", 4, 120, 1)`,
	},
	"section_heat.go": {
		`number("heat.seconds",`, `number("heat.time_s",`,
		`Choice{MeterMetric, "Cubic metres"}, `, ``,
		`HeatMeter, HeatOthersOff, HeatTime`, `HeatMeter, HeatTime`,
		`	Exempt: func`, `	Retired: fields(HeatOthersOff),
	Past: map[string]Past{
		"heat.meter":  {Choices: []Choice{{MeterMetric, "Cubic metres"}}},
		"heat.time_s": {Keys: []string{"heat.seconds"}},
	},
	Exempt: func`,
	},
	"section_appliance.go": {`, ApplianceSerial,`, `,`}, // forgotten, as nobody should
}

// A register that was written before fields were narrowed, retired and renamed
// opens with the later program: the issued record verifies, shows, prints and
// travels as it was; the draft says what no longer fits and loses nothing.
func TestFieldsChangeUnderARegister(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	newOwner(t, dir)
	f := setUp(t, serve(t, dir))
	_, appliance := f.addHome("14 Larkspur Rise", "imogen.farrow@example.org")
	record := f.startRecord(appliance, records.Commissioning, today(t))
	f.fillRecord(record)
	is := f.issueRecord(record)
	file := f.office.get("/records/" + record + "/pdf").body
	token := letterInFolder(t, f, is, file)
	key := newKey(t, f)
	var was apiAnswer
	(client{f, key}).call(http.MethodGet, "/records/"+record, nil, &was)
	draft := f.startRecord(appliance, records.Service, today(t))
	f.fillSection(draft, "heat")
	f.fillSection(draft, "tightness")
	lines := exported(t, program(t), dir, record)

	later := made(t, laterProgram)
	f.exe = later
	f.crash()

	f.visitor(t).get("/v/"+is.number+"/"+is.code).says("issued here and is in force", "Combination boiler")
	f.visitor(t).get("/r/"+token).says(is.number, "Tarnwick TC 24")
	f.office.get("/records/"+record).says("In force", "every reading inside or exempt", "Also on this record",
		"Heat input: All other appliances off yes", "Appliance: Serial")
	f.office.get("/appliances/"+appliance).says("Tarnwick TC 24", "Appliance: Serial")
	if got := f.office.get("/records/" + record + "/pdf").body; !bytes.Equal(got, file) {
		t.Error("the print is not the one that was issued")
	}
	var got apiAnswer
	if status := (client{f, key}).call(http.MethodGet, "/records/"+record, nil, &got); status != http.StatusOK ||
		!bytes.Equal(got.Record, was.Record) || !bytes.Equal(got.Findings, was.Findings) {
		t.Errorf("status %d; the API gives\n%s\nnot\n%s", status, got.Record, was.Record)
	}
	oldDraft(t, f, draft)
	f.stop()

	for _, exe := range []string{program(t), later} {
		if out := pdftest.Run(t, exe, "audit", "--data", dir); !strings.Contains(out, "follows from the one before") {
			t.Errorf("audit: %s", out)
		}
	}
	if again := exported(t, later, dir, record); again != lines {
		t.Errorf("the later program exports\n%.600s\nnot\n%.600s", again, lines)
	}
	printed := filepath.Join(dir, "printed.pdf")
	pdftest.Run(t, "pdfdetach", "-saveall", "-o", dir, write(t, dir, "was.pdf", file))
	pdftest.Run(t, later, "render", filepath.Join(dir, "record.json"), "-o", printed)
	text := fold(pdftest.Text(t, printed, "-layout"))
	for _, want := range []string{"No longer asked for", "All other appliances off Yes", "Cubic metres",
		f.sampleEntries("heat")["heat.seconds"] + " s", "20.4 mbar", "Serial"} {
		if !strings.Contains(text, want) {
			t.Errorf("the later program's print does not say %q", want)
		}
	}
	if schema := pdftest.Run(t, later, "schema"); strings.Contains(schema, "others_off") ||
		strings.Contains(schema, "Cubic metres") || !strings.Contains(schema, `"time_s"`) {
		t.Error("the schema offers what is no longer asked for, or lacks what is")
	}
	pdftest.Run(t, later, "verify", "--data", dir, filepath.Join(dir, "was.pdf"))
}

// exported returns the line of one record in an export of the register.
func exported(t *testing.T, exe, dir, record string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "register.jsonl")
	pdftest.Run(t, exe, "export", "--data", dir, out)
	for _, line := range strings.Split(string(read(t, out)), "\n") {
		if strings.Contains(line, `"id":"`+record+`"`) && strings.HasPrefix(line, `{"line":"record"`) {
			return line
		}
	}
	t.Fatal("the record is not in the export")
	return ""
}

// oldDraft goes on with a draft of f.
func oldDraft(t *testing.T, f *firm, draft string) {
	path := "/records/" + draft
	heat, tightness := path+"/sections/heat", path+"/sections/tightness"
	f.engineer.get(tightness).says("“2” is not accepted", "from 4 to 120 min")
	f.engineer.get(heat).says("“metric” is not accepted")
	if in := f.engineer.get(heat).form(heat).values; in.Get("heat.time_s") == "" || in.Has("heat.others_off") {
		t.Errorf("the form holds %v", in)
	}
	review := f.engineer.get(path+"/review").says("Test time", "All other appliances off: this is no longer asked "+
		"for", "Appliance: serial: this is no longer asked for", "Before this record can be issued")
	revision := f.engineer.get(heat).form(heat).values["revision"]
	f.engineer.send(path+"/issue", map[string][]string{"revision": revision}).was(http.StatusConflict).
		says("Not issued", "Test time: “2” was not accepted: put it right or leave it out")
	for review.has(path + "/leave-out") {
		review = review.form(path + "/leave-out").press().was(http.StatusOK).says("Left out.")
	}
	review.saysNot("no longer asked for")
	f.engineer.get(tightness).fill(tightness,
		fields{"tightness.test_min": "4.5"}).press("").was(http.StatusOK)
	f.engineer.get(heat).fill(heat, fields{"heat.meter": "imperial"}).press("").was(http.StatusOK)
	f.engineer.get(path + "/review").saysNot("Entries that were not accepted")
	if p := f.engineer.send(path+"/leave-out", map[string][]string{"key": {"heat.seconds"},
		"revision": {"1"}}); p.status != http.StatusNotFound {
		t.Errorf("leaving out what is not there: status %d", p.status)
	}
	f.office.send(path+"/leave-out", map[string][]string{"revision": {"1"}}).was(http.StatusForbidden)
}

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
	program := made(t, laterProgram)
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
