package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"gaugebook/pdf/pdftest"
	"gaugebook/records"
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
	out, err := exec.Command("go", "build", "-ldflags=-s -w", "-overlay", file, "-o", exe, ".").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return exe, nil
})

func later(tb testing.TB) string {
	tb.Helper()
	name, err := laterProgram()
	if err != nil {
		tb.Fatal(err)
	}
	return name
}

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

	later := later(t)
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
	pdftest.Run(t, "pdfdetach", "-saveall", "-o", dir, write(t, dir, "was.pdf", string(file)))
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
