package engineer_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

// Every section's form is made from its description: each field is in it by
// its key, with a label, its unit and, where it has one, its hint.
func TestEveryFieldOfEverySectionIsInItsForm(t *testing.T) {
	site := servertest.Start(t)
	r := site.Full()
	c := site.As(records.RoleEngineer)
	for _, s := range records.Sections {
		p := c.Get("/records/" + r.ID + "/sections/" + string(s.ID))
		if p.Status != 200 {
			t.Fatalf("%s: status %d", s.ID, p.Status)
		}
		for _, f := range s.Fields() {
			name := f.Key
			if f.Kind == records.RowsKind {
				name = f.Key + "[0]." + f.Columns[0].Key
			}
			if !strings.Contains(p.Body, `name="`+name+`"`) {
				t.Errorf("%s is not in the form", name)
			}
			for _, text := range []string{f.Label, f.Unit, f.Hint} {
				if !strings.Contains(p.Body, escape(text)) {
					t.Errorf("%s: %q is not on the page", f.Key, text)
				}
			}
			if f.When != nil && !strings.Contains(p.Body, `data-when-key="`+f.When.Key+`"`) {
				t.Errorf("%s: its condition is not on the page", f.Key)
			}
			if f.Kind == records.NumberKind && !regexp.MustCompile(`name="`+regexp.QuoteMeta(f.Key)+
				`"[^>]*inputmode="decimal"`).MatchString(p.Body) {
				t.Errorf("%s does not bring up the number keypad", f.Key)
			}
		}
	}
}

func escape(s string) string {
	return strings.NewReplacer("&", "&amp;", "'", "&#39;", `"`, "&#34;", "<", "&lt;", "+", "&#43;").Replace(s)
}

// What is posted from a whole form, untouched, changes nothing: no field is
// lost on the way through the page.
func TestFormsRoundTrip(t *testing.T) {
	site := servertest.Start(t)
	r := site.Full()
	c := site.As(records.RoleEngineer)
	for _, s := range records.Sections {
		page := c.Get("/records/" + r.ID + "/sections/" + string(s.ID))
		v := fieldsOf(page.Body)
		if p := c.Post("/records/"+r.ID+"/sections/"+string(s.ID), v); p.Status != 303 {
			t.Fatalf("%s: status %d\n%s", s.ID, p.Status, servertest.ErrorsOf(p.Body))
		}
	}
	after, err := site.Store.Records.Record(t.Context(), r.ID)
	if err != nil {
		t.Fatal(err)
	}
	for key, v := range r.Values {
		if !after.Values[key].Equal(v) {
			t.Errorf("%s was %q, is %q", key, v.Text(), after.Values[key].Text())
		}
	}
	if len(after.Values) != len(r.Values) {
		t.Errorf("%d values, were %d", len(after.Values), len(r.Values))
	}
}

var (
	inputTag    = regexp.MustCompile(`<input[^>]*>`)
	selectTag   = regexp.MustCompile(`(?s)<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>`)
	chosenTag   = regexp.MustCompile(`<option value="([^"]*)" selected>`)
	textTag     = regexp.MustCompile(`(?s)<textarea[^>]*name="([^"]*)"[^>]*>(.*?)</textarea>`)
	templateTag = regexp.MustCompile(`(?s)<template>.*?</template>`)
	unescape    = strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&lt;", "<", "&gt;", ">", "&#43;", "+", "&amp;", "&")
)

