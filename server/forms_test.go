package server_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

var goodAddress = []string{"line1", "4 Tidewater Steps", "town", "Ambershaw", "postcode", "ab123xy", "nation",
	"England",
	"customer.name", "Odalys Penhallow", "customer.tenure", "tenant", "customer.email", "odalys@home.example"}

// Each bad input of each form comes back in its field with what would be
// accepted, and nothing is saved.
func TestBadInput(t *testing.T) {
	site, owner := servertest.StartAs(t, records.RoleOwner)
	person := []string{"name", "Wilf Marchbank", "email", "wilf@tweddle.example", "role", "engineer", "password",
		"long enough words"}
	instrument := []string{"kind", "gauge", "serial", "G-1", "calibrated_on", "2026-01-05", "calibration_due",
		"2027-01-05"}
	bands := []string{"edition", records.Edition4, "fuel", records.FuelNatural, "clause", "table 9", "volume", "0.01",
		"drop", "4"}
	at := "/appliances/" + site.Appliance.ID
	for _, c := range []struct {
		path string
		form url.Values
		says []string
	}{
		{"/properties", servertest.FormWith(goodAddress, "line1", ""),
			[]string{"First line of the address", "cannot be left blank"}},
		{"/properties", servertest.FormWith(goodAddress, "postcode", "QQ 1"),
			[]string{"“QQ 1” is not accepted", "AB12 3XY"}},
		{"/properties", servertest.FormWith(goodAddress, "nation", "France"),
			[]string{"one of England, Wales, Scotland, Northern Ireland"}},
		{"/properties", servertest.FormWith(goodAddress, "customer.name", ""),
			[]string{"Name", "cannot be left blank"}},
		{"/properties", servertest.FormWith(goodAddress, "customer.email", "odalys"),
			[]string{"“odalys” is not accepted"}},
		{"/properties", servertest.FormWith(goodAddress, "customer.tenure", ""),
			[]string{"Relationship to the property"}},
		{"/properties", servertest.FormWith(goodAddress, "town", strings.Repeat("x", 61)),
			[]string{"at most 60 characters"}},
		{"/properties", servertest.Form(), []string{"First line of the address", "Town", "Postcode", "Nation"}},
		{"/properties/" + site.Property.ID, servertest.FormWith(goodAddress, "postcode", ""), []string{"Postcode"}},
		{"/properties/" + site.Property.ID + "/appliances", servertest.Form(), []string{"Choose the kind"}},
		{"/properties/" + site.Property.ID + "/appliances", servertest.Form("appliance.kind", "toaster"),
			[]string{"“toaster” is not accepted"}},
		{"/properties/" + site.Property.ID + "/appliances", servertest.Form("appliance.kind", records.KindFire,
			"appliance.rated_input_kw", "5,4"), []string{`value="5,4"`, "decimal point"}},
		{at, servertest.Form("appliance.kind", records.KindFire, "appliance.rated_input_kw", "500"),
			[]string{"from 0.5 to 100 kW"}},
		{at + "/contacts", servertest.Form("note", "nobody in"), []string{"How", "nobody in"}},
		{at + "/contacts", servertest.Form("how", "visit", "next", "tomorrow"), []string{"YYYY-MM-DD"}},
		{at + "/contacts", servertest.Form("how", "visit", "note", strings.Repeat("n", 2001)),
			[]string{"at most 2000 characters"}},
		{at + "/records", servertest.Form("purpose", "picnic", "work_date", "2026-11-20"),
			[]string{"“picnic” is not accepted"}},
		{at + "/records", servertest.Form("purpose", "service", "work_date", "2026-12-25"),
			[]string{"not after today"}},
		{at + "/records", servertest.Form("purpose", "service", "work_date", "25.11.2026"), []string{"YYYY-MM-DD"}},
		{at + "/records", servertest.Form("purpose", "service"), []string{"Date of the work"}},
		{at + "/retire", servertest.Form(), []string{"Reason"}},
		{"/firm", servertest.Form("name", ""), []string{"Name of the firm", "cannot be left blank"}},
		{"/people", servertest.FormWith(person, "email", "wilf"), []string{"“wilf” is not accepted"}},
		{"/people", servertest.FormWith(person, "role", "boss"), []string{"one of owner, office, engineer"}},
		{"/people", servertest.FormWith(person, "password", "short"), []string{"12 to 200 characters"}},
		{"/people", servertest.FormWith(person, "competence_until", "soon"), []string{"YYYY-MM-DD"}},
		{"/people/" + site.People[records.RoleOffice].ID + "/keys", servertest.Form("label", "", "days", "90",
			"scope", "read"),
			[]string{"What it is for"}},
		{"/people/" + site.People[records.RoleOffice].ID, servertest.FormWith(person, "name", "", "active", "active"),
			[]string{"Name"}},
		{"/instruments", servertest.FormWith(instrument, "kind", "hammer"), []string{"hammer"}},
		{"/instruments", servertest.FormWith(instrument, "serial", ""), []string{"Serial number"}},
		{"/instruments", servertest.FormWith(instrument, "calibration_due", "2025-01-05"),
			[]string{"a date after the calibration"}},
		{"/instruments", servertest.FormWith(instrument, "calibrated_on", "5 May"), []string{"YYYY-MM-DD"}},
		{"/drop-bands", servertest.FormWith(bands, "volume", "-1"), []string{"from 0 to 0.035 m³"}},
		{"/drop-bands", servertest.FormWith(bands, "drop", "40"), []string{"from 0 to 8 mbar", `value="40"`}},
		{"/drop-bands", servertest.FormWith(bands, "edition", records.Edition3), []string{"give one of edition-4"}},
		{"/drop-bands", servertest.FormWith(bands, "fuel", records.FuelPropane), []string{"give one of natural-gas"}},
		{"/drop-bands", servertest.FormWith(bands, "volume", "NaN"), []string{"not a plain number", `value="NaN"`}},
		{"/drop-bands", servertest.FormWith(bands, "drop", ""), []string{"Drop at most"}},
		{"/drop-bands", servertest.FormWith(bands, "clause", ""), []string{"Clause in your copy",
			"cannot be left blank"}},
		{"/drop-bands", servertest.Form("edition", records.Edition4, "fuel", records.FuelNatural, "clause", "t",
			"volume", "0.03",
			"drop", "4", "volume", "0.02", "drop", "2"), []string{"more than 0.03"}},
		{"/drop-bands", servertest.Form("edition", records.Edition4, "fuel", records.FuelNatural, "clause", "t"),
			[]string{"1 to 50 bands"}},
	} {
		p := owner.Post(c.path, c.form)
		name := fmt.Sprintf("POST %s %.80s", c.path, c.form.Encode())
		if p.Status != 422 {
			t.Errorf("%s: status %d", name, p.Status)
		}
		for _, s := range c.says {
			if !strings.Contains(p.Body, s) {
				t.Errorf("%s: does not say %q\n%s", name, s, servertest.ErrorsOf(p.Body))
			}
		}
	}
	for _, path := range []string{"/people", "/instruments"} {
		if b := owner.Get(path).Body; strings.Contains(b, "Wilf") || strings.Contains(b, "hammer") {
			t.Errorf("%s holds what was refused", path)
		}
	}
}

