package server_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func form(pairs ...string) url.Values {
	v := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return v
}

var goodAddress = []string{"line1", "4 Tidewater Steps", "town", "Ambershaw", "postcode", "ab123xy", "nation",
	"England",
	"customer.name", "Odalys Penhallow", "customer.tenure", "tenant", "customer.email", "odalys@home.example"}

func with(base []string, more ...string) url.Values {
	v := form(base...)
	for i := 0; i+1 < len(more); i += 2 {
		v.Set(more[i], more[i+1])
	}
	return v
}

// Each bad input of each form comes back in its field with what would be
// accepted, and nothing is saved.
func TestBadInput(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
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
		{"/properties", with(goodAddress, "line1", ""), []string{"First line of the address", "cannot be left blank"}},
		{"/properties", with(goodAddress, "postcode", "QQ 1"), []string{"“QQ 1” is not accepted", "AB12 3XY"}},
		{"/properties", with(goodAddress, "nation", "France"),
			[]string{"one of England, Wales, Scotland, Northern Ireland"}},
		{"/properties", with(goodAddress, "customer.name", ""), []string{"Name", "cannot be left blank"}},
		{"/properties", with(goodAddress, "customer.email", "odalys"), []string{"“odalys” is not accepted"}},
		{"/properties", with(goodAddress, "customer.tenure", ""), []string{"Relationship to the property"}},
		{"/properties", with(goodAddress, "town", strings.Repeat("x", 61)), []string{"at most 60 characters"}},
		{"/properties", form(), []string{"First line of the address", "Town", "Postcode", "Nation"}},
		{"/properties/" + site.Property.ID, with(goodAddress, "postcode", ""), []string{"Postcode"}},
		{"/properties/" + site.Property.ID + "/appliances", form(), []string{"Choose the kind"}},
		{"/properties/" + site.Property.ID + "/appliances", form("appliance.kind", "toaster"),
			[]string{"“toaster” is not accepted"}},
		{"/properties/" + site.Property.ID + "/appliances", form("appliance.kind", records.KindFire,
			"appliance.rated_input_kw", "5,4"), []string{`value="5,4"`, "decimal point"}},
		{at, form("appliance.kind", records.KindFire, "appliance.rated_input_kw", "500"),
			[]string{"from 0.5 to 100 kW"}},
		{at + "/contacts", form("note", "nobody in"), []string{"How", "nobody in"}},
		{at + "/contacts", form("how", "visit", "next", "tomorrow"), []string{"YYYY-MM-DD"}},
		{at + "/contacts", form("how", "visit", "note", strings.Repeat("n", 2001)),
			[]string{"at most 2000 characters"}},
		{at + "/records", form("purpose", "picnic", "work_date", "2026-11-20"), []string{"“picnic” is not accepted"}},
		{at + "/records", form("purpose", "service", "work_date", "2026-12-25"), []string{"not after today"}},
		{at + "/records", form("purpose", "service", "work_date", "25.11.2026"), []string{"YYYY-MM-DD"}},
		{at + "/records", form("purpose", "service"), []string{"Date of the work"}},
		{at + "/retire", form(), []string{"Reason"}},
		{"/firm", form("name", ""), []string{"Name of the firm", "cannot be left blank"}},
		{"/people", with(person, "email", "wilf"), []string{"“wilf” is not accepted"}},
		{"/people", with(person, "role", "boss"), []string{"one of owner, office, engineer"}},
		{"/people", with(person, "password", "short"), []string{"12 to 200 characters"}},
		{"/people", with(person, "competence_until", "soon"), []string{"YYYY-MM-DD"}},
		{"/people/" + site.People[records.RoleOffice].ID + "/keys", form("label", ""), []string{"What it is for"}},
		{"/people/" + site.People[records.RoleOffice].ID, with(person, "name", "", "active", "active"),
			[]string{"Name"}},
		{"/instruments", with(instrument, "kind", "hammer"), []string{"hammer"}},
		{"/instruments", with(instrument, "serial", ""), []string{"Serial number"}},
		{"/instruments", with(instrument, "calibration_due", "2025-01-05"), []string{"a date after the calibration"}},
		{"/instruments", with(instrument, "calibrated_on", "5 May"), []string{"YYYY-MM-DD"}},
		{"/drop-bands", with(bands, "volume", "-1"), []string{"from 0 to 0.035 m³"}},
		{"/drop-bands", with(bands, "drop", "40"), []string{"from 0 to 8 mbar", `value="40"`}},
		{"/drop-bands", with(bands, "edition", records.Edition3), []string{"give one of edition-4"}},
		{"/drop-bands", with(bands, "fuel", records.FuelPropane), []string{"give one of natural-gas"}},
		{"/drop-bands", with(bands, "volume", "NaN"), []string{"not a plain number", `value="NaN"`}},
		{"/drop-bands", with(bands, "drop", ""), []string{"Drop at most"}},
		{"/drop-bands", with(bands, "clause", ""), []string{"Clause in your copy", "cannot be left blank"}},
		{"/drop-bands", form("edition", records.Edition4, "fuel", records.FuelNatural, "clause", "t", "volume", "0.03",
			"drop", "4", "volume", "0.02", "drop", "2"), []string{"more than 0.03"}},
		{"/drop-bands", form("edition", records.Edition4, "fuel", records.FuelNatural, "clause", "t"),
			[]string{"1 to 50 bands"}},
	} {
		p := owner.Post(c.path, c.form)
		name := fmt.Sprintf("POST %s %.80s", c.path, c.form.Encode())
		if p.Status != 422 {
			t.Errorf("%s: status %d", name, p.Status)
		}
		for _, s := range c.says {
			if !strings.Contains(p.Body, s) {
				t.Errorf("%s: does not say %q\n%s", name, s, errorsOf(p.Body))
			}
		}
	}
	for _, path := range []string{"/people", "/instruments"} {
		if b := owner.Get(path).Body; strings.Contains(b, "Wilf") || strings.Contains(b, "hammer") {
			t.Errorf("%s holds what was refused", path)
		}
	}
}

