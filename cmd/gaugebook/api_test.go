package main

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	_ "github.com/mattn/go-sqlite3" // the driver that the register uses, to meddle with it from outside

	"gaugebook/pdf/pdftest"
	"gaugebook/records"
	"gaugebook/records/rules"
)

// newKey makes a key for the engineer's programs. It is shown once.
func newKey(t *testing.T, f *firm) string {
	p := f.engineer.get("/account").fill("/account/keys",
		fields{"label": "night job", "scope": "issue"}).press().was(http.StatusOK).says("The key for night job")
	_, rest, _ := strings.Cut(p.words(), "The key for night job: ")
	key, _, _ := strings.Cut(rest, " ")
	if len(key) < 20 {
		t.Fatalf("the key is %q", key)
	}
	f.engineer.get("/account").says("night job").saysNot(key)
	return key
}

// program is somebody without a browser who has a key.
type client struct {
	f   *firm
	key string
}

// call asks the API and decodes its answer into v.
func (p client) call(method, path string, in, v any) int {
	tb := p.f.tb
	tb.Helper()
	var body bytes.Buffer
	if in != nil {
		if err := json.NewEncoder(&body).Encode(in); err != nil {
			tb.Fatal(err)
		}
	}
	req, err := http.NewRequest(method, p.f.base+"/api/v1"+path, &body)
	if err != nil {
		tb.Fatal(err)
	}
	if p.key != "" {
		req.Header.Set("Authorization", "Bearer "+p.key)
	}
	answer := p.f.visitor(tb).do(req)
	if v != nil {
		if err := json.Unmarshal(answer.body, v); err != nil {
			tb.Fatalf("%s %s: status %d: %v\n%.500s", method, path, answer.status, err, answer.body)
		}
	}
	return answer.status
}

type apiAnswer struct {
	ID       string           `json:"id"`
	Revision int              `json:"revision"`
	Stage    string           `json:"stage"`
	Number   string           `json:"number"`
	Code     string           `json:"code"`
	Standing records.Standing `json:"standing"`
	Record   json.RawMessage  `json:"record"`
	Findings json.RawMessage  `json:"findings"`
	Detail   string           `json:"detail"`
	Errors   []*records.Error `json:"errors"`
}

// attachedIsWhatTheAPIGives takes the JSON out of the PDF and compares it
// with the API's, part by part and byte for byte; check and render know it.
func attachedIsWhatTheAPIGives(t *testing.T, f *firm, key string, is issued, file []byte) {
	dir := t.TempDir()
	pdftest.Run(t, "pdfdetach", "-saveall", "-o", dir, write(t, dir, "record.pdf", file))
	var attached apiAnswer
	if err := json.Unmarshal(read(t, filepath.Join(dir, "record.json")), &attached); err != nil {
		t.Fatal(err)
	}
	var got apiAnswer
	if status := (client{f, key}).call(http.MethodGet, "/records/"+is.id, nil, &got); status != http.StatusOK {
		t.Fatalf("status %d", status)
	}
	if got.Number != is.number || got.Code != is.code || got.Stage != "issued" || attached.Number != is.number ||
		got.Standing != attached.Standing {
		t.Errorf("the API gives %s %s, stage %s, standing %s; attached is %s, %s", got.Number, got.Code, got.Stage,
			got.Standing, attached.Number, attached.Standing)
	}
	// The register keeps how to reach the customer; what is passed on does not.
	ours, theirs := storedRecord(t, got.Record), storedRecord(t, attached.Record)
	if c := theirs.Contact; c.Email+c.Phone != "" || ours.Contact.Email == "" {
		t.Errorf("attached are %q and %q, kept is %q", c.Email, c.Phone, ours.Contact.Email)
	}
	ours.Contact = theirs.Contact
	if a, b := encoded(t, ours), encoded(t, theirs); !bytes.Equal(a, b) {
		t.Errorf("the records differ:\n%s\n%s", a, b)
	}
	if !bytes.Equal(got.Findings, attached.Findings) {
		t.Errorf("the findings differ:\n%s\n%s", got.Findings, attached.Findings)
	}
	// The command line judges the same record the same.
	checked := gaugebook(t, string(attached.Record), "check", "--json", "-")
	var v struct{ Findings json.RawMessage }
	var plain bytes.Buffer
	if err := json.Unmarshal([]byte(checked.out), &v); err != nil || checked.code != exitClear {
		t.Fatalf("check: %v, exit %d: %s", err, checked.code, checked.err)
	}
	if err := json.Compact(&plain, v.Findings); err != nil || !bytes.Equal(plain.Bytes(), attached.Findings) {
		t.Errorf("check finds otherwise: %v\n%s\n%s", err, plain.Bytes(), attached.Findings)
	}
	out := filepath.Join(dir, "again.pdf")
	must(t, "", "render", filepath.Join(dir, "record.json"), "-o", out)
	if got := gaugebook(t, "", "verify", "--data", f.dir, out); got.code != exitAdverse {
		t.Errorf("a print without the firm's key passes: exit %d: %s", got.code, got.out)
	}
}

