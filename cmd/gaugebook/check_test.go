package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

func sampleFiles(tb testing.TB) []string {
	tb.Helper()
	files, err := filepath.Glob(samples + "/*.json")
	if err != nil || len(files) < 7 {
		tb.Fatalf("sample records: %v, %v", files, err)
	}
	return files
}

// What check makes of each sample record, by its name.
var standings = map[string]int{
	"adverse-combination-england.json":     exitAdverse,
	"clear-combination-england.json":       exitClear,
	"landlord-check-northern-ireland.json": exitClear,
	"lpg-system-wales.json":                exitClear,
	"open-combination-england.json":        exitOpen,
	"remedial-water-heater-amended.json":   exitClear,
	"service-fire-scotland.json":           exitClear,
}

func TestCheck(t *testing.T) {
	t.Parallel()
	standing := map[int]records.Standing{exitClear: records.Clear, exitAdverse: records.Adverse, exitOpen: records.Open}
	for _, name := range sampleFiles(t) {
		t.Run(filepath.Base(name), func(t *testing.T) {
			want, known := standings[filepath.Base(name)]
			if !known {
				t.Fatal("no standing is expected of this sample: add it")
			}
			plain := command(t, nil, "check", name)
			if plain.code != want || plain.err != "" || !strings.Contains(plain.out, "Standing: "+
				string(standing[want])+".") {
				t.Errorf("exit %d, want %d: %s\n%s", plain.code, want, plain.err, plain.out)
			}
			if !strings.Contains(plain.out, "not that an appliance is safe") {
				t.Error("the caution is missing")
			}
			asJSON := command(t, bytes.NewReader(read(t, name)), "check", "--json", "-")
			var v records.Evaluation
			if err := json.Unmarshal([]byte(asJSON.out), &v); err != nil || asJSON.code != want ||
				v.Standing != standing[want] {
				t.Fatalf("%v, exit %d, standing %q", err, asJSON.code, v.Standing)
			}
			for _, f := range v.Findings {
				if !strings.Contains(plain.out, f.Rule) {
					t.Errorf("%s is in the JSON only", f.Rule)
				}
				if !f.Settled() && !strings.Contains(plain.out, "\n"+f.Rule+": "+string(f.Outcome)+"\n  "+f.Reason) {
					t.Errorf("%s: the reason %q is not told", f.Rule, f.Reason)
				}
			}
		})
	}
}

// refusals says for each file in bad/ what its refusal must name.
var refusals = map[string][]string{
	"comma-bare.json":             {"record", "not valid JSON at byte"},
	"comma-text.json":             {"tightness.drop_mbar", "0,1", "a number from 0 to 100 mbar"},
	"unit-typed.json":             {"tightness.drop_mbar", "0.1 mbar", "a number from 0 to 100 mbar"},
	"text.json":                   {"tightness.drop_mbar", "none seen", "a number from 0 to 100 mbar"},
	"not-a-number-bare.json":      {"record", "not valid JSON at byte"},
	"not-a-number-text.json":      {"tightness.drop_mbar", "NaN", "a number from 0 to 100 mbar"},
	"infinite.json":               {"record", "not valid JSON at byte"},
	"too-large.json":              {"tightness.drop_mbar", "1e400", "a number from 0 to 100 mbar"},
	"exponent.json":               {"tightness.drop_mbar", "1e-1", "not a plain number"},
	"too-many-decimals.json":      {"tightness.drop_mbar", "0.1234", "at most 2 decimals"},
	"negative-pressure.json":      {"pressure.meter_mbar", "-20.4", "a number from 0 to 150 mbar"},
	"negative-drop.json":          {"tightness.drop_mbar", "-0.1", "a number from 0 to 100 mbar"},
	"date-to-come.json":           {"work_date", "2126-11-25", "a date not after today, 2026-12-01"},
	"date-written-otherwise.json": {"work_date", "25/11/2026", "a date as YYYY-MM-DD"},
	"date-that-is-none.json":      {"work_date", "2026-02-30", "a date as YYYY-MM-DD"},
	"unknown-meter.json":          {"tightness.meter", "g99", "one of g4, e6, g10, none"},
	"unknown-field.json":          {"tightness.drop_psi", "there is no such field"},
	"unknown-section.json":        {"sections.chimney", "there is no such section", "one of appliance, tightness"},
	"unknown-member.json":         {"colour", "there is no such field"},
	"field-twice.json":            {"tightness.drop_mbar", "given twice"},
	"cut-off.json":                {"record", "it ends too early"},
	"two-documents.json":          {"record", "something after its end"},
	"list.json":                   {"record", "array", "give an object"},
	"empty.json":                  {"record", "it is empty"},
	"several-at-once.json": {"tightness.drop_mbar", "0.1 mbar", "tightness.meter", "g99", "pressure.meter_mbar",
		"-20.4"},
}

