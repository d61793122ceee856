package api_test

import (
	"bytes"
	"context"
	"net/http"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

// TestAPIRefuses: each refusal has its status, names where, and is not longer
// for being given more.
func TestAPIRefuses(t *testing.T) {
	a := startAPI(t)
	p := a.as(records.RoleOwner)
	long := strings.Repeat("x", 100_000)
	start := func(body string) answer { return p.do(post, "/api/v1/records", body) }
	for name, c := range map[string]struct {
		got    answer
		status int
		says   []string
	}{
		"empty body":    {p.do(post, "/api/v1/check", " "), 422, []string{`"body"`, "empty"}},
		"not JSON":      {start(`{"purpose": service}`), 422, []string{"not valid JSON at byte 13"}},
		"cut short":     {start(`{"purpose": "serv`), 422, []string{"ends too early"}},
		"two documents": {start(`{} {}`), 422, []string{"something after its end"}},
		"not UTF-8":     {start("{\"purpose\": \"\xff\"}"), 422, []string{"UTF-8"}},
		"twice": {start(`{"purpose": "service", "purpose": "remedial"}`), 422,
			[]string{`"purpose"`, "given twice"}},
		"capitals":      {start(`{"Purpose": "service"}`), 422, []string{`"Purpose"`, "small letters"}},
		"unknown field": {start(`{"colour": 1}`), 422, []string{`"colour"`, "no such field"}},
		"wrong type":    {start(`{"appliance_id": 7}`), 422, []string{`"appliance_id"`, "text in quotes"}},
		"no object":     {start(`[]`), 422, []string{"an object in { }"}},
		"date": {start(`{"appliance_id": "x", "work_date": "25/11/2026"}`), 422,
			[]string{`"work_date"`, "25/11/2026", "YYYY-MM-DD"}},
		"no appliance": {start(`{"purpose": "service"}`), 422, []string{`"appliance_id"`}},
		"appliance not there": {start(`{"appliance_id": "x", "purpose": "service", "work_date": "2026-11-25"}`), 404,
			[]string{"no appliance"}},
		"purpose": {start(`{"appliance_id": "` + a.site.Appliance.ID +
			`", "purpose": "tea", "work_date": "2026-11-25"}`), 422, []string{`"purpose"`, "tea", "landlord check"}},
		"date to come": {start(`{"appliance_id": "` + a.site.Appliance.ID +
			`", "purpose": "service", "work_date": "2026-11-26"}`), 422, []string{`"work_date"`, "not after today"}},
		"record not there":      {p.do(get, "/api/v1/records/x", ""), 404, []string{"no record"}},
		"findings not there":    {p.do(get, "/api/v1/records/x/findings", ""), 404, []string{"no record"}},
		"PDF not there":         {p.do(get, "/api/v1/records/x/pdf", ""), 404, []string{"no issued record"}},
		"issue not there":       {p.do(post, "/api/v1/records/x/issue", `{"revision": 1}`), 404, []string{"no record"}},
		"appliance not there 2": {p.do(get, "/api/v1/appliances/x", ""), 404, []string{"no appliance"}},
		"property not there": {p.do(post, "/api/v1/appliances", `{"property_id": "x", "values": {"kind": "fire"}}`),
			404, []string{"no property"}},
		"kind missing": {p.do(post, "/api/v1/appliances", `{"property_id": "x", "values": {"make": "A"}}`), 422,
			[]string{`"appliance.kind"`, "boiler-combination"}},
		"values wrong": {p.do(post, "/api/v1/appliances",
			`{"property_id": "x", "values": {"kind": "kettle", "wings": 2}}`), 422,
			[]string{`"appliance.kind"`, "kettle", `"appliance.wings"`}},
		"values no object": {p.do(post, "/api/v1/appliances", `{"property_id": "x", "values": 7}`), 422,
			[]string{"not an object"}},
		"address": {p.do(post, "/api/v1/properties",
			`{"property": {"line1": "", "town": "T", "postcode": "nowhere", "nation": "France"}, "customer": {"name": "", "tenure": "guest"}}`), 422, []string{`"property.line1"`, `"property.postcode"`, `"property.nation"`, `"customer.name"`, `"customer.tenure"`}},
		"postcode": {p.do(get, "/api/v1/properties?postcode=nowhere", ""), 422,
			[]string{`"postcode"`, "nowhere"}},
		"unknown filter": {p.do(get, "/api/v1/appliances?colour=red&sate=late", ""), 422,
			[]string{`"colour"`, `"sate"`, "state"}},
		"filter twice": {p.do(get, "/api/v1/appliances?kind=fire&kind=cooker", ""), 422,
			[]string{`"kind"`, "once"}},
		"filters": {p.do(get,
			"/api/v1/appliances?kind=kettle&nation=France&duty=tea&state=done&sort=up&limit=0", ""), 422,
			[]string{`"kind"`, `"nation"`, `"duty"`, `"state"`, `"sort"`, `"limit"`}},
		"limit":             {p.do(get, "/api/v1/duties?limit=501", ""), 422, []string{`"limit"`, "from 1 to 500"}},
		"cursor":            {p.do(get, "/api/v1/appliances?after=abc", ""), 422, []string{`"after"`}},
		"cursor of another": {p.do(get, "/api/v1/duties?after=YWRkcmVzcwpBCjE", ""), 422, []string{`"after"`}},
		"dates": {p.do(get, "/api/v1/duties?from=tomorrow&until=2026-02-30", ""), 422,
			[]string{`"from"`, `"until"`}},
		"long": {p.do(get, "/api/v1/appliances?search="+long[:5000], ""), 422,
			[]string{`"search"`, "at most 200"}},
		"long name": {start(`{"` + long + `": 1}`), 422, []string{"no such field"}},
		"long value": {start(`{"appliance_id": "` + long + `", "purpose": "service", "work_date": "2026-11-25"}`), 404,
			[]string{"…"}},
		"schema": {p.do(post, "/api/v1/check", `{"schema": 2}`), 422, []string{`"schema"`}},
	} {
		if c.got.status != c.status || c.got.header.Get("Content-Type") != "application/problem+json" {
			t.Errorf("%s: %d %s, want %d: %s", name, c.got.status, c.got.header.Get("Content-Type"), c.status,
				servertest.Clip(string(c.got.body)))
		}
		for _, s := range c.says {
			if !bytes.Contains(c.got.body, []byte(s)) {
				t.Errorf("%s: no %q in %s", name, s, servertest.Clip(string(c.got.body)))
			}
		}
		if len(c.got.body) > 4000 {
			t.Errorf("%s: %d bytes of error", name, len(c.got.body))
		}
		if into[problem](t, c.got).Reference == "" {
			t.Errorf("%s: no reference", name)
		}
	}
}

// What is not described: paths that are not there, methods that are not
// served.
func TestAPIUnknownPathsAnswerInJSON(t *testing.T) {
	a := startAPI(t)
	for path, want := range map[string]int{"GET /api/v1/kettles": 404, "GET /api/": 404,
		"DELETE /api/v1/records/x": 405, "GET /api/v1/check": 405} {
		method, path, _ := strings.Cut(path, " ")
		res, err := http.DefaultClient.Do(a.as(records.RoleOwner).request(method, path, "", nil))
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != want || res.Header.Get("Content-Type") != "application/problem+json" {
			t.Errorf("%s %s: %d %s", method, path, res.StatusCode, res.Header.Get("Content-Type"))
		}
	}
}

// Ten megabytes are refused whether their length was announced or not.
func TestAPIRefusesTooMuch(t *testing.T) {
	a := startAPI(t)
	p, r := a.as(records.RoleEngineer), a.site.Draft()
	much := `{"revision": 1, "clear": ["` + strings.Repeat("x", 10<<20) + `"]}`
	for _, path := range []string{"/api/v1/check", "/api/v1/records", "/api/v1/properties", "/api/v1/appliances",
		"/api/v1/records/" + r.ID + "/issue"} {
		p.do(post, path, much).want(t, 413)
	}
	p.do(patch, "/api/v1/records/"+r.ID, much).want(t, 413)

	req := p.request(patch, "/api/v1/records/"+r.ID, much, nil)
	req.ContentLength = -1
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 413 {
		t.Errorf("without a length: %d", res.StatusCode)
	}
	if now, err := a.site.Store.Records.Record(context.Background(), r.ID); err != nil || now.Revision != 1 {
		t.Errorf("revision %d, %v", now.Revision, err)
	}
}

func TestAPIIdempotencyKey(t *testing.T) {
	a, ctx := startAPI(t), context.Background()
	p, other := a.as(records.RoleEngineer), a.as(records.RoleOwner)
	body := `{"appliance_id": "` + a.site.Appliance.ID + `", "purpose": "commissioning", "work_date": "2026-11-25"}`
	const name, value = "Idempotency-Key", "visit-0001"
	first := p.do(post, "/api/v1/records", body, name, value).want(t, 201)
	again := p.do(post, "/api/v1/records", body, name, value).want(t, 201)
	if !bytes.Equal(first.body, again.body) || first.header.Get("Content-Type") != again.header.Get("Content-Type") {
		t.Errorf("answers differ:\n%s\n%s", first.body, again.body)
	}
	if plain := p.do(post, "/api/v1/records", body).want(t, 201); bytes.Equal(plain.body, first.body) {
		t.Error("without a key the record is the same")
	}
	if theirs := other.do(post, "/api/v1/records", body, name, value).want(t, 201); bytes.Equal(theirs.body,
		first.body) {
		t.Error("somebody else's key gave the same record")
	}
	if drafts, err := a.site.Store.Records.Drafts(ctx, ""); err != nil || len(drafts) != 3 {
		t.Errorf("%d drafts, %v", len(drafts), err)
	}
	p.do(post, "/api/v1/records", strings.Replace(body, "commissioning", "service", 1), name, value).want(t, 409)
	p.do(post, "/api/v1/properties",
		`{"property": {"line1": "1 Low Row", "town": "Harnby", "postcode": "AA9 2AB", "nation": "England"}}`, name,
		value).want(t, 409)
	p.do(post, "/api/v1/records", body, name, "short").want(t, 422)

	// What was refused is done when it is put right, with the same key.
	const second = "visit-0002"
	p.do(post, "/api/v1/records", strings.Replace(body, "2026-11-25", "2027-11-25", 1), name, second).want(t, 422)
	draft := into[recordAnswer](t, p.do(post, "/api/v1/records", body, name, second).want(t, 201))
	p.do(patch, "/api/v1/records/"+draft.ID, `{"revision": 1, "sections": `+sampleSections(t)+`}`).want(t, 200)

	const third = "issue-0001"
	issue := "/api/v1/records/" + draft.ID + "/issue"
	p.do(post, issue, `{"revision": 1}`, name, third).want(t, 409)
	won := p.do(post, issue, `{"revision": 2}`, name, third).want(t, 200)
	for range 3 {
		if got := p.do(post, issue, `{"revision": 2}`, name, third).want(t, 200); !bytes.Equal(got.body, won.body) {
			t.Errorf("answers differ:\n%s\n%s", won.body, got.body)
		}
	}
	if out, _, err := a.site.Store.Outbox.Find(ctx, store.OutboxQuery{RecordID: draft.ID}); err != nil ||
		len(out) != 1 {
		t.Errorf("%d messages, %v", len(out), err)
	}
}

func TestAPILists(t *testing.T) {
	a, ctx := startAPI(t), context.Background()
	p := a.as(records.RoleOffice)
	type page struct {
		Appliances []struct {
			ID, Address string
			NextDuty    *struct{ Due, State, Why string } `json:"next_duty"`
		}
		Duties []struct{ Due, State, Kind string }
		Next   string
	}
	due := []string{"2026-10-01", "2026-11-25", "2026-12-24", "2027-01-20", "2027-01-21", "2027-06-01"}
	for i, on := range due {
		home := storetest.MustAppliance(t, a.site.Store, i+1)
		if _, err := a.site.Store.Duties.Add(ctx, storetest.Actor, home.ID, storetest.ServiceDue(on)); err != nil {
			t.Fatal(err)
		}
	}
	// The whole list, two lines a page.
	walk := func(path string) (all []string) {
		after := ""
		for range 20 {
			got := into[page](t, p.do(get, path+"&limit=2&after="+after, "").want(t, 200))
			for _, l := range got.Appliances {
				all = append(all, l.Address[:strings.Index(l.Address, ",")])
			}
			for _, d := range got.Duties {
				all = append(all, d.Due+" "+d.State)
			}
			if after = got.Next; after == "" {
				return all
			}
		}
		t.Fatalf("%s has no end", path)
		return nil
	}
	sample := a.site.Property.Line1
	for path, want := range map[string]string{
		"/api/v1/duties?kind=annual+service": "2026-10-01 late, 2026-11-25 near, 2026-12-24 near, " +
			"2027-01-20 near, 2027-01-21 ahead, 2027-06-01 ahead",
		"/api/v1/duties?state=late":                       "2026-10-01 late",
		"/api/v1/duties?state=near":                       "2026-11-25 near, 2026-12-24 near, 2027-01-20 near",
		"/api/v1/duties?state=near&from=2026-12-01":       "2026-12-24 near, 2027-01-20 near",
		"/api/v1/duties?state=ahead&until=2027-01-21":     "2027-01-21 ahead",
		"/api/v1/duties?from=2026-11-25&until=2026-12-24": "2026-11-25 near, 2026-12-24 near",
		"/api/v1/duties?kind=landlord+check":              "",
		"/api/v1/appliances?search=quillwater": "1 Quillwater Lane, 2 Quillwater Lane, 3 Quillwater " +
			"Lane, 4 Quillwater Lane, 5 Quillwater Lane, 6 Quillwater Lane",
		"/api/v1/appliances?state=late":                     "1 Quillwater Lane",
		"/api/v1/appliances?state=near&duty=annual+service": "2 Quillwater Lane, 3 Quillwater Lane, 4 Quillwater Lane",
		"/api/v1/appliances?state=none":                     sample,
		"/api/v1/appliances?state=none&duty=annual+service": sample,
		"/api/v1/appliances?kind=fire":                      "",
		"/api/v1/appliances?nation=Scotland":                "",
		"/api/v1/appliances?sort=address&search=EH-000004":  "4 Quillwater Lane",
	} {
		if got := strings.Join(walk(path), ", "); got != want {
			t.Errorf("%s: %s\nwant %s", path, got, want)
		}
	}
	got := into[page](t, p.do(get, "/api/v1/appliances?state=late", "").want(t, 200))
	if d := got.Appliances[0].NextDuty; d == nil || d.Due != "2026-10-01" || d.State != string(records.Late) ||
		d.Why == "" || got.Next != "" {
		t.Errorf("page %+v", got)
	}
}
