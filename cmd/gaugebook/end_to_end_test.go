package main

import (
	"bytes"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"gaugebook/records"
	"gaugebook/templates"
)

// One record from the empty folder to the customer and back, through the
// pages as a browser without script uses them. Between the steps the server
// is killed and started again: what it has acknowledged must be there.
func TestFromEmptyFolderToCustomer(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	newOwner(t, dir)
	f := setUp(t, serve(t, dir))
	f.crash()
	f.engineer.get("/").says("Your drafts") // still signed in
	f.owner.get("/firm").says("Greystane Heating", "880011")
	f.office.get("/instruments").says("QM-20417", "QM-77120")

	appliance := newHome(t, f)
	f.crash()
	f.engineer.get("/find?q=AA7+4TB").says("Tarnwick TC 24", "14 Larkspur Rise")

	record := f.startRecord(appliance, records.Commissioning, today(t))
	halfFilled(t, f, record)
	twoTabs(t, f, record)
	notYet(t, f, record)
	f.crash()
	f.fillRecord(record)
	f.crash()
	is := twoIssueAtOnce(t, f, record)
	f.crash()
	f.engineer.get("/records/"+record).says(is.number, is.code, "In force", "every reading inside or exempt")

	file := f.engineer.get("/records/" + record + "/pdf").body
	token := letterInFolder(t, f, is, file)
	customer(t, f, is, token, file)
	genuine(t, f, is)
	paper(t, f, is, file)
	f.crash()
	key := newKey(t, f)
	attachedIsWhatTheAPIGives(t, f, key, is, file)
	throughAPI(t, f, key, appliance)
	amended(t, f, is, token)
	register(t, f, key)
	kept(t, f)
}

// newHome tries a wrong address first: what is right in it stays, and the
// message stands at the field.
func newHome(t *testing.T, f *firm) (appliance string) {
	p := f.engineer.get("/properties/new").fill("/properties", fields{"line1": "14 Larkspur Rise", "town": "Wexmoor",
		"postcode": "nowhere", "nation": "England",
		"customer.name": "Imogen Farrow", "customer.tenure": "owner-occupier",
		"customer.email": "imogen at example"}).press().was(http.StatusUnprocessableEntity)
	for id, want := range map[string]string{"bad-postcode": "“nowhere”", "bad-customer.email": "imogen at example"} {
		if got, ok := p.at(id); !ok || !strings.Contains(got, want) || !strings.Contains(got, "give") {
			t.Errorf("at %s stands %q", id, got)
		}
	}
	kept := p.form("/properties").values
	if kept.Get("line1") != "14 Larkspur Rise" || kept.Get("nation") != "England" || kept.Get("postcode") != "nowhere" {
		t.Errorf("the form came back with %v", kept)
	}
	_, appliance = f.addHome("14 Larkspur Rise", "imogen.farrow@example.org")

	// A visit cannot be in the future.
	form := "/appliances/" + appliance + "/records"
	tomorrow := today(t).AddDays(1)
	p = f.engineer.get("/appliances/"+appliance).fill(form, fields{"purpose": "commissioning",
		"work_date": tomorrow.String()}).press().was(http.StatusUnprocessableEntity)
	p.says(tomorrow.String(), "a date not after today")
	return appliance
}

