package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/gorillamux"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store/storetest"
	"gaugebook/server/api"
	"gaugebook/server/api/apitest"
	"gaugebook/server/servertest"
)

func described(t *testing.T) *openapi3.T {
	t.Helper()
	data, err := os.ReadFile("openapi.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return apitest.Described(t, data)
}

// caller calls the API of a site. Every answer must be as openapi.yaml says, and
// so must every request that was accepted.
type caller struct {
	t      *testing.T
	site   *servertest.Site
	router routers.Router
}

func startAPI(t *testing.T) caller {
	t.Helper()
	router, err := gorillamux.NewRouter(described(t))
	if err != nil {
		t.Fatal(err)
	}
	return caller{t, servertest.Start(t), router}
}

// key makes a key for the person of a role.
func (a caller) key(role records.Role) string {
	a.t.Helper()
	k, err := a.site.Store.People.NewKey(context.Background(), storetest.Actor, a.site.People[role].ID, "test")
	if err != nil {
		a.t.Fatal(err)
	}
	return k.Token
}

// as returns a program that calls with a new key of the role.
func (a caller) as(role records.Role) program { return program{a, a.key(role)} }

type program struct {
	caller
	token string
}

// answer is what came back.
type answer struct {
	status int
	header http.Header
	body   []byte
}

// do sends a body, "" for none, and headers given as name, value, name, value.
func (p program) do(method, path, body string, headers ...string) answer {
	p.t.Helper()
	req := p.request(method, path, body, headers)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		p.t.Fatal(err)
	}
	defer res.Body.Close()
	data, err := io.ReadAll(res.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	got := answer{res.StatusCode, res.Header, data}
	if err := p.fits(p.request(method, path, body, headers), got); err != nil {
		p.t.Errorf("%s %s: %d is not as described: %v\n%s", method, path, got.status, err,
			servertest.Clip(string(data)))
	}
	return got
}

func (p program) request(method, path, body string, headers []string) *http.Request {
	p.t.Helper()
	var in io.Reader
	if body != "" {
		in = strings.NewReader(body)
	}
	req, err := http.NewRequest(method, p.site.HTTP.URL+path, in)
	if err != nil {
		p.t.Fatal(err)
	}
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	if p.token != "" {
		req.Header.Set("Authorization", "Bearer "+p.token)
	}
	for i := 0; i < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	return req
}

func (p program) fits(req *http.Request, got answer) error {
	route, params, err := p.router.FindRoute(req)
	if err != nil {
		return err
	}
	in := &openapi3filter.RequestValidationInput{Request: req, PathParams: params, Route: route,
		Options: &openapi3filter.Options{
			IncludeResponseStatus: true, RejectWhenRequestBodyNotSpecified: true, MultiError: true,
			AuthenticationFunc: openapi3filter.NoopAuthenticationFunc}}
	ctx := context.Background()
	if got.status < 300 {
		if err := openapi3filter.ValidateRequest(ctx, in); err != nil {
			return fmt.Errorf("the request that was accepted: %w", err)
		}
	}
	out := &openapi3filter.ResponseValidationInput{RequestValidationInput: in, Status: got.status, Header: got.header,
		Options: in.Options}
	return openapi3filter.ValidateResponse(ctx, out.SetBodyBytes(got.body))
}

// want stops the test unless the status is the one expected.
func (a answer) want(t *testing.T, status int) answer {
	t.Helper()
	if a.status != status {
		t.Fatalf("status %d, want %d: %s", a.status, status, servertest.Clip(string(a.body)))
	}
	return a
}

// into reads the answer's JSON.
func into[T any](t *testing.T, a answer) (v T) {
	t.Helper()
	if err := json.Unmarshal(a.body, &v); err != nil {
		t.Fatalf("%v in %s", err, servertest.Clip(string(a.body)))
	}
	return v
}

// problem is what a program reads of an error.
type problem struct {
	Status                   int
	Title, Detail, Reference string
	Errors                   []records.Error
	Revision                 int
	Stage                    records.Stage
	Kept                     string `json:"kept_version"`
}

// apiRoutes lists the API's routes as method and path, as openapi.yaml writes
// them.
func apiRoutes() []string {
	var out []string
	for _, r := range (api.API{}).Routes() {
		if strings.HasPrefix(r.Path, "/api/") {
			out = append(out, r.Method+" "+regexp.MustCompile(`:(\w+)`).ReplaceAllString(r.Path, "{$1}"))
		}
	}
	slices.Sort(out)
	return out
}

func TestAPIRoutesAreThoseDescribed(t *testing.T) {
	doc := described(t)
	var want []string
	for path, item := range doc.Paths.Map() {
		for method := range item.Operations() {
			want = append(want, method+" "+path)
		}
	}
	slices.Sort(want)
	got := apiRoutes()
	if len(got) == 0 || !slices.Equal(got, want) {
		t.Errorf("served:\n%s\ndescribed:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// The validator must be able to fail: an answer with a field too many, one
// too few or a wrong type, and a status that is not described.
func TestAPIValidatorSeesDifferences(t *testing.T) {
	a := startAPI(t)
	p := a.as(records.RoleEngineer)
	path := "/api/v1/records/" + a.site.Full().ID
	good := p.do(get, path, "").want(t, 200)
	spoil := func(change func(map[string]any)) answer {
		doc := into[map[string]any](t, good)
		change(doc)
		data, err := json.Marshal(doc)
		if err != nil {
			t.Fatal(err)
		}
		return answer{good.status, good.header, data}
	}
	section := func(d map[string]any, name string) map[string]any {
		return d["record"].(map[string]any)["sections"].(map[string]any)[name].(map[string]any)
	}
	for name, bad := range map[string]answer{
		"extra field":   spoil(func(d map[string]any) { d["colour"] = "red" }),
		"field missing": spoil(func(d map[string]any) { delete(d, "standing") }),
		"wrong type":    spoil(func(d map[string]any) { d["revision"] = "2" }),
		"wrong word":    spoil(func(d map[string]any) { d["stage"] = "finished" }),
		"deep":          spoil(func(d map[string]any) { section(d, "tightness")["drop_mbar"] = "none" }),
		"range":         spoil(func(d map[string]any) { section(d, "appliance")["rated_input_kw"] = 4000 }),
		"text":          spoil(func(d map[string]any) { section(d, "appliance")["make"] = "two\nlines" }),
		"status":        {http.StatusTeapot, good.header, good.body},
	} {
		if err := p.fits(p.request(get, path, "", nil), bad); err == nil {
			t.Errorf("%s: not noticed", name)
		}
	}
}

// Lists of words in openapi.yaml are those of the program.
func TestAPIWordsAreThoseOfTheProgram(t *testing.T) {
	doc := described(t)
	for name, want := range map[string][]string{
		"Nation": words(records.Nations), "Purpose": words(records.Purposes), "DutyKind": words(records.DutyKinds),
		"Class": words(records.Classes),
		"Stage": {string(records.Draft), string(records.StageIssued), string(records.Amended),
			string(records.Withdrawn)},
		"Standing": {string(records.Clear), string(records.NeedsAttention), string(records.Open),
			string(records.Adverse)},
		"Outcome": {string(records.Inside), string(records.Attention), string(records.Outside), string(records.Close),
			string(records.Missing), string(records.Doubtful), string(records.Exempt)},
		"Decision": {string(records.AsRead), string(records.Guarded)},
		"DutyState": {string(records.Ahead), string(records.Near), string(records.Late), string(records.Done),
			string(records.Lifted)},
		"Rank": {string(records.ByManufacturer), string(records.ByRegulation), string(records.ByStandard),
			string(records.ByPractice), string(records.ByPhysics)},
		"Confidence": {string(records.Confirmed), string(records.OneSource), string(records.Practice),
			string(records.Unconfirmed)},
	} {
		var got []string
		for _, v := range doc.Components.Schemas[name].Value.Enum {
			got = append(got, v.(string))
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: described %q, in the program %q", name, got, want)
		}
	}
}

func words[T ~string](all []T) []string {
	var out []string
	for _, v := range all {
		out = append(out, string(v))
	}
	return out
}

func TestAPIReference(t *testing.T) {
	a := startAPI(t)
	guest := program{caller: a}
	if got := guest.do(get, "/api/v1/openapi.yaml", "").want(t, 200); !bytes.HasPrefix(got.body,
		[]byte("openapi: 3.1.0\n")) {
		t.Errorf("description: %s", servertest.Clip(string(got.body)))
	}
	if got := guest.do(get, "/api/v1/schema", "").want(t, 200); !bytes.Equal(got.body, records.Schema()) {
		t.Error("the schema served is not that of the program")
	}
	got := into[struct {
		Rules []struct {
			ID    string
			Reads []string
		}
	}](t, guest.do(get, "/api/v1/rules", "").want(t, 200))
	if len(got.Rules) != len(rules.All()) {
		t.Errorf("%d rules listed, there are %d", len(got.Rules), len(rules.All()))
	}
	for i, r := range rules.All() {
		if got.Rules[i].ID != r.ID || len(got.Rules[i].Reads) != len(r.Reads) {
			t.Errorf("rule %d: %+v, want %s", i, got.Rules[i], r.ID)
		}
	}
}

const (
	get   = http.MethodGet
	post  = http.MethodPost
	patch = http.MethodPatch
)
