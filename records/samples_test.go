package records_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

var update = flag.Bool("update", false, "rewrite the sample records in canonical order")

const samplesDir = "../testdata/records"

// sampleFiles returns the sample records by name without extension.
func sampleFiles(tb testing.TB) map[string][]byte {
	tb.Helper()
	names, err := filepath.Glob(samplesDir + "/*.json")
	if err != nil || len(names) < 6 {
		tb.Fatalf("%d sample records, want at least 6: %v", len(names), err)
	}
	out := map[string][]byte{}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			tb.Fatal(err)
		}
		out[strings.TrimSuffix(filepath.Base(name), ".json")] = data
	}
	return out
}

func sample(tb testing.TB, name string) *records.Record {
	tb.Helper()
	r, err := records.DecodeRecord(bytes.NewReader(sampleFiles(tb)[name]))
	if err != nil {
		tb.Fatalf("%s: %v", name, err)
	}
	return r
}

func encoded(tb testing.TB, r *records.Record) []byte {
	tb.Helper()
	out, err := records.EncodeRecord(r)
	if err != nil {
		tb.Fatal(err)
	}
	return out
}

func TestSamplesAreCanonical(t *testing.T) {
	for name, data := range sampleFiles(t) {
		t.Run(name, func(t *testing.T) {
			r, err := records.DecodeRecord(bytes.NewReader(data))
			if err != nil {
				t.Fatal(err)
			}
			once := encoded(t, r)
			if *update {
				var b bytes.Buffer
				if err := json.Indent(&b, once, "", "  "); err != nil {
					t.Fatal(err)
				}
				b.WriteByte('\n')
				if err := os.WriteFile(filepath.Join(samplesDir, name+".json"), b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			var compact bytes.Buffer
			if err := json.Compact(&compact, data); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(compact.Bytes(), once) {
				t.Errorf("not in canonical form; run with -update. Want\n%s\nfile\n%s", once, compact.Bytes())
			}
			again, err := records.DecodeRecord(bytes.NewReader(once))
			if err != nil {
				t.Fatal(err)
			}
			if twice := encoded(t, again); !bytes.Equal(once, twice) {
				t.Errorf("encode, decode, encode gives\n%s\nthen\n%s", once, twice)
			}
		})
	}
}

// Between them the samples use at least three fields in four, so that whatever
// reads them meets most of the document.
func TestSamplesCoverTheSections(t *testing.T) {
	used := map[string]bool{}
	for name := range sampleFiles(t) {
		for key := range sample(t, name).Values {
			used[key] = true
		}
	}
	var unused []string
	total := 0
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			total++
			if !used[f.Key] {
				unused = append(unused, f.Key)
			}
		}
	}
	if len(unused)*4 > total {
		t.Errorf("%d of %d fields are in no sample: %v", len(unused), total, unused)
	}
}

// The samples stand as their names say: those named adverse and open do, the
// rest are clear. The adverse one can be issued with its condition report.
func TestSamplesStandAsNamed(t *testing.T) {
	for name := range sampleFiles(t) {
		r := sample(t, name)
		findings := rules.Evaluate(r, records.Facts{})
		want := records.Clear
		for _, s := range []records.Standing{records.Adverse, records.Open} {
			if strings.HasPrefix(name, string(s)) {
				want = s
			}
		}
		if got := records.StandingOf(findings); got != want {
			t.Errorf("%s is %s, want %s: %+v", name, got, want, records.Unsettled(findings))
		}
		if err := records.ReadyToIssue(findings, r.Condition); (err == nil) != (want != records.Open) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
