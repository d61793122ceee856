package office_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

// From the work list to the day of the engineer and the record that ends it.
func TestBookingFromListToRecord(t *testing.T) {
	site := servertest.Start(t)
	office, engineer := site.As(records.RoleOffice), site.As(records.RoleEngineer)
	d := site.DutyAt(site.Appliance.ID, records.AnnualService, "2026-12-10")
	office.Expect("/week?weeks=4", 200,
		[]string{"/bookings/new?appliance=" + site.Appliance.ID + "&amp;duty=" + d.ID, "near"}, nil)
	office.Expect("/bookings/new?appliance="+site.Appliance.ID+"&duty="+d.ID, 200,
		[]string{`value="` + d.ID + `" checked`, "Tamsin Oakhurst"}, []string{"Piers Applegarth</option>"})

	form := url.Values{"appliance": {site.Appliance.ID}, "duty": {d.ID},
		"engineer": {site.People[records.RoleEngineer].ID},
		"on":       {"2026-11-24"}, "note": {"Dog."}}
	p := office.Post("/bookings", form)
	if p.Status != 422 || !strings.Contains(p.Body, "today or a day to come") || !strings.Contains(p.Body, "Dog.") ||
		!strings.Contains(p.Body, `value="`+d.ID+`" checked`) {
		t.Errorf("yesterday: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	form.Set("on", "2026-11-26")
	id := office.Book(form)
	office.Expect("/week?weeks=4", 200, []string{"/bookings/" + id, "26 November 2026, Tamsin Oakhurst"}, nil)
	office.Expect("/week?weeks=4&booked=no", 200, []string{"Nothing falls due"}, []string{id})
	engineer.Expect("/day?on=2026-11-26", 200, []string{site.Property.Postcode, "Any time", "Dog.",
		"Annual service"}, []string{"Start the service record", "Engineer</label>"})

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
		t.Errorf("moved: %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	engineer.Expect("/day", 200, []string{"08:00–10:00", "Start the service record",
		`name="work_date" value="2026-11-25"`}, nil)
	office.Expect("/day?engineer="+site.People[records.RoleEngineer].ID, 200, []string{"08:00–10:00"},
		[]string{"Start the"})
	office.Expect("/day?engineer="+site.People[records.RoleOwner].ID, 200, []string{"No visits"}, nil)

	engineer.Expect("/bookings/"+id, 200, []string{"booked", "customer at home"}, []string{"Move the visit"})
	row := storetest.MustIssue(t, site.Store, site.Appliance.ID, records.Service, "2026-11-25")
	engineer.Expect("/day", 200, []string{"done", "/records/" + row.ID},
		[]string{"Start the service record"})
	if p := office.Post("/bookings/"+id+"/cancel", url.Values{"why": {"too late"}}); p.Status != http.StatusConflict {
		t.Errorf("a visit that is done: %d", p.Status)
	}
}

func TestRequestIsBooked(t *testing.T) {
	site, office := servertest.StartAs(t, records.RoleOffice)
	row := site.Issued()
	site.Guest().Post("/r/"+site.Token(row.ID)+"/visit", url.Values{"text": {"It rattles.\nMornings."}})
	list, err := site.Store.Requests.Visits(t.Context())
	if err != nil || len(list) != 1 {
		t.Fatalf("%v %v", list, err)
	}
	office.Expect("/", 200, []string{"/bookings/new?request=" + list[0].ID}, nil)
	office.Expect("/bookings/new?request="+list[0].ID, 200, []string{"It rattles."}, nil)
	id := office.Book(url.Values{"appliance": {site.Appliance.ID}, "request": {list[0].ID},
		"engineer": {site.People[records.RoleEngineer].ID}, "on": {"2026-11-30"}, "note": {"Rattles."}})
	office.Expect("/", 200, []string{"None open"}, nil)
	office.Expect("/bookings/new?request="+list[0].ID, 404, nil, nil)
	if p := office.Post("/bookings/"+id+"/cancel", url.Values{"why": {"they rang: it was the cat"}}); p.Status != 303 {
		t.Errorf("cancelled: %d", p.Status)
	}
	office.Expect("/bookings/"+id, 200, []string{"cancelled", "it was the cat"}, []string{"Cancel the visit"})
}

// A visit whose day is over without a record stops the reminding, so the work
// list points at it.
func TestUnattendedVisit(t *testing.T) {
	site := servertest.Start(t)
	d := site.DutyAt(site.Appliance.ID, records.AnnualService, "2026-12-10")
	id := site.As(records.RoleOffice).Book(url.Values{"appliance": {site.Appliance.ID}, "duty": {d.ID},
		"engineer": {site.People[records.RoleEngineer].ID}, "on": {"2026-11-26"}})
	office := site.As(records.RoleOffice)
	office.Expect("/week?weeks=4", 200, []string{id}, []string{"no record"})
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 2))
	office.Expect("/week?weeks=4", 200, []string{id, "no record"}, nil)
}
