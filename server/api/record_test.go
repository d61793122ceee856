package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/server/servertest"
)

// recordAnswer is a record as a program reads it.
type recordAnswer struct {
	ID          string
	ApplianceID string `json:"appliance_id"`
	Stage       records.Stage
	Standing    records.Standing
	Revision    int
	Number      string
	Code        string
	SHA256      string
	ReplacedBy  string          `json:"replaced_by"`
	Record      json.RawMessage `json:"record"`
	Findings    []records.Finding
}

// raw writes a value as JSON.
func raw(t *testing.T, v any) string {
	t.Helper()
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// sampleSections is the readings of the sample record, every one inside.
func sampleSections(t *testing.T) string { return raw(t, rules.Sample().Values) }

// TestAPIFromAddressToPrintedRecord goes the whole way that a program goes.
func TestAPIFromAddressToPrintedRecord(t *testing.T) {
	a := startAPI(t)
	p := a.as(records.RoleEngineer)

	property := into[struct{ ID string }](t, p.do(post, "/api/v1/properties",
		`{"property": {"line1": "3 Larkspur Yard", "town": "Harnby", "postcode": "AA9 2AB", "nation": "Wales"}, "customer": {"name": "Ines Tarrow", "tenure": "owner-occupier", "email": "ines@home.example"}}`).want(t, 201))
	found := p.do(get, "/api/v1/properties?postcode=aa92ab", "").want(t, 200)
	if !bytes.Contains(found.body, []byte(property.ID)) || !bytes.Contains(found.body, []byte(`"postcode":"AA9 2AB"`)) {
		t.Errorf("properties there: %s", found.body)
	}
	appliance := into[struct {
		ID     string
		Values map[string]any
	}](t, p.do(post, "/api/v1/appliances", `{"property_id": "`+property.ID+
		`", "values": {"kind": "boiler-combination", "make": "Tarnholm", "rated_input_kw": 26.70}}`).want(t, 201))
	if len(appliance.Values) != 3 || appliance.Values["make"] != "Tarnholm" {
		t.Errorf("values %v", appliance.Values)
	}

	draft := into[recordAnswer](t, p.do(post, "/api/v1/records", `{"appliance_id": "`+appliance.ID+
		`", "purpose": "commissioning", "work_date": "2026-11-25"}`).want(t, 201))
	if draft.Stage != records.Draft || draft.Revision != 1 || draft.Standing != records.Open ||
		!strings.Contains(string(draft.Record), `"rated_input_kw":26.70`) {
		t.Errorf("draft %+v", draft)
	}
	path := "/api/v1/records/" + draft.ID
	p.do(get, path+"/pdf", "").want(t, 404)
	notReady := into[problem](t, p.do(post, path+"/issue", `{"revision": 1}`).want(t, 409))
	if len(notReady.Errors) < 5 || notReady.Errors[0].Kind != records.NotReady || notReady.Errors[0].Field == "" ||
		notReady.Revision != 1 {
		t.Errorf("not ready: %+v", notReady)
	}
	saved := into[recordAnswer](t, p.do(patch, path, `{"revision": 1, "sections": `+sampleSections(t)+`}`).want(t, 200))
	if saved.Revision != 2 || saved.Standing != records.Clear {
		t.Fatalf("saved: revision %d, %s: %+v", saved.Revision, saved.Standing, records.Unsettled(saved.Findings))
	}
	woken := a.site.Woken.Load()
	issued := into[recordAnswer](t, p.do(post, path+"/issue", `{"revision": 2}`).want(t, 200))
	if issued.Number != "2026-00001" || issued.Standing != records.Clear || a.site.Woken.Load() != woken+1 {
		t.Errorf("issued %+v, outbox woken %d times", issued, a.site.Woken.Load()-woken)
	}
	now := into[recordAnswer](t, p.do(get, path, "").want(t, 200))
	if now.Stage != records.StageIssued || now.Number != issued.Number || now.Code != issued.Code ||
		now.SHA256 != issued.SHA256 {
		t.Errorf("record %+v", now)
	}
	pdf := p.do(get, path+"/pdf", "").want(t, 200)
	kept, err := a.site.Store.Records.PDF(context.Background(), draft.ID)
	if err != nil || !bytes.Equal(pdf.body, kept) ||
		pdf.header.Get("Content-Disposition") != `attachment; filename="record-2026-00001.pdf"` {
		t.Errorf("PDF %v, %v", pdf.header, err)
	}
	frozen := into[problem](t, p.do(patch, path, `{"revision": 2, "work_date": "2026-11-24"}`).want(t, 409))
	if frozen.Stage != records.StageIssued {
		t.Errorf("an issued record was not said to be one: %+v", frozen)
	}
	full := into[struct {
		Property records.Property
		Duties   []struct {
			Kind  records.DutyKind
			State records.DutyState
			Why   string
		}
		History []struct{ ID, Number string }
	}](t, p.do(get, "/api/v1/appliances/"+appliance.ID, "").want(t, 200))
	if full.Property.Nation != records.Wales || len(full.Duties) == 0 || full.Duties[0].Why == "" ||
		full.Duties[0].State == "" || len(full.History) != 1 || full.History[0].Number != issued.Number {
		t.Errorf("appliance %+v", full)
	}

	guest := program{caller: a}
	proof := into[map[string]any](t, guest.do(get, "/api/v1/verify/"+issued.Number+"/"+
		strings.ToLower(strings.ReplaceAll(issued.Code, "-", "%20")), "").want(t, 200))
	if proof["belongs"] != true || proof["stage"] != "issued" || proof["sha256"] != issued.SHA256 {
		t.Errorf("proof %v", proof)
	}
	for _, wrong := range []string{issued.Number + "/0000-0000-0000", "2026-00002/" + issued.Code,
		issued.ID + "/" + issued.Code, "%2f/%2f"} {
		guest.do(get, "/api/v1/verify/"+wrong, "").want(t, 404)
	}
}

func TestAPIChangeIsAllOrNothing(t *testing.T) {
	a := startAPI(t)
	p := a.as(records.RoleEngineer)
	r := a.site.Full()
	path := "/api/v1/records/" + r.ID
	before := p.do(get, path, "").body
	for _, c := range []struct {
		body   string
		fields []string
	}{
		{`{"revision": 2, "sections": {"tightness": {"drop_mbar": 0.2, "test_minutes": "two"}, "appliance": {"rated_input_kw": 4000}}}`,
			[]string{"appliance.rated_input_kw", "tightness.test_minutes"}},
		{`{"revision": 2, "sections": {"tightness": {"drop_mbar": 0.2}, "chimney": {}}}`, []string{"sections.chimney"}},
		{`{"revision": 2, "sections": {"tightness": {"drop_mbar": 0.2}}, "clear": ["tightness.colour"]}`,
			[]string{"clear"}},
		{`{"revision": 2, "sections": {"tightness": {"drop_mbar": 0.2}}, "work_date": "2026-11-31"}`,
			[]string{"work_date"}},
		{`{"revision": 2, "sections": {"tightness": {"drop_mbar": 0.2}}, "work_date": "2027-01-01"}`,
			[]string{"work_date"}},
		{`{"revision": 2, "sections": {"tightness": {"drop_mbar": 0.2}}, "condition": {"entries": [{"rule": "x", "class": "bad"}]}}`, []string{"condition.entries[0].class"}},
		{`{"revision": 2, "sections": {"combustion": {"analyser": "stolen-1"}}}`, []string{"combustion.analyser"}},
		{`{"revision": 2, "sections": {"tightness": {"drop_mbar": 0.2}}, "colour": 1}`, []string{"colour"}},
		{`{"sections": {"tightness": {"drop_mbar": 0.2}}}`, []string{"revision"}},
	} {
		got := into[problem](t, p.do(patch, path, c.body).want(t, 422))
		var fields []string
		for _, e := range got.Errors {
			fields = append(fields, e.Field)
		}
		if strings.Join(fields, " ") != strings.Join(c.fields, " ") {
			t.Errorf("%s\nnames %q, want %q: %s", c.body, fields, c.fields, got.Detail)
		}
	}
	if after := p.do(get, path, "").body; !bytes.Equal(after, before) {
		t.Errorf("something was kept:\n%s\n%s", before, after)
	}
	got := into[recordAnswer](t, p.do(patch, path,
		`{"revision": 2, "work_date": "2026-11-24", "clear": ["handover.notes", "tightness.drop_mbar"]}`).want(t, 200))
	if got.Revision != 3 || strings.Contains(string(got.Record), `"drop_mbar"`) ||
		!strings.Contains(string(got.Record), `"work_date":"2026-11-24"`) || got.Standing != records.Open {
		t.Errorf("cleared: %+v", got)
	}
}

func TestAPIStaleChangeNamesTheCurrentRevision(t *testing.T) {
	a := startAPI(t)
	p, r := a.as(records.RoleEngineer), a.site.Full()
	path := "/api/v1/records/" + r.ID
	p.do(patch, path, `{"revision": 2, "sections": {"appliance": {"location": "Loft"}}}`).want(t, 200)
	got := into[problem](t, p.do(patch, path,
		`{"revision": 2, "sections": {"appliance": {"location": "Cellar"}}}`).want(t, 409))
	if got.Revision != 3 || got.Stage != records.Draft || got.Kept == "" || got.Status != 409 {
		t.Errorf("stale: %+v", got)
	}
	kept, err := a.site.Store.Records.KeptVersions(context.Background(), r.ID)
	if err != nil || len(kept) != 1 || kept[0].ID != got.Kept ||
		kept[0].Record.Values.Text(records.ApplianceLocation) != "Cellar" {
		t.Errorf("kept %+v, %v", kept, err)
	}
	got = into[problem](t, p.do(post, path+"/issue", `{"revision": 2}`).want(t, 409))
	if got.Revision != 3 || got.Stage != records.Draft {
		t.Errorf("stale issue: %+v", got)
	}
	// The same change once more, as after an answer that was lost.
	again := into[recordAnswer](t, p.do(patch, path,
		`{"revision": 2, "sections": {"appliance": {"location": "Loft"}}}`).want(t, 200))
	if again.Revision != 3 {
		t.Errorf("saving what is stored made revision %d", again.Revision)
	}
}

// TestAPIFindingsAreThoseOfTheCommandLine compares bytes with the program that
// a person runs.
func TestAPIFindingsAreThoseOfTheCommandLine(t *testing.T) {
	a := startAPI(t)
	p := a.as(records.RoleEngineer)
	program := filepath.Join(t.TempDir(), "gaugebook")
	if out, err := exec.Command("go", "build", "-buildvcs=false", "-o", program,
		"gaugebook/cmd/gaugebook").CombinedOutput(); err != nil {
		t.Fatalf("building the program: %v\n%s", err, out)
	}
	onCommandLine := func(doc []byte) []byte {
		t.Helper()
		cmd := exec.Command(program, "check", "--json", "-")
		cmd.Stdin = bytes.NewReader(doc)
		var stderr bytes.Buffer
		cmd.Stderr = &stderr
		out, _ := cmd.Output() // the exit code tells the standing
		return compact(t, out, stderr.String())
	}
	samples, err := filepath.Glob("../../testdata/records/*.json")
	if err != nil || len(samples) < 5 {
		t.Fatalf("samples %q, %v", samples, err)
	}
	same := func(name string, got, doc []byte) {
		t.Helper()
		if want := onCommandLine(doc); !bytes.Equal(got, append(want, '\n')) {
			t.Errorf("%s:\nAPI          %s\ncommand line %s", name, servertest.Clip(string(got)),
				servertest.Clip(string(want)))
		}
	}
	for _, name := range samples {
		doc, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		same(name, p.do(post, "/api/v1/check", string(doc)).want(t, 200).body, doc)
	}
	// A draft, with signs in it that JSON for HTML would write otherwise.
	const guide = "Guide <2> & supplement"
	draft := a.site.Full(func(vs records.Values) { vs.Put(records.StatedDocument.Field, guide) })
	record := into[recordAnswer](t, p.do(get, "/api/v1/records/"+draft.ID, "").want(t, 200))
	findings := p.do(get, "/api/v1/records/"+draft.ID+"/findings", "").want(t, 200).body
	if !bytes.Contains(findings, []byte(guide)) {
		t.Errorf("no finding names %q: %s", guide, servertest.Clip(string(findings)))
	}
	same("a draft", findings, record.Record)
	same("a draft, sent", p.do(post, "/api/v1/check", string(record.Record)).want(t, 200).body, record.Record)
}

// compact takes out the indentation and nothing else.
func compact(t *testing.T, data []byte, stderr string) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := json.Compact(&out, data); err != nil {
		t.Fatalf("%v: %s%s", err, servertest.Clip(string(data)), stderr)
	}
	return out.Bytes()
}
