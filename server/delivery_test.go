package server_test

import (
	"context"
	"log/slog"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server"
	"gaugebook/server/mail"
	"gaugebook/server/servertest"
)

// handOver sends what is due into a folder.
func handOver(t *testing.T, site *servertest.Site) {
	t.Helper()
	o := server.NewOutbox(site.Book, mail.Folder{Dir: t.TempDir()}, site.Clock.Now, slog.New(slog.DiscardHandler))
	if err := o.Drain(context.WithoutCancel(t.Context())); err != nil {
		t.Fatal(err)
	}
}

func TestDeliveryLog(t *testing.T) {
	site := servertest.Start(t)
	row, m := sent(t, site)
	at := "/records/" + row.ID
	c := site.As(records.RoleEngineer)
	check(t, c, expect{at, 200, []string{"Record issued", site.Property.Contact.Email, "handed over for delivery",
		"Server’s reply", "Queued", "Attempts"}, nil})
	check(t, c, expect{"/messages/" + m.ID, 200, []string{m.Subject, "Dear " + site.Property.Contact.Name,
		"Did it come back?"}, []string{"<script"}})
	check(t, c, expect{"/messages/none", 404, nil, nil})
	check(t, site.Guest(), expect{"/messages/" + m.ID, 303, nil, nil})

	// A person notes that it came back.
	if p := c.Post("/messages/"+m.ID+"/bounced", form("why", " ")); p.Status != 422 ||
		!strings.Contains(p.Body, "cannot be left blank") {
		t.Errorf("no reason: status %d", p.Status)
	}
	if p := c.Post("/messages/"+m.ID+"/bounced", form("why", "customer says: moved <away>")); p.Status != 303 {
		t.Errorf("bounced: status %d %s", p.Status, errorsOf(p.Body))
	}
	if p := c.Post("/messages/"+m.ID+"/bounced", form("why", "again")); p.Status != http.StatusConflict {
		t.Errorf("bounced twice: status %d", p.Status)
	}
	check(t, c, expect{at, 200, []string{"came back: customer says: moved &lt;away&gt;", "<details open"}, nil})

	// A bad address is refused in its field and changes nothing.
	p := c.Post(at+"/resend", form("email", "new at home"))
	if p.Status != 422 || !strings.Contains(p.Body, `value="new at home"`) ||
		!strings.Contains(p.Body, "an address such as") {
		t.Errorf("bad address: status %d %s", p.Status, errorsOf(p.Body))
	}
	if got, err := site.Store.Register.Property(t.Context(), site.Property.ID); err != nil ||
		got.Contact != site.Property.Contact {
		t.Errorf("contact %+v, %v", got.Contact, err)
	}
	// A corrected one is kept, and the letter goes there with a link of its own.
	if p := c.Post(at+"/resend", form("email", "corrected@home.example")); p.Status != 303 {
		t.Fatalf("resend: status %d %s", p.Status, errorsOf(p.Body))
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
	token := regexp.MustCompile(`/r/([a-z0-9]+)`).FindStringSubmatch(all[0].Text)[1]
	check(t, site.Guest(), expect{"/r/" + token, 200, []string{row.Number}, nil})
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
	if p := c.Post(at+"/resend", form("email", "")); p.Status != 422 ||
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
		if p := c.Post(at+"/links", form(bad.form...)); p.Status != 422 || !strings.Contains(p.Body, bad.says) {
			t.Errorf("%v: status %d %s", bad.form, p.Status, errorsOf(p.Body))
		}
	}
	p := c.Post(at+"/links", form("for", "The new owner", "days", "30"))
	found := regexp.MustCompile(regexp.QuoteMeta(site.HTTP.URL) + `/r/([a-z0-9]+)`).FindStringSubmatch(p.Body)
	if p.Status != 200 || found == nil {
		t.Fatalf("link: status %d %s", p.Status, errorsOf(p.Body))
	}
	token := found[1]
	check(t, guest, expect{"/r/" + token, 200, []string{row.Number}, nil})
	check(t, c, expect{at, 200, []string{"The new owner", "works until 25 December 2026"}, []string{token}})

	links, err := site.Store.Links.OfRecord(t.Context(), row.ID)
	if err != nil {
		t.Fatal(err)
	}
	id := links[len(links)-1].ID
	if p := c.Post(at+"/links/"+id+"/end", form("why", "")); p.Status != 422 ||
		!strings.Contains(p.Body, "Not accepted") {
		t.Errorf("no reason: status %d %s", p.Status, errorsOf(p.Body))
	}
	other := site.Draft()
	for _, bad := range []string{at + "/links/none/end", "/records/" + other.ID + "/links/" + id + "/end"} {
		if p := c.Post(bad, form("why", "x")); p.Status != 404 {
			t.Errorf("%s: status %d", bad, p.Status)
		}
	}
	check(t, guest, expect{"/r/" + token, 200, nil, nil})
	if p := c.Post(at+"/links/"+id+"/end", form("why", "wrong person")); p.Status != 303 {
		t.Errorf("end: status %d", p.Status)
	}
	check(t, c, expect{at, 200, []string{"wrong person"}, nil})
	for _, path := range []string{"", "/record.pdf", "/records/" + row.Number} {
		check(t, guest, expect{"/r/" + token + path, http.StatusGone, []string{"This link has ended", "01632 960 100",
			"0800 111 999", "noindex"}, []string{row.Number, site.Property.Line1, "wrong person"}})
	}
	for _, path := range []string{"/visit", "/contact"} {
		if p := guest.Post("/r/"+token+path, form("text", "x", "name", "x")); p.Status != http.StatusGone {
			t.Errorf("%s: status %d", path, p.Status)
		}
	}
	check(t, guest, expect{"/r/nonesuch", 404, []string{"do not recognise this link", "01632 960 100"}, nil})
}