// storedRecord reads a record's document; what it was read from is forgotten.
func storedRecord(t *testing.T, data []byte) *records.Record {
	t.Helper()
	r, err := records.DecodeRecord(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func encoded(t *testing.T, r *records.Record) []byte {
	t.Helper()
	data, err := records.EncodeRecord(r)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// throughAPI issues a service record of the same appliance by program.
func throughAPI(t *testing.T, f *firm, key, appliance string) {
	stranger, p := client{f, ""}, client{f, key}
	start := map[string]any{"appliance_id": appliance, "purpose": "service", "work_date": today(t).String()}
	var no apiAnswer
	if status := stranger.call(http.MethodPost, "/records", start, &no); status != http.StatusUnauthorized ||
		no.Detail == "" {
		t.Errorf("without a key: status %d: %+v", status, no)
	}
	if status := (client{f, altered(key)}).call(http.MethodPost, "/records", start,
		&no); status != http.StatusUnauthorized {
		t.Errorf("with another key: status %d", status)
	}
	_, home := f.addHome("2 Larkspur Rise", "second@example.org")
	start["appliance_id"] = home
	start["work_date"] = today(t).AddDays(3).String()
	if status := p.call(http.MethodPost, "/records", start, &no); status != http.StatusUnprocessableEntity ||
		len(no.Errors) != 1 || no.Errors[0].Field != "work_date" {
		t.Errorf("a date to come: status %d: %+v", status, no)
	}
	// The second visit carries what was read on the first.
	p.issue(home, records.Service, today(t).AddMonths(-2))
	is := p.issue(home, records.Service, today(t), func(vs records.Values) {
		for f, entry := range map[*records.Field]string{records.COMaxPPM.Field: "97", records.COMinPPM.Field: "12",
			records.StandingMbar.Field: "22.4", records.FlueTempMaxC.Field: "59.1", records.FlueTempMinC.Field: "47.2",
			records.HeatStartM3.Field: "1571.316", records.HeatEndM3.Field: "1571.359"} {
			vs.Put(f, entry)
		}
	})
	var got apiAnswer
	if p.call(http.MethodGet, "/records/"+is.id, nil, &got); got.Stage != "issued" || got.Number != is.number {
		t.Errorf("%+v", got)
	}
	f.office.get("/records/"+is.id).says(is.number, is.code, "In force")
	f.visitor(t).get("/v/" + is.number + "/" + is.code).says("is in force")
	wrong := map[string]any{"revision": got.Revision,
		"sections": map[string]any{"tightness": map[string]any{"drop_mbar": -1}}}
	if status := p.call(http.MethodPatch, "/records/"+is.id, wrong, &no); status != http.StatusUnprocessableEntity &&
		status != http.StatusConflict {
		t.Errorf("a wrong value for an issued record: status %d", status)
	}
}

// issue makes a record from the sample's readings and issues it.
func (p client) issue(appliance string, purpose records.Purpose, day records.Date,
	change ...func(records.Values)) issued {
	tb := p.f.tb
	tb.Helper()
	var r apiAnswer
	if status := p.call(http.MethodPost, "/records", map[string]any{"appliance_id": appliance, "purpose": purpose,
		"work_date": day.String()}, &r); status != http.StatusCreated {
		tb.Fatalf("start: status %d: %+v", status, r)
	}
	id := r.ID
	vs := rules.Sample().Values
	vs.Put(records.EngineerName.Field, "Sorrel Yarrow")
	for _, f := range []records.TextField{records.TightnessGauge, records.PressureGauge, records.Analyser} {
		vs.Put(f.Field, p.f.instruments[vs.Text(f)])
	}
	if purpose != records.Commissioning {
		vs.Put(records.Notifiable.Field, "no")
	}
	for _, c := range change {
		c(vs)
	}
	if status := p.call(http.MethodPatch, "/records/"+id, map[string]any{"revision": r.Revision + 7, "sections": vs},
		&r); status != http.StatusConflict {
		tb.Errorf("a revision that never was: status %d", status)
	}
	if p.call(http.MethodGet, "/records/"+id, nil, &r); r.Standing == records.Clear {
		tb.Error("a stale save has filled the record")
	}
	if status := p.call(http.MethodPatch, "/records/"+id, map[string]any{"revision": r.Revision, "sections": vs},
		&r); status != http.StatusOK || r.Standing != records.Clear {
		tb.Fatalf("save: status %d, standing %s: %s", status, r.Standing, unsettled(tb, r.Findings))
	}
	revision := r.Revision
	var is apiAnswer
	if status := p.call(http.MethodPost, "/records/"+id+"/issue", map[string]any{"revision": revision},
		&is); status != http.StatusOK || is.Number == "" || is.Code == "" {
		tb.Fatalf("issue: status %d: %+v", status, is)
	}
	if status := p.call(http.MethodPost, "/records/"+id+"/issue", map[string]any{"revision": revision},
		&r); status != http.StatusConflict {
		tb.Errorf("issued twice: status %d", status)
	}
	return issued{id, is.Number, is.Code}
}

// unsettled names the findings that keep a record from being clear.
func unsettled(tb testing.TB, findings json.RawMessage) string {
	tb.Helper()
	var all []records.Finding
	if err := json.Unmarshal(findings, &all); err != nil {
		tb.Fatal(err)
	}
	out := ""
	for _, f := range records.Unsettled(all) {
		out += fmt.Sprintf("\n%s: %s. %s", f.Rule, f.Outcome, f.Reason)
	}
	return out
}

// register looks for duties of every state where the office works.
func register(t *testing.T, f *firm, key string) {
	p := client{f, key}
	_, old := f.addHome("31 Ropewalk", "third@example.org")
	p.issue(old, records.Commissioning, today(t).AddDays(-60)) // its notice to building control was due after thirty
	for state, want := range map[string]string{"late": "31 Ropewalk", "near": "14 Larkspur Rise",
		"ahead": "2 Larkspur Rise"} {
		page := f.office.get("/register?state="+state).says(want, state)
		for _, other := range []string{"31 Ropewalk", "14 Larkspur Rise", "2 Larkspur Rise"} {
			if other != want {
				page.saysNot(">"+other, " "+other)
			}
		}
	}
	f.office.get("/register").says("31 Ropewalk", "14 Larkspur Rise", "2 Larkspur Rise", "3 appliances in use",
		today(t).AddDays(-30).Time().Format("2 Jan 2006"))
	f.office.get("/register?q=TC24-0061874").says("14 Larkspur Rise").saysNot("31 Ropewalk")
	f.engineer.look("/register").was(http.StatusForbidden)
	f.visitor(t).get("/register").says("Sign in")
}

// meddle changes one entry of the audit log of a register, as somebody with
// the file in hand could.
func meddle(t *testing.T, file string) {
	t.Helper()
	for _, left := range []string{"-wal", "-shm"} {
		if _, err := os.Stat(file + left); err == nil {
			t.Logf("%s%s is still there", file, left)
		}
	}
	db, err := sql.Open("sqlite3", file)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, q := range []string{"DROP TRIGGER audit_no_update",
		"UPDATE audit SET detail = replace(detail, '-00001', '-00007') WHERE what = 'record issued'"} {
		res, err := db.Exec(q)
		if err != nil {
			t.Fatalf("%s: %v", q, err)
		}
		if n, _ := res.RowsAffected(); strings.HasPrefix(q, "UPDATE") && n == 0 {
			t.Fatal("there was no entry to change")
		}
	}
}
