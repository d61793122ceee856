package server_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

// due adds a duty to the site's appliance.
func dutyAt(t *testing.T, site *servertest.Site, applianceID string, kind records.DutyKind,
	due string) records.OpenDuty {
	t.Helper()
	d := storetest.ServiceDue(due)
	d.Kind = kind
	out, err := site.Store.Duties.Add(t.Context(), storetest.Actor, applianceID, d)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func mustBook(t *testing.T, site *servertest.Site, c *servertest.Client, form url.Values) string {
	t.Helper()
	p := c.Post("/bookings", form)
	if p.Status != http.StatusSeeOther || !strings.HasPrefix(p.Location, "/bookings/") {
		t.Fatalf("booking: %d %s\n%s", p.Status, p.Location, clip(p.Body))
	}
	return strings.TrimPrefix(p.Location, "/bookings/")
}

// From the work list to the day of the engineer and the record that ends it.
func TestBookingFromListToRecord(t *testing.T) {
	site := servertest.Start(t)
	office, engineer := site.As(records.RoleOffice), site.As(records.RoleEngineer)
	d := dutyAt(t, site, site.Appliance.ID, records.AnnualService, "2026-12-10")
	check(t, office, expect{"/week?weeks=4", 200,
		[]string{"/bookings/new?appliance=" + site.Appliance.ID + "&amp;duty=" + d.ID, "near"}, nil})
	check(t, office, expect{"/bookings/new?appliance=" + site.Appliance.ID + "&duty=" + d.ID, 200,
		[]string{`value="` + d.ID + `" checked`, "Maud Tweddle"}, []string{"Piers Applegarth</option>"}})

	form := url.Values{"appliance": {site.Appliance.ID}, "duty": {d.ID},
		"engineer": {site.People[records.RoleEngineer].ID},
		"on":       {"2026-11-24"}, "note": {"Dog."}}
	p := office.Post("/bookings", form)
	if p.Status != 422 || !strings.Contains(p.Body, "today or a day to come") || !strings.Contains(p.Body, "Dog.") ||
		!strings.Contains(p.Body, `value="`+d.ID+`" checked`) {
		t.Errorf("yesterday: %d\n%s", p.Status, clip(p.Body))
	}
	form.Set("on", "2026-11-26")
	id := mustBook(t, site, office, form)
	check(t, office, expect{"/week?weeks=4", 200, []string{"/bookings/" + id, "26 November 2026, Maud Tweddle"}, nil})
	check(t, office, expect{"/week?weeks=4&booked=no", 200, []string{"Nothing falls due"}, []string{id}})
	check(t, engineer, expect{"/day?on=2026-11-26", 200, []string{site.Property.Postcode, "Any time", "Dog.",
		"Annual service"}, []string{"Start the service record", "Engineer</label>"}})

	p = office.Post("/bookings/"+id+"/move",
		url.Values{"on": {"2026-11-25"}, "engineer": {site.People[records.RoleEngineer].ID}, "from": {"08:00"},
			"until": {"10:00"}})
	if p.Status != 422 || !strings.Contains(p.Body, "bad-why") {
		t.Errorf("moved without a reason: %d", p.Status)
	}
	p = office.Post("/bookings/"+id+"/move",
		url.Values{"on": {"2026-11-25"}, "engineer": {site.People[records.RoleEngineer].ID}, "from": {"08:00"},
			"until": {"10:00"}, "why": {"customer at home"}})
	if p.Status != 303 {
		t.Errorf("moved: %d\n%s", p.Status, clip(p.Body))
	}
	check(t, engineer, expect{"/day", 200, []string{"08:00–10:00", "Start the service record",
		`name="work_date" value="2026-11-25"`}, nil})
	check(t, office, expect{"/day?engineer=" + site.People[records.RoleEngineer].ID, 200, []string{"08:00–10:00"},
		[]string{"Start the"}})
	check(t, office, expect{"/day?engineer=" + site.People[records.RoleOwner].ID, 200, []string{"No visits"}, nil})

	check(t, engineer, expect{"/bookings/" + id, 200, []string{"booked", "customer at home"},
		[]string{"Move the visit"}})
	row := storetest.MustIssue(t, site.Store, site.Appliance.ID, records.Service, "2026-11-25")
	check(t, engineer, expect{"/day", 200, []string{"done", "/records/" + row.ID},
		[]string{"Start the service record"}})
	if p := office.Post("/bookings/"+id+"/cancel", url.Values{"why": {"too late"}}); p.Status != http.StatusConflict {
		t.Errorf("a visit that is done: %d", p.Status)
	}
}

func TestRequestIsBooked(t *testing.T) {
	site := servertest.Start(t)
	office := site.As(records.RoleOffice)
	row := site.Issued()
	site.Guest().Post("/r/"+site.Token(row.ID)+"/visit", url.Values{"text": {"It rattles.\nMornings."}})
	list, err := site.Store.Requests.Visits(t.Context())
	if err != nil || len(list) != 1 {
		t.Fatalf("%v %v", list, err)
	}
	check(t, office, expect{"/", 200, []string{"/bookings/new?request=" + list[0].ID}, nil})
	check(t, office, expect{"/bookings/new?request=" + list[0].ID, 200, []string{"It rattles."}, nil})
	id := mustBook(t, site, office, url.Values{"appliance": {site.Appliance.ID}, "request": {list[0].ID},
		"engineer": {site.People[records.RoleEngineer].ID}, "on": {"2026-11-30"}, "note": {"Rattles."}})
	check(t, office, expect{"/", 200, []string{"None open"}, nil})
	check(t, office, expect{"/bookings/new?request=" + list[0].ID, 404, nil, nil})
	if p := office.Post("/bookings/"+id+"/cancel", url.Values{"why": {"they rang: it was the cat"}}); p.Status != 303 {
		t.Errorf("cancelled: %d", p.Status)
	}
	check(t, office, expect{"/bookings/" + id, 200, []string{"cancelled", "it was the cat"},
		[]string{"Cancel the visit"}})
}

// A visit whose day is over without a record stops the reminding, so the work
// list points at it.
func TestUnattendedVisit(t *testing.T) {
	site := servertest.Start(t)
	d := dutyAt(t, site, site.Appliance.ID, records.AnnualService, "2026-12-10")
	id := mustBook(t, site, site.As(records.RoleOffice), url.Values{"appliance": {site.Appliance.ID}, "duty": {d.ID},
		"engineer": {site.People[records.RoleEngineer].ID}, "on": {"2026-11-26"}})
	office := site.As(records.RoleOffice)
	check(t, office, expect{"/week?weeks=4", 200, []string{id}, []string{"no record"}})
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 2))
	check(t, office, expect{"/week?weeks=4", 200, []string{id, "no record"}, nil})
}