func TestCheckRefuses(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob(samples + "/bad/*.json")
	if err != nil || len(files) != len(refusals) {
		t.Fatalf("%d files, %d refusals: %v", len(files), len(refusals), err)
	}
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			want, known := refusals[filepath.Base(name)]
			if !known {
				t.Fatal("nothing says what its refusal must name")
			}
			refused(t, command(t, nil, "check", name), want...)
			refused(t, command(t, bytes.NewReader(read(t, name)), "check", "--json", "-"), want...)
			refused(t, command(t, nil, "render", name, "-o", filepath.Join(t.TempDir(), "x.pdf")), want...)
		})
	}
}

// refused holds the outcome against what every refusal must be: exit 2, every
// word said on standard error, nothing printed, no panic, no Go words.
func refused(t *testing.T, got outcome, want ...string) {
	t.Helper()
	if got.code != exitBad || got.out != "" {
		t.Errorf("exit %d, printed %q", got.code, got.out)
	}
	for _, w := range want {
		if !strings.Contains(got.err, w) {
			t.Errorf("%q is not said in: %.400s", w, got.err)
		}
	}
	for _, line := range strings.Split(strings.TrimSpace(got.err), "\n") {
		if !strings.HasPrefix(line, "gaugebook: ") {
			t.Errorf("a line that is no message: %.200q", line)
		}
	}
	for _, leak := range []string{"panic", "goroutine", "json:", "Go value", "strconv", "runtime error"} {
		if strings.Contains(got.err, leak) {
			t.Errorf("says %q: %.400s", leak, got.err)
		}
	}
	if len(got.err) > 4000 {
		t.Errorf("%d bytes of message", len(got.err))
	}
}

func TestCheckRefusesWhatIsTooBig(t *testing.T) {
	t.Parallel()
	with := func(member string) io.Reader {
		doc := string(read(t, samples+"/bad/negative-drop.json"))
		return strings.NewReader(strings.Replace(doc, `"tightness": {"drop_mbar": -0.1}`, member, 1))
	}
	runs := strings.TrimSuffix(strings.Repeat(`{"pipe":"copper-22","length_m":1.5},`, 200), ",")
	refused(t, command(t, with(`"tightness": {"runs": [`+runs+`]}`), "check", "-"), "tightness.runs", "200",
		"at most 60 rows")
	refused(t, command(t, with(`"handover": {"notes": "`+strings.Repeat("x", 10<<20)+`"}`), "check", "-"), "record",
		"at most 1048576 bytes")
	refused(t, command(t, with(`"handover": {"notes": "`+strings.Repeat("x", 200000)+`"}`), "check", "-"),
		"handover.notes", "10000")
	refused(t, command(t, with(`"tightness": `+strings.Repeat("[", 200000)), "check", "-"), "record")
	refused(t, command(t, with(`"tightness": {"drop_mbar": 0.`+strings.Repeat("1", 300000)+`}`), "check", "-"),
		"tightness.drop_mbar", "at most 2 decimals")
}

