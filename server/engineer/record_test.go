package engineer_test

import (
	"context"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

func TestDeliveryLog(t *testing.T) {
	site := servertest.Start(t)
	row, m := site.Sent()
	at := "/records/" + row.ID
	c := site.As(records.RoleEngineer)
	c.Expect(at, 200, []string{"Record issued", site.Property.Contact.Email, "handed over for delivery",
		"Server’s reply", "Queued", "Attempts"}, nil)
	c.Expect("/messages/"+m.ID, 200, []string{m.Subject, "Dear " + site.Property.Contact.Name,
		"Did it come back?"}, []string{"<script"})
	c.Expect("/messages/none", 404, nil, nil)
	site.Guest().Expect("/messages/"+m.ID, 303, nil, nil)

	// A person notes that it came back.
	if p := c.Post("/messages/"+m.ID+"/bounced", servertest.Form("why", " ")); p.Status != 422 ||
		!strings.Contains(p.Body, "cannot be left blank") {
		t.Errorf("no reason: status %d", p.Status)
	}
	if p := c.Post("/messages/"+m.ID+"/bounced",
		servertest.Form("why", "customer says: moved <away>")); p.Status != 303 {
		t.Errorf("bounced: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	if p := c.Post("/messages/"+m.ID+"/bounced", servertest.Form("why", "again")); p.Status != http.StatusConflict {
		t.Errorf("bounced twice: status %d", p.Status)
	}
	c.Expect(at, 200, []string{"came back: customer says: moved &lt;away&gt;", "<details open"}, nil)

	// A bad address is refused in its field and changes nothing.
	p := c.Post(at+"/resend", servertest.Form("email", "new at home"))
	if p.Status != 422 || !strings.Contains(p.Body, `value="new at home"`) ||
		!strings.Contains(p.Body, "an address such as") {
		t.Errorf("bad address: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	if got, err := site.Store.Register.Property(t.Context(), site.Property.ID); err != nil ||
		got.Contact != site.Property.Contact {
		t.Errorf("contact %+v, %v", got.Contact, err)
	}
	// A corrected one is kept, and the letter goes there with a link of its own.
	if p := c.Post(at+"/resend", servertest.Form("email", "corrected@home.example")); p.Status != 303 {
		t.Fatalf("resend: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	got, err := site.Store.Register.Property(t.Context(), site.Property.ID)
	if err != nil || got.Contact.Email != "corrected@home.example" || got.Contact.Name != site.Property.Contact.Name {
		t.Errorf("contact %+v, %v", got.Contact, err)
	}
	all, _, err := site.Store.Outbox.Find(t.Context(), store.OutboxQuery{RecordID: row.ID})
	if err != nil || len(all) != 2 || all[0].ToEmail != "corrected@home.example" ||
		all[0].State != records.MessageDue ||
		!all[0].AttachPDF {
		t.Fatalf("outbox %+v, %v", all, err)
	}
	site.Guest().Expect(site.LinkIn(all[0], "/r/"), 200, []string{row.Number}, nil)
	links, err := site.Store.Links.OfRecord(t.Context(), row.ID)
	if err != nil || len(links) != 2 || links[0].ForEmail != site.Property.Contact.Email ||
		links[1].ForEmail != "corrected@home.example" {
		t.Errorf("links %+v, %v", links, err)
	}

	// Nowhere to send to.
	got.Contact.Email = ""
	if _, err := site.Store.Register.UpdateProperty(t.Context(), records.SystemActor, got); err != nil {
		t.Fatal(err)
	}
	if p := c.Post(at+"/resend", servertest.Form("email", "")); p.Status != 422 ||
		!strings.Contains(p.Body, "the address to send to") {
		t.Errorf("no address: status %d", p.Status)
	}
}

func TestLinksOfARecord(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	at := "/records/" + row.ID
	c, guest := site.As(records.RoleEngineer), site.Guest()
	for _, bad := range []struct {
		form []string
		says string
	}{
		{[]string{"for", "", "days", "30"}, "cannot be left blank"}, {[]string{"for", "A", "days", "9000"},
			"30, 365 or 730 days"},
		{[]string{"for", "A <b>", "email", "none", "days", "30"}, "“none” is not accepted"},
	} {
		if p := c.Post(at+"/links", servertest.Form(bad.form...)); p.Status != 422 ||
			!strings.Contains(p.Body, bad.says) {
			t.Errorf("%v: status %d %s", bad.form, p.Status, servertest.ErrorsOf(p.Body))
		}
	}
	p := c.Post(at+"/links", servertest.Form("for", "The new owner", "days", "30"))
	found := regexp.MustCompile(regexp.QuoteMeta(site.HTTP.URL) + `/r/([a-z0-9]+)`).FindStringSubmatch(p.Body)
	if p.Status != 200 || found == nil {
		t.Fatalf("link: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	token := found[1]
	guest.Expect("/r/"+token, 200, []string{row.Number}, nil)
	c.Expect(at, 200, []string{"The new owner", "valid until 25 December 2026"}, []string{token})

	links, err := site.Store.Links.OfRecord(t.Context(), row.ID)
	if err != nil {
		t.Fatal(err)
	}
	id := links[len(links)-1].ID
	if p := c.Post(at+"/links/"+id+"/end", servertest.Form("why", "")); p.Status != 422 ||
		!strings.Contains(p.Body, "Not accepted") {
		t.Errorf("no reason: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	other := site.Draft()
	for _, bad := range []string{at + "/links/none/end", "/records/" + other.ID + "/links/" + id + "/end"} {
		if p := c.Post(bad, servertest.Form("why", "x")); p.Status != 404 {
			t.Errorf("%s: status %d", bad, p.Status)
		}
	}
	guest.Expect("/r/"+token, 200, nil, nil)
	if p := c.Post(at+"/links/"+id+"/end", servertest.Form("why", "wrong person")); p.Status != 303 {
		t.Errorf("end: status %d", p.Status)
	}
	c.Expect(at, 200, []string{"wrong person"}, nil)
	for _, path := range []string{"", "/record.pdf", "/records/" + row.Number} {
		guest.Expect("/r/"+token+path, http.StatusGone, []string{"This link has ended", "01632 960 100",
			"0800 111 999", "noindex"}, []string{row.Number, site.Property.Line1, "wrong person"})
	}
	for _, path := range []string{"/visit", "/contact"} {
		if p := guest.Post("/r/"+token+path, servertest.Form("text", "x", "name", "x")); p.Status != http.StatusGone {
			t.Errorf("%s: status %d", path, p.Status)
		}
	}
	guest.Expect("/r/nonesuch", 404, []string{"do not recognise this link", "01632 960 100"}, nil)
}

// The appliance's page follows the readings from visit to visit.
func TestDriftOnTheAppliance(t *testing.T) {
	site := servertest.Start(t)
	first := site.Issued()
	path := "/appliances/" + site.Appliance.ID
	engineer := site.As(records.RoleEngineer)
	engineer.Expect(path, 200, nil, []string{"Over the visits"})
	ctx := context.Background()
	r, err := site.App.Start(ctx, site.People[records.RoleEngineer], site.Appliance.ID, records.Service,
		records.DateOf(site.Clock.Now()))
	if err != nil {
		t.Fatal(err)
	}
	r.Findings = storetest.Draft(site.Appliance.ID, records.Service, "2026-11-25").Findings
	r.Values = rules.Sample().Values.Clone()
	r.Values.Put(records.COMaxPPM.Field, "180")
	r.Values.Put(records.CO2MaxPct.Field, "9.0")
	r, err = site.Store.Records.SaveDraft(ctx, storetest.Actor, r, r.Revision)
	if err != nil {
		t.Fatal(err)
	}
	second, _, err := site.Store.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, storetest.Issuer())
	if err != nil {
		t.Fatal(err)
	}
	// 180 ppm of CO to 9.0 % of CO₂ is 0.0180 / 9.0 = 0.0020.
	engineer.Expect(path, 200, []string{"Over the visits", first.Number, second.Number, ">0.0020<",
		"CO/CO₂ ratio over the visits"}, []string{"NaN"})
	if p := engineer.Get(path); strings.Count(p.Body, `<circle class="ring"`) < 4 {
		t.Errorf("too few points: %d", strings.Count(p.Body, `<circle class="ring"`))
	}
}
