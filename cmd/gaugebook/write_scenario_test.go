package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// scenario is testdata/registers/scenario.json: the invented firm whose small
// register is written, and the visits it makes. A section of a visit is put
// together from blocks and entries, the later ones winning; null takes an
// entry away, and @gauge stands for the id of that instrument.
type scenario struct {
	Firm        fields                     `json:"firm"`
	People      []plannedPerson            `json:"people"`
	Instruments map[string]fields          `json:"instruments"`
	Limits      []fields                   `json:"limits"` // of the owner
	Properties  map[string]json.RawMessage `json:"properties"`
	Appliances  map[string]struct {
		Property string          `json:"property"`
		Values   json.RawMessage `json:"values"`
	} `json:"appliances"`
	Blocks map[string]entries `json:"blocks"`
	Visits []plannedVisit     `json:"visits"`
	Drafts []plannedDraft     `json:"drafts"`
}

// entries are the fields of one section, as they stand in JSON.
type entries map[string]json.RawMessage

type plannedPerson struct {
	Key        string `json:"key"`
	Name       string `json:"name"`
	Email      string `json:"email"`
	Role       string `json:"role"`
	Licence    string `json:"licence"`
	Competence string `json:"competence_until"`
	Password   string `json:"password"`
	By         string `json:"by"` // owner, invitation or a first password; closed at the end
}

type plannedVisit struct {
	Name      string                       `json:"name"`
	Appliance string                       `json:"appliance"`
	Purpose   string                       `json:"purpose"`
	WorkDate  string                       `json:"work_date"`
	Engineer  string                       `json:"engineer"`
	Begun     string                       `json:"begun"` // by whom, if the engineer took it over
	Standing  string                       `json:"standing"`
	Sections  map[string][]json.RawMessage `json:"sections"`
	Photos    []plannedPhoto               `json:"photos"`
	Report    map[string]any               `json:"report"`
}

type plannedPhoto struct {
	Section string `json:"section"`
	Caption string `json:"caption"`
	PNG     bool   `json:"png"`
}

// plannedDraft is a draft that takes its entries from a visit: only those of
// some sections at first, the rest to finish it with.
type plannedDraft struct {
	Name      string                       `json:"name"`
	Appliance string                       `json:"appliance"`
	Purpose   string                       `json:"purpose"`
	Engineer  string                       `json:"engineer"`
	Like      string                       `json:"like"`
	First     []string                     `json:"first"`
	Change    map[string][]json.RawMessage `json:"change"`
	Refused   map[string]string            `json:"refused"`
	Photos    []plannedPhoto               `json:"photos"`
	Undecided bool                         `json:"undecided"` // a condition report half written
	Stale     bool                         `json:"stale"`
	Discarded bool                         `json:"discarded"`
	Amends    string                       `json:"amends"` // name of a visit
}

func readScenario(tb testing.TB) (s scenario) {
	tb.Helper()
	readJSON(tb, filepath.Join(registersDir, "scenario.json"), &s)
	return s
}

// sections puts a visit's sections together.
func (m *maker) sections(parts map[string][]json.RawMessage, engineer string) map[string]entries {
	m.t.Helper()
	name, err := json.Marshal(m.person(engineer).Name)
	if err != nil {
		m.t.Fatal(err)
	}
	out := map[string]entries{}
	for id, list := range parts {
		out[id] = entries{}
		for _, part := range list {
			var block string
			add := entries{}
			if json.Unmarshal(part, &block) == nil {
				if add = m.plan.Blocks[block]; add == nil {
					m.t.Fatalf("there is no block %q", block)
				}
			} else if err := json.Unmarshal(part, &add); err != nil {
				m.t.Fatalf("%s: %v", part, err)
			}
			maps.Copy(out[id], add)
		}
		maps.DeleteFunc(out[id], func(_ string, v json.RawMessage) bool { return string(v) == "null" })
		for field, v := range out[id] {
			key, ok := strings.CutPrefix(strings.Trim(string(v), `"`), "@")
			if !ok {
				continue
			}
			if m.instruments[key] == "" {
				m.t.Fatalf("there is no instrument %q", key)
			}
			out[id][field] = json.RawMessage(`"` + m.instruments[key] + `"`)
		}
	}
	if h := out["handover"]; h != nil {
		h["engineer_name"] = name
	}
	return out
}

