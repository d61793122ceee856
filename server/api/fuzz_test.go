package api_test

import (
	"context"
	"encoding/json"
	"flag"
	"log/slog"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

// FuzzAPI sends any bytes to each route that takes a body, and any query to
// the lists: whatever comes, the answer is one that a program can read and
// none of our own faults.
func FuzzAPI(f *testing.F) {
	// What a database covers differs from run to run: shortening an input
	// until it covers the same would take all the time there is.
	if err := flag.Set("test.fuzzminimizetime", "10x"); err != nil {
		f.Fatal(err)
	}
	site := servertest.Start(f, func(c *server.Config) { c.Log = slog.New(slog.DiscardHandler) })
	key, err := site.Store.People.NewKey(context.Background(), storetest.Actor, site.People[records.RoleEngineer].ID,
		"fuzz")
	if err != nil {
		f.Fatal(err)
	}
	record := site.Draft().ID
	targets := []string{"POST /api/v1/check", "POST /api/v1/records", "POST /api/v1/properties",
		"POST /api/v1/appliances",
		"PATCH /api/v1/records/" + record, "POST /api/v1/records/" + record + "/issue",
		"GET /api/v1/appliances", "GET /api/v1/duties", "GET /api/v1/properties"}
	samples, err := filepath.Glob("../../testdata/records/*.json")
	if err != nil || len(samples) == 0 {
		f.Fatalf("samples %q, %v", samples, err)
	}
	for _, name := range samples {
		doc, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(0, string(doc))
	}
	f.Add(1, `{"appliance_id": "`+site.Appliance.ID+`", "purpose": "service", "work_date": "2026-11-25"}`)
	f.Add(2, `{"property": {"line1": "1 Low Row", "town": "Harnby", "postcode": "AA9 2AB", "nation": "England"}, "customer": {"name": "A", "tenure": "agent"}}`)
	f.Add(3, `{"property_id": "`+site.Property.ID+`", "values": {"kind": "fire", "rated_input_kw": 5.4}}`)
	f.Add(4, `{"revision": 1, "work_date": "2026-11-24", "sections": {"tightness": {"drop_mbar": 0.2, "let_by": null}}, "clear": ["appliance.make"], "condition": {"entries": []}}`)
	f.Add(5, `{"revision": 1}`)
	f.Add(6, "search=a&kind=fire&nation=Wales&duty=annual+service&state=none&sort=address&after=YWRkcmVzcwpBCjE&limit=3")
	f.Add(7, "kind=calibration&from=2026-01-01&until=2026-12-31&state=near&limit=500")
	f.Add(8, "postcode=yo92ab")
	f.Fuzz(func(t *testing.T, which int, sent string) {
		method, path, _ := strings.Cut(targets[int(uint(which)%uint(len(targets)))], " ")
		req := httptest.NewRequest(method, path, strings.NewReader(sent))
		if method == get {
			req = httptest.NewRequest(method, path, nil)
			req.URL.RawQuery = sent
		}
		req.Header.Set("Authorization", "Bearer "+key.Token)
		rec := httptest.NewRecorder()
		site.Server.Handler().ServeHTTP(rec, req)
		if rec.Code >= 500 {
			t.Fatalf("%s %s: %d %s", method, path, rec.Code, rec.Body)
		}
		if !json.Valid(rec.Body.Bytes()) {
			t.Fatalf("%s %s: %d, not JSON: %s", method, path, rec.Code, rec.Body)
		}
		var told problem
		if err := json.Unmarshal(rec.Body.Bytes(), &told); rec.Code >= 400 &&
			(err != nil || told.Status != rec.Code || told.Detail == "") {
			t.Fatalf("%s %s: %d without saying why: %s", method, path, rec.Code, rec.Body)
		}
		if now, err := site.Store.Records.Record(context.Background(), record); err != nil ||
			now.Stage != records.Draft {
			t.Fatalf("the draft is no longer one: %v", err)
		}
	})
}