// fieldsOf reads a form as a browser would send it.
func fieldsOf(body string) url.Values {
	body = templateTag.ReplaceAllString(body, "")
	v := url.Values{}
	attr := func(tag, name string) (string, bool) {
		m := regexp.MustCompile(` ` + name + `="([^"]*)"`).FindStringSubmatch(tag)
		if m == nil {
			return "", false
		}
		return unescape.Replace(m[1]), true
	}
	for _, tag := range inputTag.FindAllString(body, -1) {
		name, ok := attr(tag, "name")
		value, _ := attr(tag, "value")
		kind, _ := attr(tag, "type")
		if ok && (kind != "radio" && kind != "checkbox" || strings.Contains(tag, " checked")) {
			v.Add(name, value)
		}
	}
	for _, m := range selectTag.FindAllStringSubmatch(body, -1) {
		value := ""
		if o := chosenTag.FindStringSubmatch(m[2]); o != nil {
			value = unescape.Replace(o[1])
		}
		v.Add(unescape.Replace(m[1]), value)
	}
	for _, m := range textTag.FindAllStringSubmatch(body, -1) {
		v.Add(unescape.Replace(m[1]), unescape.Replace(m[2]))
	}
	return v
}

func TestSavingASection(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	c := site.As(records.RoleEngineer)
	path := "/records/" + r.ID + "/sections/tightness"
	rev := strconv.Itoa(r.Revision)

	// Half filled, one entry refused: the rest is saved.
	p := c.Post(path, servertest.Form("revision", rev, "tightness.drop_mbar", "0,4", "tightness.test_min", "2",
		"tightness.smell",
		"no", "go", "pressure"))
	if p.Status != 422 || !strings.Contains(p.Body, `value="0,4"`) || !strings.Contains(p.Body, "decimal point") ||
		!strings.Contains(p.Body, "1 entry was") {
		t.Fatalf("status %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}
	c.Expect(path, 200, []string{`value="0,4"`, `name="tightness.test_min" value="2"`, "decimal point"}, nil)
	c.Expect("/records/"+r.ID, 200, []string{"1 entry not accepted"}, nil)
	c.Expect("/records/"+r.ID+"/review", 200, []string{"Entries that were not accepted",
		"#at-tightness-drop_mbar"}, []string{"Issue the record"})

	// Put right, and on to the next section.
	p = c.Post(path, servertest.Form("revision", servertest.RevisionIn(t, p.Body), "tightness.drop_mbar", "0.4", "go",
		"pressure"))
	if p.Status != 303 || p.Location != "/records/"+r.ID+"/sections/pressure" {
		t.Fatalf("status %d to %s", p.Status, p.Location)
	}
	for button, want := range map[string]string{"": "/sections/tightness", "review": "/review",
		"nonsense": "/sections/tightness", "flue": "/sections/flue"} {
		p = c.Post(path, servertest.Form("revision", servertest.RevisionIn(t, c.Get(path).Body), "go", button))
		if p.Location != "/records/"+r.ID+want {
			t.Errorf("button %q leads to %s", button, p.Location)
		}
	}

	// Rows: blank ones close up, a refused cell keeps every row as typed.
	p = c.Post(path, servertest.Form("revision", servertest.RevisionIn(t, c.Get(path).Body), "tightness.runs[0].pipe",
		"copper-22",
		"tightness.runs[0].length_m", "3.5",
		"tightness.runs[1].pipe", "", "tightness.runs[1].length_m", "", "tightness.runs[4].pipe", "copper-15",
		"tightness.runs[4].length_m", "long"))
	if p.Status != 422 || !strings.Contains(p.Body, `name="tightness.runs[1].length_m" value="long"`) ||
		!strings.Contains(p.Body, `name="tightness.runs[0].length_m" value="3.5"`) {
		t.Errorf("rows: status %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}
	if n := strings.Count(p.Body, "Pipe runs, row 2, Length"); n < 2 {
		t.Errorf("the refused cell is named %d times, want in the cell and under the list", n)
	}

	// Bad requests name what is wrong and change nothing.
	for _, bad := range []struct {
		form   url.Values
		status int
		says   string
	}{
		{servertest.Form("tightness.drop_mbar", "1"), 422, "Revision"},
		{servertest.Form("revision", "x"), 422, "Revision"},
		{servertest.Form("revision", "-1"), 422, "Revision"},
	} {
		if p := c.Post(path, bad.form); p.Status != bad.status || !strings.Contains(p.Body, bad.says) {
			t.Errorf("%v: status %d", bad.form, p.Status)
		}
	}
	for _, path := range []string{"/records/none/sections/tightness", "/records/" + r.ID + "/sections/none"} {
		if p := c.Post(path, servertest.Form("revision", "1")); p.Status != http.StatusNotFound {
			t.Errorf("%s: status %d", path, p.Status)
		}
	}
}

// A request of script gets the form alone, and is told when it must sign in.
func TestSectionForScript(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	c, guest := site.As(records.RoleEngineer), site.Guest()
	path := "/records/" + r.ID + "/sections/tightness"
	c.Header.Set("Gaugebook-Part", "section")
	p := c.Post(path, servertest.Form("revision", strconv.Itoa(r.Revision), "tightness.smell", "yes"))
	if p.Status != 200 || strings.Contains(p.Body, "<html") || !strings.Contains(p.Body,
		`id="live-tightness-smell"`) || !strings.Contains(p.Body, "outside") {
		t.Errorf("status %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	guest.Header.Set("Gaugebook-Part", "section")
	if p := guest.Post(path, servertest.Form("revision", "2")); p.Status != http.StatusUnauthorized {
		t.Errorf("signed out: status %d", p.Status)
	}
}

func TestTwoVersions(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	c := site.As(records.RoleEngineer)
	path := "/records/" + r.ID + "/sections/tightness"
	rev := strconv.Itoa(r.Revision)
	if p := c.Post(path, servertest.Form("revision", rev, "tightness.drop_mbar", "0.2", "tightness.test_min", "2",
		"tightness.runs[0].length_m", "3")); p.Status != 303 {
		t.Fatalf("first save: %d", p.Status)
	}
	// The second save comes from a page that has not seen the first.
	p := c.Post(path, servertest.Form("revision", rev, "tightness.drop_mbar", "0.9", "tightness.test_min", "2",
		"tightness.smell",
		"no",
		"tightness.runs[0].length_m", "4", "tightness.runs[0].pipe", "copper-22"))
	if p.Status != http.StatusConflict {
		t.Fatalf("stale save: status %d", p.Status)
	}
	for _, s := range []string{"0.2 mbar", "0.9 mbar", "nothing", "Copper 22 mm", "1: Length 3 m"} {
		if !strings.Contains(p.Body, s) {
			t.Errorf("both versions: no %q", s)
		}
	}
	if strings.Contains(p.Body, "Test lasted") {
		t.Error("a field in which both agree is shown")
	}
	choice := fieldsOf(p.Body)
	choice.Set("keep.tightness.drop_mbar", "other")
	if p := c.Post(path+"/choose", choice); p.Status != 303 {
		t.Fatalf("choice: status %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	after, err := site.Store.Records.Record(t.Context(), r.ID)
	if err != nil {
		t.Fatal(err)
	}
	if got := after.Values.Rows(records.TightnessRuns); len(got) != 1 || got[0].Text("length_m") != "4" {
		t.Errorf("rows kept: %v", got)
	}
	if d, s := after.Values[records.DropMbar.Key].Text(), after.Values[records.SmellOfGas.Key].Text(); d != "0.2" ||
		s != "no" {
		t.Errorf("drop %q, smell %q", d, s)
	}
	// What was not chosen stays to be seen with the draft.
	draft := c.Get("/records/" + r.ID).Body
	if _, aside, _ := strings.Cut(draft, `id="kept"`); !strings.Contains(aside, "Tamsin Oakhurst") ||
		!strings.Contains(aside, "<strong>0.9 mbar</strong>; in the draft: 0.2 mbar") ||
		strings.Contains(aside, "Smell of gas") {
		t.Errorf("put aside: %s", servertest.Clip(aside))
	}
	// Saving the same once more is no conflict.
	if p := c.Post(path, servertest.Form("revision", rev, "tightness.drop_mbar", "0.2")); p.Status != 303 {
		t.Errorf("the same again: status %d", p.Status)
	}
}