// like returns the parts of the visit that a draft takes its entries from.
func (s scenario) like(d plannedDraft) map[string][]json.RawMessage {
	out := map[string][]json.RawMessage{}
	for _, v := range s.Visits {
		if v.Name == d.Like {
			for id, list := range v.Sections {
				out[id] = append(append(out[id], list...), d.Change[id]...)
			}
		}
	}
	return out
}

// check proves that whatever the scenario names is there.
func (s scenario) check(t *testing.T) {
	t.Helper()
	m := &maker{t: t, plan: s, instruments: map[string]string{}}
	for key := range s.Instruments {
		m.instruments[key] = key
	}
	named := map[string]bool{}
	known := func(what, key string, there bool) {
		if !there {
			t.Errorf("%s: there is no %q", what, key)
		}
	}
	for key, a := range s.Appliances {
		known("appliance "+key, a.Property, s.Properties[a.Property] != nil)
	}
	for _, v := range s.Visits {
		named[v.Name] = true
		_, there := s.Appliances[v.Appliance]
		known(v.Name, v.Appliance, there)
		if got := m.sections(v.Sections, v.Engineer); len(got) == 0 {
			t.Errorf("%s: nothing is entered", v.Name)
		}
	}
	for _, d := range s.Drafts {
		_, there := s.Appliances[d.Appliance]
		known(d.Name, d.Appliance, there)
		known(d.Name, d.Like, named[d.Like])
		known(d.Name, d.Amends, d.Amends == "" || named[d.Amends])
		got := m.sections(s.like(d), d.Engineer)
		for _, id := range d.First {
			known(d.Name, id, got[id] != nil)
		}
	}
}

// keyed calls the API with a key.
type keyed struct {
	v   *visitor
	key string
}

// call sends one request that has to be answered with the status, and reads
// the answer into out. Once, if given, is its Idempotency-Key.
func (k keyed) call(method, path string, in, out any, status int, once ...string) {
	k.v.tb.Helper()
	var body bytes.Buffer
	if in != nil {
		if err := json.NewEncoder(&body).Encode(in); err != nil {
			k.v.tb.Fatal(err)
		}
	}
	req, err := http.NewRequest(method, k.v.base()+"/api/v1"+path, &body)
	if err != nil {
		k.v.tb.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+k.key)
	if len(once) > 0 {
		req.Header.Set("Idempotency-Key", once[0])
	}
	answer := k.v.do(req)
	if answer.status != status {
		k.v.tb.Fatalf("%s %s: status %d, want %d\n%.3000s", method, path, answer.status, status, answer.body)
	}
	if out == nil {
		return
	}
	if err := json.Unmarshal(answer.body, out); err != nil {
		k.v.tb.Fatalf("%s %s: %v\n%.500s", method, path, err, answer.body)
	}
}

// gotRecord is a record as the API gives it.
type gotRecord struct {
	ID           string `json:"id"`
	ApplianceID  string `json:"appliance_id"`
	Revision     int    `json:"revision"`
	Stage        string `json:"stage"`
	Standing     string `json:"standing"`
	Number       string `json:"number"`
	Code         string `json:"code"`
	SHA256       string `json:"sha256"`
	ReplacedBy   string `json:"replaced_by"`
	WithdrawnWhy string `json:"withdrawn_why"`
	Record       struct {
		Purpose  string                             `json:"purpose"`
		WorkDate string                             `json:"work_date"`
		Replaces string                             `json:"replaces"`
		Engineer struct{ Name string }              `json:"engineer"`
		Sections map[string]map[string]any          `json:"sections"`
		Photos   []struct{ SHA256, Section string } `json:"photos"`
	} `json:"record"`
	Rejected map[string]struct{ Entry, Message string } `json:"rejected"`
	Findings []gotFinding                               `json:"findings"`
}