func TestLetterWithoutRoomForThePDF(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	doc, err := site.Book.Document(t.Context(), row.ID)
	if err != nil {
		t.Fatal(err)
	}
	for attach, says := range map[bool]string{true: "is attached as a PDF", false: "too large for a message"} {
		m := server.RecordLetter(doc, "https://records.example/r/token", attach)
		if m.AttachPDF != attach || !strings.Contains(m.Text, says) || !strings.Contains(m.HTML, says) {
			t.Errorf("attach %v: does not say %q", attach, says)
		}
	}
	doc.Record.Property.Nation = records.NorthernIreland
	m := server.RecordLetter(doc, "https://records.example/r/token", true)
	for _, body := range []string{m.Text, m.HTML} {
		if !strings.Contains(body, "0800 002 001") ||
			!strings.Contains(body, "Compare this number with your gas supplier’s") ||
			strings.Contains(body, "0800 111 999") {
			t.Error("Northern Ireland: wrong number, or without its caution")
		}
	}
	doc.Record.Values.Put(records.ApplianceFuel.Field, records.FuelPropane)
	if m := server.RecordLetter(doc, "x", true); !strings.Contains(m.Text, "Your LPG supplier’s emergency number") {
		t.Error("LPG: not sent to the supplier's number")
	}
}

// HEAD is answered like GET, without a body, everywhere; what has no GET has
// no HEAD.
func TestHead(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	token := site.Token(row.ID)
	owner := site.As(records.RoleOwner)
	for _, path := range []string{"/", "/sign-in", "/healthz", "/static/css/app.css", "/records/" + row.ID,
		"/records/" + row.ID + "/pdf", "/r/" + token, "/r/" + token + "/record.pdf", "/r/none", "/no-such-page",
		"/rules"} {
		get, head := owner.Get(path), owner.Do(http.MethodHead, path, nil)
		if head.Status != get.Status || head.Body != "" ||
			head.Header.Get("Content-Type") != get.Header.Get("Content-Type") ||
			head.Header.Get("Content-Security-Policy") == "" {
			t.Errorf("HEAD %s: status %d, GET %d; %d bytes; %q", path, head.Status, get.Status, len(head.Body),
				head.Header.Get("Content-Type"))
		}
	}
	if p := owner.Do(http.MethodHead, "/records/"+row.ID+"/amend", nil); p.Status != http.StatusMethodNotAllowed {
		t.Errorf("HEAD of a form's address: status %d", p.Status)
	}
}
