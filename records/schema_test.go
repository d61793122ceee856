package records_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
)

// validator reads {"schema": …, "documents": […]} and writes for each document
// the first complaint of Debian's python3-jsonschema, "" for none.
const validator = `
import json, sys
from jsonschema import Draft202012Validator, FormatChecker
given = json.load(sys.stdin)
Draft202012Validator.check_schema(given["schema"])
v = Draft202012Validator(given["schema"], format_checker=FormatChecker())
def first(d):
    for e in v.iter_errors(d):
        return "/".join(map(str, e.absolute_path)) + ": " + e.message[:200]
    return ""
json.dump([first(d) for d in given["documents"]], sys.stdout)
`

func validate(t *testing.T, docs []json.RawMessage) []string {
	t.Helper()
	in, err := json.Marshal(map[string]any{"schema": json.RawMessage(records.Schema()), "documents": docs})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", validator)
	cmd.Stdin = bytes.NewReader(in)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("needs Debian's python3 and python3-jsonschema: %v\n%s", err, stderr.String())
	}
	var complaints []string
	if err := json.Unmarshal(out, &complaints); err != nil || len(complaints) != len(docs) {
		t.Fatalf("%d complaints for %d documents: %v", len(complaints), len(docs), err)
	}
	return complaints
}

// verdict is one document and whether it is a record.
type verdict struct {
	name string
	doc  json.RawMessage
	good bool
}

// changed returns the clear sample with the value at a path replaced by raw
// JSON; "-" takes it away.
func changed(t *testing.T, path, raw string) json.RawMessage {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(sampleFiles(t)["clear-combination-england"]))
	d.UseNumber()
	var doc map[string]any
	if err := d.Decode(&doc); err != nil {
		t.Fatal(err)
	}
	at, names := doc, strings.Split(path, "/")
	for _, name := range names[:len(names)-1] {
		next, ok := at[name].(map[string]any)
		if !ok {
			next = map[string]any{}
			at[name] = next
		}
		at = next
	}
	last := names[len(names)-1]
	if raw == "-" {
		delete(at, last)
	} else {
		at[last] = json.RawMessage(raw)
	}
	out, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// valuesOf gives JSON values on both sides of every edge of a field.
func valuesOf(f *records.Field) (good, bad []string) {
	quoted := func(s string) string { b, _ := json.Marshal(s); return string(b) }
	plain := func(x float64) string { return records.FormatNumber(x, -1) }
	switch f.Kind {
	case records.NumberKind:
		return []string{plain(f.Min), plain(f.Max)},
			[]string{plain(f.Min - 1), plain(f.Max + 1), quoted(plain(f.Max)), "true", "[1]"}
	case records.ChoiceKind:
		for _, c := range f.Choices {
			good = append(good, quoted(c.Code))
		}
		return good, []string{`"no such code"`, "1", quoted(strings.ToUpper(f.Choices[0].Code))}
	case records.FlagKind:
		return []string{"true", "false"}, []string{`"yes"`, "1", "0"}
	case records.ClockKind:
		return []string{`"00:00"`, `"23:59"`}, []string{`"24:00"`, `"12:60"`, `"9:05"`, `"09:05:00"`, "905"}
	case records.DateKind:
		return []string{`"2026-11-25"`, `"2028-02-29"`}, []string{`"2026-13-01"`, `"2026-1-1"`, `"25/11/2026"`,
			`"2026-11-25T00:00"`, "2026"}
	case records.StrokesKind:
		return []string{`"M0,0"`, `"M1,2 L3,4 M5,6"`}, []string{`"L1,2"`, `"M1"`, `"M10000,1"`, `"M1,2 C3,4"`,
			`"M-1,2"`}
	case records.RowsKind:
		row := map[string]json.RawMessage{}
		for _, c := range f.Columns {
			g, b := valuesOf(c)
			row[c.Key] = json.RawMessage(g[0])
			for _, x := range b {
				bad = append(bad, fmt.Sprintf(`[{%q: %s}]`, c.Key, x))
			}
		}
		one, _ := json.Marshal(row)
		many := func(n int) string { return "[" + strings.Repeat(string(one)+",", n-1) + string(one) + "]" }
		return []string{many(1), many(f.MaxRows)}, append(bad, many(f.MaxRows+1), `[{"no_such_column": 1}]`,
			string(one), `["text"]`)
	}
	good = []string{quoted(strings.Repeat("é", f.MaxLen)), `"plain"`}
	bad = []string{quoted(strings.Repeat("x", f.MaxLen+1)), `"bell\u0007"`, "12", "true", `["x"]`}
	if f.Kind == records.NotesKind {
		return append(good, `"one\ntwo"`, `"one\r\ntwo"`), append(bad, `"one\rtwo"`)
	}
	return good, append(bad, `"one\ntwo"`, `"tab\tbed"`)
}