// halfFilled saves half of a section with a wrong entry among it.
func halfFilled(t *testing.T, f *firm, record string) {
	path := "/records/" + record + "/sections/tightness"
	p := f.engineer.get(path).fill(path, fields{
		records.TightnessMeter.Key: "g4", records.TestPressureMbar.Key: "20,4", records.StabiliseMin.Key: "1",
		records.LetByRiseMbar.Key: "0.1 mbar",
		"tightness.runs[0].pipe":  "copper-22", "tightness.runs[0].length_m": "6.5",
		"tightness.runs[1].pipe": "copper-15", "tightness.runs[1].length_m": "long",
	}).press("").was(http.StatusUnprocessableEntity)
	refusedAt := func(p *page) {
		t.Helper()
		for id, want := range map[string][]string{
			"live-" + templates.Slug(records.TestPressureMbar.Key): {"Not accepted", "20,4", "decimal point",
				"0 to 150 mbar"},
			"live-" + templates.Slug(records.LetByRiseMbar.Key): {"Not accepted", "0.1 mbar", "leave the unit out",
				"mbar"},
			"live-" + templates.Slug("tightness.runs[1].length_m"): {"Not accepted", "long", "0.05 to 200 m"},
		} {
			got, ok := p.at(id)
			for _, w := range want {
				if !ok || !strings.Contains(got, w) {
					t.Errorf("at %s stands %q, not %q", id, got, w)
				}
			}
		}
		in := p.form(path).values
		for name, want := range (fields{records.TightnessMeter.Key: "g4", records.TestPressureMbar.Key: "20,4",
			records.StabiliseMin.Key:     "1",
			"tightness.runs[0].length_m": "6.5", "tightness.runs[1].length_m": "long", records.DropMbar.Key: ""}) {
			if in.Get(name) != want {
				t.Errorf("%s holds %q, not %q", name, in.Get(name), want)
			}
		}
	}
	refusedAt(p)
	f.crash()
	refusedAt(f.engineer.get(path))
	f.engineer.get("/records/" + record).says("3 entries not accepted")
	if p := f.engineer.get("/records/" + record + "/review"); p.has("/records/" + record + "/issue") {
		t.Error("a record with refused entries can be issued")
	}
	// A finding appears beside the reading that it judges.
	p = f.engineer.get(path).fill(path, fields{records.TightnessSupply.Key: "low",
		records.TightnessSituation.Key: "new", records.TightnessGaugeHow.Key: "electronic",
		records.DropMbar.Key: "0.9"}).press("")
	if got, _ := p.at("finding-" + templates.Slug("tightness.drop")); !strings.Contains(got, "outside") ||
		!strings.Contains(got, "0.9 mbar") {
		t.Errorf("a drop of 0.9 mbar in new pipework is said to be %q", got)
	}
}

// twoTabs saves one section from two tabs: the second is told, and chooses.
func twoTabs(t *testing.T, f *firm, record string) {
	path := "/records/" + record + "/sections/pressure"
	one, two := f.engineer.get(path), f.engineer.get(path)
	one.fill(path, fields{records.StandingMbar.Key: "22.1", records.MeterMbar.Key: "20.9"}).press("").was(http.StatusOK)
	p := two.fill(path, fields{records.StandingMbar.Key: "23.4",
		records.ApplianceMbar.Key: "20.2"}).press("").was(http.StatusConflict)
	p.says("two versions", "23.4 mbar", "22.1 mbar", "20.2 mbar", "Nothing has been lost")
	if got := f.engineer.get(path).form(path).values; got.Get(records.StandingMbar.Key) != "22.1" ||
		got.Get(records.ApplianceMbar.Key) != "" {
		t.Errorf("the stale form was saved: %v", got)
	}
	f.crash()
	p.fill(path+"/choose", fields{"keep." + records.StandingMbar.Key: "other",
		"keep." + records.ApplianceMbar.Key: "mine",
		"keep." + records.MeterMbar.Key:     "other"}).press().was(http.StatusOK)
	got := f.engineer.get(path).form(path).values
	for key, want := range (fields{records.StandingMbar.Key: "22.1", records.MeterMbar.Key: "20.9",
		records.ApplianceMbar.Key: "20.2"}) {
		if got.Get(key) != want {
			t.Errorf("after the choice %s holds %q, not %q", key, got.Get(key), want)
		}
	}
}

