package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/pdf/pdftest"
	"gaugebook/records"
	"gaugebook/records/rules"
)

const samples = "../../testdata/records"

// testDay is the day on which commands run in these tests: the sample records
// must not lie in the future.
func testDay() time.Time { return time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC) }

// outcome is what a command left behind.
type outcome struct {
	code     int
	out, err string
}

// command runs one command in this process.
func command(tb testing.TB, stdin io.Reader, args ...string) outcome {
	tb.Helper()
	var out, errs bytes.Buffer
	code := run(context.Background(), args, stdin, &out, &errs, testDay)
	return outcome{code, out.String(), errs.String()}
}

func TestUsage(t *testing.T) {
	for _, c := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"no command", nil, exitBad, "expected one of"},
		{"unknown command", []string{"frobnicate"}, exitBad, "frobnicate"},
		{"unknown flag", []string{"check", "--loudly", "x.json"}, exitBad, "--loudly"},
		{"no file", []string{"check"}, exitBad, "<file>"},
		{"two files", []string{"check", "a.json", "b.json"}, exitBad, "b.json"},
		{"render without a place", []string{"render", samples + "/clear-combination-england.json"}, exitBad, "--out"},
		{"a number for a flag", []string{"serve", "--grace", "soon"}, exitBad, "--grace"},
		{"unknown zone", []string{"serve", "--data", "x", "--zone", "Nowhere"}, exitBad, `--zone "Nowhere"`},
		{"wrong range", []string{"serve", "--data", "x", "--proxies", "everybody"}, exitBad,
			`--proxies "everybody": give an address range`},
		{"wrong mail server", []string{"serve", "--data", "x", "--smtp", "post:secret@office"}, exitBad, "--smtp"},
		{"unknown mail scheme", []string{"serve", "--data", "x", "--smtp", "ftp://mail.example"}, exitBad,
			`scheme "ftp"`},
		{"verify without a file", []string{"verify", "nothing.pdf"}, exitBad, "nothing.pdf"},
		{"no register to back up", []string{"backup", "--data", "nowhere", "copy.db"}, exitBad,
			"there is no register in"},
		{"no register to audit", []string{"audit", "--data", "nowhere"}, exitBad, "there is no register in"},
		{"owner without a name", []string{"owner", "--email", "a@b.example"}, exitBad, "--name"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			got := command(t, strings.NewReader(""), c.args...)
			if got.code != c.code || !strings.Contains(got.err, c.says) {
				t.Errorf("exit %d, said %q; want %d and %q", got.code, got.err, c.code, c.says)
			}
			if strings.Contains(got.err, "secret") {
				t.Errorf("gave away a password: %s", got.err)
			}
			if left, _ := os.ReadDir("."); len(left) > 0 {
				t.Errorf("left %v behind", left)
			}
		})
	}
}

func TestHelp(t *testing.T) {
	got := command(t, nil, "--help")
	if got.code != exitClear || got.err != "" {
		t.Fatalf("exit %d: %s", got.code, got.err)
	}
	for _, name := range []string{"serve", "demo", "owner", "check", "render", "verify", "schema", "rules", "backup",
		"audit"} {
		if !strings.Contains(got.out, "\n  "+name+" ") {
			t.Errorf("help does not list %s", name)
		}
		one := command(t, nil, name, "--help")
		if one.code != exitClear || !strings.Contains(one.out, "gaugebook "+name) {
			t.Errorf("%s --help: exit %d, %s%s", name, one.code, one.out, one.err)
		}
	}
}

func TestSchemaCommand(t *testing.T) {
	got := command(t, nil, "schema")
	if got.code != exitClear || got.out != string(records.Schema()) || !json.Valid([]byte(got.out)) {
		t.Errorf("exit %d, %d bytes", got.code, len(got.out))
	}
}