func documents(t *testing.T) []verdict {
	var out []verdict
	add := func(path, raw string, good bool) {
		out = append(out, verdict{path + " = " + raw[:min(len(raw), 60)], changed(t, path, raw), good})
	}
	for name, data := range sampleFiles(t) {
		out = append(out, verdict{name, data, true})
	}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			good, bad := valuesOf(f)
			for _, raw := range good {
				add("sections/"+string(s.ID)+"/"+f.Name(), raw, true)
			}
			for _, raw := range bad {
				add("sections/"+string(s.ID)+"/"+f.Name(), raw, false)
			}
		}
	}
	long := func(n int) string { return `"` + strings.Repeat("x", n) + `"` }
	for path, most := range map[string]int{
		"property/line1": 100, "property/line2": 100, "property/town": 60, "customer/name": 80, "customer/phone": 30,
		"customer/address": 200, "engineer/name": 80, "engineer/licence": 40, "firm/name": 120, "firm/address": 200,
		"firm/phone": 30, "firm/email": 120, "firm/registration": 40, "replaces": 40, "amend_reason": 2000,
		"condition/told": 120, "condition/told_how": 120,
	} {
		add(path, long(most), true)
		add(path, long(most+1), false)
		add(path, `"bell\u0007"`, false)
		add(path, "7", false)
	}
	for _, path := range []string{"schema", "purpose", "work_date", "property", "customer", "property/line1",
		"property/town", "property/postcode", "property/nation", "customer/name", "customer/tenure"} {
		add(path, "-", false)
	}
	for _, path := range []string{"engineer", "firm", "instruments", "sections", "sections/heat", "condition",
		"customer/email", "engineer/competence_until"} {
		add(path, "-", true)
	}
	for _, path := range []string{"extra", "property/extra", "customer/extra", "engineer/extra", "firm/extra",
		"sections/extra", "sections/heat/extra", "condition/extra"} {
		add(path, `"x"`, false)
		add(path, `{}`, false)
	}
	add("schema", "2", false)
	add("schema", `"1"`, false)
	add("purpose", `"visit"`, false)
	add("purpose", `"remedial"`, true)
	add("property/nation", `"Elsewhere"`, false)
	add("property/postcode", `"QV1 1AA"`, false)
	add("property/postcode", `"GIR 0AA"`, true)
	add("customer/tenure", `"squatter"`, false)
	for raw, good := range map[string]bool{`"2028-02-29"`: true, `"2027-02-29"`: false, `"2026-13-01"`: false,
		`"2026-1-1"`: false, `"25/11/2026"`: false, `20261125`: false} {
		add("work_date", raw, good)
		add("engineer/competence_until", raw, good)
	}
	gauge := func(more string) string { return `[{"id": "g", "kind": "gauge", "serial": "1"` + more + `}]` }
	add("instruments", gauge(""), true)
	add("instruments", gauge(`, "calibration_due": "2027-01-01"`), true)
	add("instruments", gauge(`, "calibration_due": "soon"`), false)
	add("instruments", gauge(`, "extra": 1`), false)
	add("instruments", `[{"id": "g", "kind": "ruler", "serial": "1"}]`, false)
	add("instruments", `[{"id": "", "kind": "gauge", "serial": "1"}]`, false)
	add("instruments", `[{"id": "g", "kind": "gauge"}]`, false)
	entry := `{"rule": "flue.joints", "class": "at risk", "found": "one\ntwo", "done": ""}`
	add("condition/entries", "["+entry+"]", true)
	add("condition/entries", `[{"rule": "flue.joints", "class": ""}]`, true)
	add("condition/entries", `[{"rule": "flue.joints", "class": "bad"}]`, false)
	add("condition/entries", `[{"rule": "flue.joints", "extra": ""}]`, false)
	add("condition/entries", `[{"class": "at risk"}]`, false)
	add("condition/entries", "["+strings.Repeat(entry+",", 200)+entry+"]", false)
	add("condition/left_off", `"yes"`, false)
	return out
}

// The schema, read by an independent validator, and the decoder agree on what
// is a record: on both sides of every edge of every field.
func TestSchemaAndDecoderAgree(t *testing.T) {
	cases := documents(t)
	docs := make([]json.RawMessage, len(cases))
	for i, c := range cases {
		docs[i] = c.doc
	}
	for i, complaint := range validate(t, docs) {
		c := cases[i]
		if (complaint == "") != c.good {
			t.Errorf("%s: good %v, validator says %q", c.name, c.good, complaint)
		}
		if _, err := records.DecodeRecord(bytes.NewReader(c.doc)); (err == nil) != c.good {
			t.Errorf("%s: good %v, decoder says %v", c.name, c.good, err)
		}
	}
	t.Logf("%d documents", len(cases))
}

func TestSchemaIsDeterministicAndComplete(t *testing.T) {
	first := records.Schema()
	for range 20 {
		if !bytes.Equal(first, records.Schema()) {
			t.Fatal("two calls differ")
		}
	}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			for _, g := range append([]*records.Field{f}, f.Columns...) {
				for _, want := range append([]string{`"` + g.Name() + `"`, g.Label, g.Hint}, g.Unit) {
					if !bytes.Contains(first, []byte(want)) {
						t.Errorf("%s: the schema does not say %q", f.Key, want)
					}
				}
			}
		}
	}
	if n, objects := bytes.Count(first, []byte(`"additionalProperties": false`)),
		bytes.Count(first, []byte(`"type": "object"`)); n != objects || n < 10 {
		t.Errorf("%d of %d objects refuse unknown names", n, objects)
	}
	var order []int
	for _, s := range records.Sections {
		order = append(order, bytes.Index(first, []byte(`"`+string(s.ID)+`": {`)))
	}
	if !slices.IsSorted(order) {
		t.Errorf("sections are not in the order of the work: %v", order)
	}
}