// notYet tries to issue while readings are missing.
func notYet(t *testing.T, f *firm, record string) {
	p := f.engineer.get("/records/"+record+"/review").says("Missing", "Before this record can be issued")
	if p.has("/records/" + record + "/issue") {
		t.Error("the review offers to issue a record with readings missing")
	}
	revision := f.engineer.get("/records/" + record + "/sections/heat").form("/records/" + record +
		"/sections/heat").values.Get("revision")
	f.engineer.send("/records/"+record+"/issue",
		url.Values{"revision": {revision}}).was(http.StatusConflict).says("Not issued", "still a draft")
	f.engineer.get("/records/" + record).says("Draft commissioning record")
	f.office.look("/records/" + record + "/review").was(http.StatusForbidden)
	f.office.send("/records/"+record+"/issue", url.Values{"revision": {revision}}).was(http.StatusForbidden)
	if letters := letters(t, f.dir); len(letters) != 0 {
		t.Errorf("%d letters were sent for a draft", len(letters))
	}
}

// twoIssueAtOnce has the engineer issue the same draft four times at the same
// moment, and the owner, whose readings they are not: one of the engineer's wins.
func twoIssueAtOnce(t *testing.T, f *firm, record string) issued {
	form := f.engineer.get("/records/"+record+"/review").says("every reading is inside its limit or exempt",
		"imogen.farrow@example.org").form("/records/" + record + "/issue")
	answers := make([]*page, 8)
	var all sync.WaitGroup
	for i := range answers {
		who := f.engineer
		if i%2 == 1 {
			who = f.owner
		}
		all.Go(func() { answers[i] = who.send(form.action, form.values) })
	}
	all.Wait()
	won := 0
	var is issued
	for _, p := range answers {
		switch p.status {
		case http.StatusOK:
			won++
			is = issuedOf(p, record)
		case http.StatusConflict:
		case http.StatusForbidden:
			if p.v != f.owner {
				t.Errorf("the engineer may not issue: %s", p.words())
			}
		default:
			t.Errorf("status %d: %s", p.status, p.words())
		}
	}
	if won != 1 {
		t.Fatalf("%d of %d issued the same record", won, len(answers))
	}
	if !strings.HasSuffix(is.number, "-00001") {
		t.Errorf("the first record has the number %s", is.number)
	}
	f.engineer.send("/records/"+record+"/sections/heat", url.Values{"revision": {form.values.Get("revision")},
		records.HeatSeconds.Key: {"61"}}).was(http.StatusConflict)
	return is
}

// customer opens the private link as somebody without an account.
func customer(t *testing.T, f *firm, is issued, token string, file []byte) {
	c := f.visitor(t)
	p := c.get("/r/"+token).says("What was measured when your appliance was put into use", "Tarnwick TC 24",
		"Sorrel Yarrow of Greystane Heating", "all of them were inside it",
		"0800 111 999", "What is due next", "Annual service", is.number, is.code)
	p.saysNot("your appliance is safe", "/records/", engineerEmail)
	if robots, referrer := p.header.Get("X-Robots-Tag"), p.header.Get("Referrer-Policy"); !strings.Contains(robots,
		"noindex") || referrer != "no-referrer" {
		t.Errorf("private page: robots %q, referrer %q", robots, referrer)
	}
	if got := c.get(p.link("/r/")).body; !bytes.Equal(got, file) {
		t.Error("the customer's PDF is not the firm's")
	}
	c.look("/r/" + strings.Repeat("A", len(token))).was(http.StatusNotFound)
	c.look("/r/" + token[:len(token)-1]).was(http.StatusNotFound)
	p = p.fill("/r/"+token+"/visit",
		fields{"text": "Water under the boiler, a Tuesday would suit."}).press().was(http.StatusOK)
	p.says("Your request is with Greystane Heating")
	f.office.get("/").says("Water under the boiler")
}