// gotFinding is a finding as the API gives it.
type gotFinding struct {
	Rule           string `json:"rule"`
	Outcome        string `json:"outcome"`
	Reason         string `json:"reason"`
	SuggestedClass string `json:"suggested_class"`
}

// unsettled are the findings that a condition report must answer.
func (r gotRecord) unsettled() []gotFinding {
	return slices.DeleteFunc(slices.Clone(r.Findings), func(f gotFinding) bool {
		return slices.Contains([]string{"inside", "exempt", "attention"}, f.Outcome)
	})
}

// told are the findings that a condition report must answer, with the words.
func (r gotRecord) told() string {
	var out strings.Builder
	for _, f := range r.unsettled() {
		fmt.Fprintf(&out, "%s is %s: %s\n", f.Rule, f.Outcome, f.Reason)
	}
	return out.String()
}

// report is a condition report that answers every open finding of a record: what
// is close by the engineer's word, the last of many together with the first.
func (r gotRecord) report(rest map[string]any) map[string]any {
	out := map[string]any{}
	maps.Copy(out, rest)
	causes := []string{"design or manufacture", "installation", "modification", "servicing",
		"wear or want of servicing"}
	open := r.unsettled()
	var answers []map[string]any
	for i, f := range open {
		answer := map[string]any{"rule": f.Rule, "reason": "As it stood on the day, seen by two of us.",
			"found": "As read on the day: " + f.Outcome + ".",
			"done":  "Told on site, with what has to be put right before it is used."}
		switch {
		case i > 2 && i == len(open)-1 && answers[0]["class"] != nil:
			answers[0]["also"] = []string{f.Rule}
			continue
		case f.Outcome != "close":
			answer["class"] = cmp.Or(f.SuggestedClass, "observation")
		}
		if f.Outcome == "outside" {
			answer["cause"] = causes[i%len(causes)]
		}
		answers = append(answers, answer)
	}
	out["entries"] = answers
	return out
}

// change saves entries of a draft.
func (k keyed) change(r gotRecord, sections any) gotRecord {
	k.v.tb.Helper()
	in := map[string]any{"revision": r.Revision, "sections": sections}
	k.call(http.MethodPatch, "/records/"+r.ID, in, &r, http.StatusOK)
	return r
}

// answered writes the condition report that a draft needs, if it needs one.
func (k keyed) answered(r gotRecord, rest map[string]any) gotRecord {
	k.v.tb.Helper()
	if len(r.unsettled()) == 0 {
		return r
	}
	in := map[string]any{"revision": r.Revision, "condition": r.report(rest)}
	k.call(http.MethodPatch, "/records/"+r.ID, in, &r, http.StatusOK)
	return r
}

// record reads a record.
func (k keyed) record(id string) (r gotRecord) {
	k.v.tb.Helper()
	k.call(http.MethodGet, "/records/"+id, nil, &r, http.StatusOK)
	return r
}

// issue issues a draft as it stands.
func (k keyed) issue(r gotRecord) gotRecord {
	k.v.tb.Helper()
	k.call(http.MethodPost, "/records/"+r.ID+"/issue", map[string]int{"revision": r.Revision}, nil, http.StatusOK)
	return k.record(r.ID)
}

// newAPIKey makes somebody a key for a program.
func newAPIKey(holder *visitor, label, scope string) string {
	holder.tb.Helper()
	p := holder.get("/account").fill("/account/keys", fields{"label": label, "scope": scope, "days": "365"}).press().
		was(http.StatusOK)
	_, rest, _ := strings.Cut(p.words(), fmt.Sprintf("The key for %s: ", label))
	key, _, _ := strings.Cut(rest, " ")
	if len(key) < 20 {
		holder.tb.Fatalf("the key is %q", key)
	}
	return key
}