// errorsOf shows the lines of a page that speak of an error.
func errorsOf(body string) string {
	var out []string
	for _, l := range strings.Split(body, "\n") {
		if strings.Contains(l, "error") || strings.Contains(l, "notice") {
			out = append(out, l)
		}
	}
	return strings.Join(out, "\n")
}

func TestGoodForms(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	to := func(path string, f url.Values) string {
		t.Helper()
		p := owner.Post(path, f)
		if p.Status != 303 {
			t.Fatalf("POST %s: status %d\n%s", path, p.Status, errorsOf(p.Body))
		}
		return p.Location
	}
	property := to("/properties", form(goodAddress...))
	check(t, owner, expect{property, 200, []string{"4 Tidewater Steps", "AB12 3XY", "Odalys Penhallow", "Added."}, nil})
	check(t, owner, expect{property, 200, nil, []string{"Added."}}) // said once
	if p := owner.Post("/properties", form(goodAddress...)); p.Status != 409 ||
		!strings.Contains(p.Body, "on file already") || !strings.Contains(p.Body, property) {
		t.Errorf("the same address again: status %d", p.Status)
	}
	appliance := to(property+"/appliances", form("appliance.kind", records.KindFire, "appliance.make", "Brindlow",
		"appliance.model", "Ember 5", "appliance.serial", "BE-77"))
	check(t, owner, expect{appliance, 200, []string{"Brindlow Ember 5", "Gas fire", "BE-77"}, nil})
	to(appliance, form("appliance.kind", records.KindFire, "appliance.make", "Brindlow", "appliance.model", "Ember 6"))
	check(t, owner, expect{appliance, 200, []string{"Ember 6"}, []string{"BE-77"}})
	to(appliance+"/contacts", form("how", "telephone", "note", "will <b>call</b> back", "next", "2026-12-01"))
	check(t, owner, expect{appliance, 200, []string{"will &lt;b&gt;call&lt;/b&gt; back", "1 December 2026"},
		[]string{"<b>call"}})
	check(t, owner, expect{"/find?q=tidewater", 200, []string{"1 appliance", "Brindlow Ember 6"}, nil})
	check(t, owner, expect{"/find?q=AB12+3XY", 200, []string{"Addresses at this postcode", "4 Tidewater Steps"}, nil})
	check(t, owner, expect{"/find?q=zzzz", 200, []string{"No appliance found"}, nil})

	to("/people", form("name", "Wilf Marchbank", "email", "wilf@tweddle.example", "role", "engineer", "password",
		"long enough words"))
	if p := site.Guest().Post("/sign-in", form("email", "wilf@tweddle.example", "password",
		"long enough words")); p.Status != 303 {
		t.Errorf("the new person cannot sign in: %d", p.Status)
	}
	to("/instruments", form("kind", "gauge", "make", "Whitlow", "model", "DM 9", "serial", "W-9", "calibrated_on",
		"2026-01-05", "calibration_due", "2026-12-05"))
	check(t, owner, expect{"/instruments", 200, []string{"Whitlow DM 9", "near"}, nil})
	to("/drop-bands", form("edition", records.Edition4, "fuel", records.FuelNatural, "clause", "table 9", "volume",
		"0.01", "drop", "4", "volume", "", "drop", ""))
	check(t, owner, expect{"/drop-bands", 200, []string{"table 9", "0.01 m³", "4 mbar", "Rhona Tweddle",
		`value="edition-4"`, records.BandDropMbar.Hint}, []string{`value="edition-3"`, `value="propane"`, "Not used"}})
	to("/firm", form("name", "Tweddle Heating", "phone", "01632 960 111"))
	check(t, owner, expect{"/firm", 200, []string{`value="Tweddle Heating"`}, nil})

	p := owner.Post("/people/"+site.People[records.RoleEngineer].ID+"/keys", form("label", "the van"))
	if p.Status != 200 || !strings.Contains(p.Body, "gbk_") {
		t.Errorf("key: status %d", p.Status)
	}
	check(t, owner, expect{"/people/" + site.People[records.RoleEngineer].ID, 200, []string{"the van"},
		[]string{"gbk_"}})

	to(appliance+"/retire", form("why", "taken out"))
	check(t, owner, expect{appliance, 200, []string{"No longer there", "taken out"}, []string{"Start a record"}})
}