// genuine asks the verification page about right and wrong pairs.
func genuine(t *testing.T, f *firm, is issued) {
	c := f.visitor(t)
	form := url.Values{"number": {is.number}, "code": {strings.ToLower(strings.ReplaceAll(is.code, "-", " "))}}
	c.get("/verify?"+form.Encode()).says("issued here and is in force", is.number).saysNot("Farrow", "Larkspur")
	for _, wrong := range [][2]string{{is.number, altered(is.code)}, {altered(is.number), is.code},
		{is.number, "ABCD-EFGH-JKMN"}, {is.number, "x"}, {"1", is.code}} {
		p := c.look("/v/" + wrong[0] + "/" +
			url.PathEscape(wrong[1])).was(http.StatusNotFound).says("do not match")
		p.saysNot("in force", "Farrow")
	}
}

// altered changes the last digit or letter.
func altered(s string) string {
	last := s[len(s)-1]
	next := last + 1
	if last == '9' || last == 'Z' {
		next = last - 1
	}
	return s[:len(s)-1] + string(next)
}

// amended puts the record right by a new issue; the old one says so, on every
// page that shows it.
func amended(t *testing.T, f *firm, is issued, token string) {
	p := f.engineer.get("/records/"+is.id).fill("/records/"+is.id+"/amend",
		fields{"why": "Serial number misread."}).press().was(http.StatusOK)
	next := strings.TrimPrefix(p.path, "/records/")
	p.says("Amends record " + is.number)
	f.crash()
	path := "/records/" + next + "/sections/appliance"
	f.engineer.get(path).fill(path, fields{records.ApplianceSerial.Key: "TC24-0061874"}).press("").was(http.StatusOK)
	f.visitor(t).get("/v/" + is.number + "/" + is.code).says("is in force")
	f.engineer.get("/records/" + next + "/review").says("Engineer's declaration: is missing") // of the first issue
	f.fillSection(next, records.Handover.ID)
	second := f.issueRecord(next)
	c := f.visitor(t)
	c.get("/v/"+is.number+"/"+is.code).says("issued here but has been replaced",
		second.number).saysNot("and is in force")
	c.get("/v/" + second.number + "/" + second.code).says("is in force")
	c.get("/r/"+token).says("no longer in force", second.number)
	f.office.get("/records/"+is.id).says("No longer in force", second.number)
	f.office.get("/records/"+second.id).says("Replaces record "+is.number, "In force", "TC24-0061874")
}

// kept backs the running register up and proves the audit log of it and of
// the copy; a copy that was meddled with is told apart.
func kept(t *testing.T, f *firm) {
	copied := filepath.Join(t.TempDir(), "copy")
	if err := os.Mkdir(copied, 0o700); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(copied, "register.db")
	must(t, "", "backup", "--data", f.dir, file)
	if got := gaugebook(t, "", "backup", "--data", f.dir, file); got.code != exitBad {
		t.Errorf("a backup wrote over another: exit %d: %s", got.code, got.out)
	}
	for _, dir := range []string{f.dir, copied} {
		if out := must(t, "", "audit", "--data", dir); !strings.Contains(out, "follows from the one before") {
			t.Errorf("audit: %s", out)
		}
	}
	if got := gaugebook(t, "", "serve", "--data", copied); got.code != exitBad ||
		!strings.Contains(got.err, "firm.key is missing") {
		t.Errorf("a register without its key: exit %d: %s", got.code, got.err)
	}
	key := read(t, filepath.Join(f.dir, "firm.key"))
	write(t, copied, "firm.key", key)
	restored := serve(t, copied)
	restored.visitor(t).signIn(engineerEmail, engineerPassword).get("/find?q=AA7+4TB").says("Tarnwick TC 24")
	restored.stop()
	meddle(t, file)
	if got := gaugebook(t, "", "audit", "--data", copied); got.code != exitAdverse {
		t.Errorf("audit of a copy that was meddled with: exit %d: %s%s", got.code, got.out, got.err)
	}
	f.stop() // as an operator does it, without an error
	must(t, "", "audit", "--data", f.dir)
}
