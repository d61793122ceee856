package office_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"gaugebook/records"
	"gaugebook/records/exchange"
	"gaugebook/records/store"
	"gaugebook/server/servertest"
)

func uploadList(t *testing.T, c *servertest.Client, name, text string) servertest.Page {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile("file", name)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := part.Write([]byte(text)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return c.Send("POST", "/import", w.FormDataContentType(), &b)
}

// settle waits until the list is no longer being read, as the script does.
func settle(t *testing.T, c *servertest.Client) string {
	t.Helper()
	var now struct{ Stage string }
	servertest.Eventually(t, "the list is read", func() bool {
		if err := json.Unmarshal([]byte(c.Get("/import/progress").Body), &now); err != nil {
			t.Fatal(err)
		}
		return now.Stage != "checking" && now.Stage != "writing"
	})
	return now.Stage
}

const goodList = "Address line 1;Town;Postcode;Kind;Make;Serial;Last service;Customer\r\n" +
	"1 Elm Row;Upham;AB1 2DE;combi;Tarnwell;S1;13/04/2026;Ada Example\r\n" +
	"2 Elm Row;Upham;AB1 2DE;fire;Brindlow;S2;;\r\n"

// columns are those of the good list, as its form proposes them.
func columns(change ...string) url.Values {
	v := servertest.Form("line1", "0", "town", "1", "postcode", "2", "kind", "4", "make", "4", "serial", "5",
		"last_service", "6",
		"name", "7", "stand-nation", "England", "stand-tenure", "owner-occupier", "known", "leave")
	v.Set("kind", "3")
	for i := 0; i < len(change); i += 2 {
		v.Set(change[i], change[i+1])
	}
	return v
}

func appliances(t *testing.T, site *servertest.Site) int {
	t.Helper()
	n := 0
	if err := site.Store.Bulk.EachInView(t.Context(), store.Query{}, func(store.ViewRow) error {
		n++
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestImportAList(t *testing.T) {
	site := servertest.Start(t)
	office, owner := site.As(records.RoleOffice), site.As(records.RoleOwner)
	uploads := filepath.Join(site.Store.Dir(), "uploads")
	if p := uploadList(t, office, "../../list.csv", goodList); p.Status != 303 {
		t.Fatalf("upload: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	if files, err := os.ReadDir(uploads); err != nil || len(files) != 1 {
		t.Errorf("%d uploaded files: %v", len(files), err)
	}
	office.Expect("/import", 200, []string{"list.csv", "columns separated by semicolon",
		`<option value="6" selected>Column 7: Last service`, "1 Elm Row"}, []string{"../"})
	if p := uploadList(t, owner, "other.csv", goodList); p.Status != 409 ||
		!strings.Contains(p.Body, "one list at a time") {
		t.Errorf("a second list: %d", p.Status)
	}
	if p := office.Post("/import/columns", columns("town", "", "stand-nation", "")); p.Status != 422 ||
		strings.Count(p.Body, "Not accepted") != 2 {
		t.Errorf("without town and nation: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	if p := office.Post("/import/columns", columns()); p.Status != 303 {
		t.Fatalf("columns: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	if stage := settle(t, office); stage != "checked" {
		t.Fatal(stage)
	}
	owner.Expect("/import", 200, []string{"Every row can be imported", "day, month, year", "Import it",
		"<dt>New appliances</dt><dd>2</dd>"}, []string{"error"})
	if n := appliances(t, site); n != 1 {
		t.Errorf("checking wrote: %d appliances", n)
	}
	if p := office.Post("/import/write", url.Values{}); p.Status != 303 {
		t.Fatalf("write: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	if stage := settle(t, office); stage != "done" {
		t.Fatal(stage, servertest.Clip(office.Get("/import").Body))
	}
	office.Expect("/import", 200, []string{"Imported", "<dt>New addresses</dt><dd>2</dd>",
		"<dt>Services that will fall due</dt><dd>1</dd>"}, nil)
	office.Expect("/register?q=S1+elm", 200, []string{"Tarnwell", "13 Apr 2027", "Ada Example"}, nil)
	if files, err := os.ReadDir(uploads); err != nil || len(files) != 0 {
		t.Errorf("%d uploaded files stay: %v", len(files), err)
	}
	rows, _, err := site.Store.Register.Find(t.Context(), store.Query{Search: "S1 elm"})
	if err != nil || len(rows) != 1 || !strings.Contains(rows[0].NextDuty.Duty.Why, "from the imported list") {
		t.Errorf("%+v, %v", rows, err)
	}

	// The same list again doubles nothing.
	if p := uploadList(t, owner, "list.csv", goodList); p.Status != 303 {
		t.Fatal(p.Status)
	}
	owner.Post("/import/columns", columns("known", "update"))
	settle(t, owner)
	owner.Post("/import/write", url.Values{})
	settle(t, owner)
	owner.Expect("/import", 200, []string{"<dt>New appliances</dt><dd>0</dd>",
		"<dt>Already on file, unchanged</dt><dd>2</dd>"}, nil)
	if n := appliances(t, site); n != 3 {
		t.Errorf("%d appliances", n)
	}
}

func TestImportRefusesAListWithErrors(t *testing.T) {
	site, office := servertest.StartAs(t, records.RoleOffice)
	bad := goodList + "3 Elm Row;Upham;nonsense;combi;Tarnwell;S3;99/04/2026;\r\n1 Elm Row;Upham;AB1 " +
		"2DE;combi;Tarnwell;s1;;\r\n4 Elm Row;Upham;AB1 2DE;rocket;=1+1;S4;;\r\n"
	uploadList(t, office, "list.csv", bad)
	office.Post("/import/columns", columns())
	settle(t, office)
	office.Expect("/import", 200, []string{"4 errors", "nonsense", "99/04/2026",
		"row 2 names the same appliance", "rocket"}, []string{"Import it"})
	rows, err := csv.NewReader(strings.NewReader(office.Get("/import/errors.csv").Body)).ReadAll()
	if err != nil || len(rows) != 5 || rows[1][0] != "4" || rows[1][1] != "Postcode" {
		t.Errorf("%v, %v", rows, err)
	}
	if p := office.Post("/import/write", url.Values{}); p.Status != 409 {
		t.Errorf("write: %d", p.Status)
	}
	if n := appliances(t, site); n != 1 {
		t.Errorf("%d appliances", n)
	}
	if p := office.Post("/import/revise", url.Values{}); p.Status != 303 {
		t.Errorf("revise: %d", p.Status)
	}
	office.Post("/import/columns", columns("last_service", ""))
	settle(t, office)
	office.Expect("/import", 200, []string{"3 errors"}, nil)
	if p := office.Post("/import/discard", url.Values{}); p.Status != 303 {
		t.Errorf("discard: %d", p.Status)
	}
	office.Expect("/import", 200, []string{"Upload"}, []string{"list.csv"})
	if files, err := os.ReadDir(filepath.Join(site.Store.Dir(), "uploads")); err != nil || len(files) != 0 {
		t.Errorf("%d uploaded files stay: %v", len(files), err)
	}

	// Dates in two ways are refused as a whole.
	uploadList(t, office, "list.csv", strings.Replace(goodList, "S2;;", "S2;2026-04-13;", 1))
	office.Post("/import/columns", columns())
	settle(t, office)
	office.Expect("/import", 200, []string{"cannot be read as it is",
		"row 3 begins with the year, row 2 does not"}, []string{"Import it"})
	if p := office.Post("/import/write", url.Values{}); p.Status != 409 {
		t.Errorf("write: %d", p.Status)
	}
	office.Post("/import/discard", url.Values{})

	for name, text := range map[string]string{"workbook": "PK\x03\x04", "empty": "", "heading": "a,b\n",
		"large": strings.Repeat("a,b\n", exchange.MaxFile/4+1), "far too large": strings.Repeat("a,b\n",
			exchange.MaxFile/3)} {
		if p := uploadList(t, office, name, text); p.Status != 422 || !strings.Contains(p.Body, "Not accepted") {
			t.Errorf("%s: %d", name, p.Status)
		}
	}
	for what, p := range map[string]servertest.Page{"no file": office.Post("/import", url.Values{}),
		"columns of none": office.Post("/import/columns", columns())} {
		if p.Status >= 500 {
			t.Errorf("%s: %d", what, p.Status)
		}
	}
	if files, err := os.ReadDir(filepath.Join(site.Store.Dir(), "uploads")); err != nil || len(files) != 0 {
		t.Errorf("%d refused files stay: %v", len(files), err)
	}
}

func TestExportOfAView(t *testing.T) {
	site := servertest.Start(t)
	issued := site.Issued()
	office := site.As(records.RoleOffice)
	if _, err := site.Store.Register.CreateProperty(t.Context(), records.Actor{},
		records.PropertyEntry{Property: records.Property{Line1: "=1+1", Town: "x", Postcode: "AB1 2DE",
			Nation: records.Wales}}); err != nil {
		t.Fatal(err)
	}
	uploadList(t, office, "list.csv", goodList)
	office.Post("/import/columns", columns())
	settle(t, office)
	office.Post("/import/write", url.Values{})
	settle(t, office)
	for query, want := range map[string]int{"": 3, "&q=elm": 2, "&q=elm&kind=fire": 1, "&state=none": 1,
		"&nation=Wales": 0, "&sort=address": 3, "&after=whatever": 3} {
		p := office.Get("/register/export?as=csv" + query)
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(p.Body, "\ufeff"))).ReadAll()
		if err != nil || p.Status != 200 || len(rows) != want+1 {
			t.Errorf("%q: status %d, %d rows, %v", query, p.Status, len(rows), err)
		}
	}
	if body := office.Get("/register/export?as=csv").Body; !strings.Contains(body,
		issued.Number+","+issued.WorkDate.String()+","+string(issued.Standing)) {
		t.Errorf("the record is not in it:\n%s", body)
	}
	p := office.Get("/register/export?as=xlsx&q=elm")
	f, err := excelize.OpenReader(strings.NewReader(p.Body))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if rows, err := f.GetRows("Register"); err != nil || len(rows) != 3 || rows[1][0] != "1 Elm Row" ||
		!strings.Contains(p.Header.Get("Content-Disposition"), ".xlsx") {
		t.Errorf("%v, %v", rows, err)
	}
	for _, path := range []string{"/register/export", "/register/export?as=pdf", "/register/export?as=csv&state=moon",
		"/register/export?as=csv&sort=moon"} {
		if p := office.Get(path); p.Status != 422 || p.Header.Get("Content-Disposition") != "" {
			t.Errorf("%s: %d", path, p.Status)
		}
	}
	office.Expect("/register?q=elm&kind=fire", 200,
		[]string{`href="/register/export?as=csv&amp;kind=fire&amp;q=elm"`, "as=xlsx"}, nil)
	if p := site.As(records.RoleEngineer).Get("/register/export?as=csv"); p.Status != 403 {
		t.Errorf("engineer: %d", p.Status)
	}
}

// A long list goes in through the pages; the store's benchmark takes one of
// the most rows there may be.
func TestImportOfManyRows(t *testing.T) {
	const rows = 20_000
	_, office := servertest.StartAs(t, records.RoleOffice)
	var b strings.Builder
	b.WriteString("Address line 1;Town;Postcode;Kind;Make;Serial;Last service;Customer\n")
	for i := range rows {
		fmt.Fprintf(&b, "%d Elm Row;Upham;AB%d %dDE;combi;Tarnwell;S%d;2026-01-%02d;Customer %d\n", i, 10+i/900%90,
			i%9+1, i, i%28+1, i)
	}
	if p := uploadList(t, office, "many.csv", b.String()); p.Status != 303 {
		t.Fatal(p.Status)
	}
	office.Post("/import/columns", columns())
	if stage := settle(t, office); stage != "checked" {
		t.Fatal(stage)
	}
	office.Post("/import/write", url.Values{})
	office.Expect("/import", 200, []string{"Importing the list"}, nil) // a reload finds it at work
	if stage := settle(t, office); stage != "done" {
		t.Fatal(stage)
	}
	office.Expect("/import", 200, []string{"<dt>New appliances</dt><dd>20000</dd>"}, nil)
}