func TestRulesCommand(t *testing.T) {
	plain, asJSON := command(t, nil, "rules"), command(t, nil, "rules", "--json")
	var lines []struct {
		ID     string          `json:"id"`
		Limits []records.Limit `json:"limits"`
	}
	if err := json.Unmarshal([]byte(asJSON.out), &lines); err != nil || plain.code != exitClear ||
		asJSON.code != exitClear {
		t.Fatalf("%v, exits %d and %d", err, plain.code, asJSON.code)
	}
	if len(lines) != len(rules.All()) {
		t.Errorf("%d of %d rules", len(lines), len(rules.All()))
	}
	for _, l := range lines {
		if !strings.Contains("\n"+plain.out, "\n"+l.ID+"\n") {
			t.Errorf("%s is missing from the plain list", l.ID)
		}
		for _, limit := range l.Limits {
			if !strings.Contains(plain.out, limit.Text) || limit.Source.Document == "" {
				t.Errorf("%s: limit %q is not listed, or has no source", l.ID, limit.Text)
			}
		}
		one := command(t, nil, "rules", "--explain", l.ID)
		if one.code != exitClear || !strings.HasPrefix(one.out, l.ID+"\n") ||
			!strings.Contains(one.out, "Example, an invented record: ") {
			t.Errorf("--explain %s: exit %d\n%s%s", l.ID, one.code, one.out, one.err)
		}
	}
	wrong := command(t, nil, "rules", "--explain", "no.such")
	if wrong.code != exitBad || !strings.Contains(wrong.err, "--explain: “no.such” is not accepted") {
		t.Errorf("exit %d: %s", wrong.code, wrong.err)
	}
}

func TestRender(t *testing.T) {
	t.Parallel()
	for _, name := range sampleFiles(t) {
		t.Run(filepath.Base(name), func(t *testing.T) {
			t.Parallel()
			out := filepath.Join(t.TempDir(), "record.pdf")
			if got := command(t, nil, "render", name, "-o", out); got.code != exitClear {
				t.Fatalf("exit %d: %s", got.code, got.err)
			}
			first := read(t, out)
			pdftest.CheckFile(t, out)
			if text := pdftest.Text(t, out); !strings.Contains(strings.ToLower(text), "not issued") {
				t.Errorf("a draft is not marked as one:\n%.600s", text)
			}
			if got := command(t, bytes.NewReader(read(t, name)), "render", "-", "-o", out); got.code != exitClear {
				t.Fatalf("from standard input: exit %d: %s", got.code, got.err)
			}
			if !bytes.Equal(first, read(t, out)) {
				t.Error("the same record gave other bytes")
			}
			// What was not issued cannot pass for a record that was.
			got := command(t, nil, "verify", "--data", t.TempDir(), out)
			if got.code != exitAdverse || !strings.Contains(got.out, "no seal") {
				t.Errorf("verify: exit %d: %s%s", got.code, got.out, got.err)
			}
		})
	}
}

func TestRenderLeavesNothingHalf(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	old := write(t, dir, "record.pdf", "what was here before")
	got := command(t, nil, "render", samples+"/bad/unit-typed.json", "-o", old)
	if got.code != exitBad || !strings.Contains(got.err, "tightness.drop_mbar") {
		t.Errorf("exit %d: %s", got.code, got.err)
	}
	if string(read(t, old)) != "what was here before" {
		t.Error("the file that was there is gone")
	}
	got = command(t, nil, "render", samples+"/clear-combination-england.json", "-o", filepath.Join(dir, "no", "x.pdf"))
	if got.code != exitBad || !strings.Contains(got.err, "--out") {
		t.Errorf("exit %d: %s", got.code, got.err)
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
}

func TestVerifyOtherFiles(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, content := range map[string]string{"empty.pdf": "", "text.pdf": "this is no PDF",
		"cut.pdf": "%PDF-1.7\n1 0 obj\n<<"} {
		file := write(t, dir, name, content)
		for _, args := range [][]string{{"verify", "--data", dir, file}, {"verify", "--json", "--data", dir, file}} {
			if got := command(t, nil, args...); got.code != exitAdverse || !strings.Contains(got.out, "no seal") {
				t.Errorf("%v: exit %d: %s%s", args, got.code, got.out, got.err)
			}
		}
	}
	got := command(t, nil, "verify", dir)
	if got.code != exitBad {
		t.Errorf("a folder: exit %d: %s%s", got.code, got.out, got.err)
	}
	got = command(t, nil, "verify", "--key", filepath.Join(dir, "text.pdf"), filepath.Join(dir, "text.pdf"))
	if got.code != exitBad || !strings.Contains(got.err, "not a key in PEM form") {
		t.Errorf("a wrong key: exit %d: %s", got.code, got.err)
	}
}

func read(tb testing.TB, name string) []byte {
	tb.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		tb.Fatal(err)
	}
	return data
}