func TestGoodForms(t *testing.T) {
	site, owner := servertest.StartAs(t, records.RoleOwner)
	to := func(path string, f url.Values) string {
		t.Helper()
		p := owner.Post(path, f)
		if p.Status != 303 {
			t.Fatalf("POST %s: status %d\n%s", path, p.Status, servertest.ErrorsOf(p.Body))
		}
		return p.Location
	}
	property := to("/properties", servertest.Form(goodAddress...))
	owner.Expect(property, 200, []string{"4 Tidewater Steps", "AB12 3XY", "Odalys Penhallow", "Added."}, nil)
	owner.Expect(property, 200, nil, []string{"Added."}) // said once
	if p := owner.Post("/properties", servertest.Form(goodAddress...)); p.Status != 409 ||
		!strings.Contains(p.Body, "on file already") || !strings.Contains(p.Body, property) {
		t.Errorf("the same address again: status %d", p.Status)
	}
	appliance := to(property+"/appliances", servertest.Form("appliance.kind", records.KindFire, "appliance.make",
		"Brindlow",
		"appliance.model", "Ember 5", "appliance.serial", "BE-77"))
	owner.Expect(appliance, 200, []string{"Brindlow Ember 5", "Gas fire", "BE-77"}, nil)
	to(appliance, servertest.Form("appliance.kind", records.KindFire, "appliance.make", "Brindlow", "appliance.model",
		"Ember 6"))
	owner.Expect(appliance, 200, []string{"Ember 6"}, []string{"BE-77"})
	to(appliance+"/contacts", servertest.Form("how", "telephone", "note", "will <b>call</b> back", "next",
		"2026-12-01"))
	owner.Expect(appliance, 200, []string{"will &lt;b&gt;call&lt;/b&gt; back", "1 December 2026"},
		[]string{"<b>call"})
	owner.Expect("/find?q=tidewater", 200, []string{"1 appliance", "Brindlow Ember 6"}, nil)
	owner.Expect("/find?q=AB12+3XY", 200, []string{"Addresses at this postcode", "4 Tidewater Steps"}, nil)
	owner.Expect("/find?q=zzzz", 200, []string{"No appliance found"}, nil)

	to("/people", servertest.Form("name", "Wilf Marchbank", "email", "wilf@tweddle.example", "role", "engineer",
		"password",
		"long enough words"))
	if p := site.Guest().Post("/sign-in", servertest.Form("email", "wilf@tweddle.example", "password",
		"long enough words")); p.Status != 303 {
		t.Errorf("the new person cannot sign in: %d", p.Status)
	}
	to("/instruments", servertest.Form("kind", "gauge", "make", "Whitlow", "model", "DM 9", "serial", "W-9",
		"calibrated_on",
		"2026-01-05", "calibration_due", "2026-12-05"))
	owner.Expect("/instruments", 200, []string{"Whitlow DM 9", "near"}, nil)
	to("/drop-bands", servertest.Form("edition", records.Edition4, "fuel", records.FuelNatural, "clause", "table 9",
		"volume",
		"0.01", "drop", "4", "volume", "", "drop", ""))
	owner.Expect("/drop-bands", 200, []string{"table 9", "0.01 m³", "4 mbar", "Rhona Tweddle",
		`value="edition-4"`, records.BandDropMbar.Hint}, []string{`value="edition-3"`, `value="propane"`, "Not used"})
	to("/firm", servertest.Form("name", "Tweddle Heating", "phone", "01632 960 111"))
	owner.Expect("/firm", 200, []string{`value="Tweddle Heating"`}, nil)

	p := owner.Post("/people/"+site.People[records.RoleEngineer].ID+"/keys", servertest.Form("label", "the van",
		"scope", "enter", "days", "90"))
	if p.Status != 200 || !strings.Contains(p.Body, "gbk_") {
		t.Errorf("key: status %d", p.Status)
	}
	owner.Expect("/people/"+site.People[records.RoleEngineer].ID, 200, []string{"the van"},
		[]string{"gbk_"})

	to(appliance+"/retire", servertest.Form("why", "taken out"))
	owner.Expect(appliance, 200, []string{"No longer there", "taken out"}, []string{"Start a record"})
}