func TestCheckRefusesWhatIsNoFile(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	refused(t, command(t, nil, "check", dir), "<file>", dir, "folder", "a record as JSON")
	refused(t, command(t, nil, "check", filepath.Join(dir, "gone.json")), "<file>", "gone.json", "no such file",
		"a record as JSON")
	refused(t, command(t, nil, "render", dir, "-o", filepath.Join(dir, "x.pdf")), "<file>", dir, "folder")
	refused(t, command(t, failing{}, "check", "-"), "the pipe burst")
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, fmt.Errorf("the pipe burst") }

// The permissible drops come from the owner's copy of the standard: with them
// a drop is judged, without them it is missing.
func TestCheckBands(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	r := rules.Sample()
	r.Values.Put(records.DropMbar.Field, "1.4")
	doc, err := records.EncodeRecord(r)
	if err != nil {
		t.Fatal(err)
	}
	file := write(t, dir, "record.json", doc)
	drop := func(args ...string) records.Outcome {
		var v records.Evaluation
		got := command(t, nil, append([]string{"check", "--json", file}, args...)...)
		if err := json.Unmarshal([]byte(got.out), &v); err != nil {
			t.Fatalf("%v: exit %d: %s", err, got.code, got.err)
		}
		for _, f := range v.Findings {
			if f.Rule == "tightness.drop" {
				return f.Outcome
			}
		}
		t.Fatal("no finding for the drop")
		return ""
	}
	band := func(drop string) string {
		return write(t, dir, "bands-"+drop+".json",
			`[{"edition":"edition-4","fuel":"natural-gas","clause":"table of an invented copy","entered_by":"A. Person","entered_on":"2026-10-02","bands":[{"up_to_m3":0.03,"drop_mbar":`+drop+`}]}]`)
	}
	if got := drop(); got != records.Missing {
		t.Errorf("without a table: %s", got)
	}
	if got := drop("--bands", band("2")); got != records.Inside {
		t.Errorf("up to 2 mbar: %s", got)
	}
	if got := drop("--bands", band("1.2")); got != records.Outside {
		t.Errorf("up to 1.2 mbar: %s", got)
	}
	for name, wrong := range map[string]string{"word.json": `[{"edition":"edition-4","bands":"two"}]`,
		"negative.json": strings.Replace(string(read(t, band("2"))), "2}", "-2}", 1), "cut.json": "[",
		"forty.json": string(read(t, band("40"))), "third.json": strings.Replace(string(read(t, band("2"))),
			"edition-4", "edition-3", 1),
		"column.json": strings.Replace(string(read(t, band("2"))), "drop_mbar", "drop", 1)} {
		got := command(t, nil, "check", file, "--bands", write(t, dir, name, wrong))
		if got.code != exitBad || !strings.Contains(got.err, name) {
			t.Errorf("%s: exit %d: %s", name, got.code, got.err)
		}
	}
}

func write[C string | []byte](tb testing.TB, dir, name string, content C) string {
	tb.Helper()
	file := filepath.Join(dir, name)
	if err := os.WriteFile(file, []byte(content), 0o600); err != nil {
		tb.Fatal(err)
	}
	return file
}

// FuzzCheck gives check any bytes: it ends with one of its exit codes, says
// why when it is 2, and what it prints as JSON is JSON.
func FuzzCheck(f *testing.F) {
	for _, pattern := range []string{"/*.json", "/bad/*.json"} {
		files, err := filepath.Glob(samples + pattern)
		if err != nil || len(files) == 0 {
			f.Fatalf("%s: %v", pattern, err)
		}
		for _, name := range files {
			f.Add(read(f, name))
		}
	}
	f.Fuzz(func(t *testing.T, doc []byte) {
		got := command(t, bytes.NewReader(doc), "check", "--json", "-")
		switch {
		case got.code == exitBad:
			if got.err == "" || got.out != "" {
				t.Errorf("refused with %q, printed %.200q", got.err, got.out)
			}
		case got.code < exitClear || got.code > exitOpen:
			t.Errorf("exit %d", got.code)
		case !json.Valid([]byte(got.out)):
			t.Errorf("not JSON: %.300s", got.out)
		}
	})
}
