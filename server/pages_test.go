package server_test

import (
	"html/template"
	"maps"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/servertest"
	"gaugebook/templates"
	"gaugebook/templates/templatetest"
)

func TestPages(t *testing.T) {
	site := servertest.Start(t)
	draft, issued := site.Draft(), site.Issued()
	token := site.Token(issued.ID)
	engineer, office, owner, guest := site.As(records.RoleEngineer), site.As(records.RoleOffice),
		site.As(records.RoleOwner), site.Guest()
	_ = owner
	engineer.Expect("/", 200, []string{"Your drafts", "Late and due soon", "Oakhurst"},
		[]string{"Requests for a visit"})
	engineer.Expect("/records/"+draft.ID, 200, []string{"Tightness test"}, nil)
	engineer.Expect("/records/"+draft.ID+"/sections/tightness", 200, []string{`name="tightness.drop_mbar"`}, nil)
	engineer.Expect("/records/"+draft.ID+"/review", 200, []string{"Condition report"}, nil)
	engineer.Expect("/records/"+issued.ID, 200, []string{issued.Number, issued.Seal.Code}, nil)
	office.Expect("/", 200, []string{"Requests for a visit", "late"}, []string{"Your drafts"})
	office.Expect("/register", 200, []string{issued.Number}, nil)
	guest.Expect("/r/"+token, http.StatusOK, []string{"0800 111 999", issued.Number, "noindex"}, nil)
	guest.Expect("/v/"+issued.Number+"/"+issued.Seal.Code, 200, []string{"in force"}, nil)
}

// chasePages opens the pages of chasing and booking, with somebody to chase.
func chasePages(t *testing.T, site *servertest.Site) map[string]servertest.Page {
	t.Helper()
	owner := site.As(records.RoleOwner)
	written, _ := site.Landlord(1, servertest.ByLetter, "2026-12-20")
	mailed, duty := site.Landlord(2, servertest.ByMail, "2026-12-20")
	preview, form := owner.Preview("e-mail")
	owner.Post("/chase/send", form)
	_, letters := owner.Preview("letter")
	batch := owner.Post("/chase/letters", letters)
	stop := "no reminder was put in"
	for _, m := range site.Outbox() {
		if m.Kind == store.ReminderKind {
			stop = site.LinkIn(m, "/stop/")
		}
	}
	return map[string]servertest.Page{
		"week": owner.Get("/week"), "chase": owner.Get("/chase"), "chase-preview": preview,
		"letters":        owner.Get(batch.Location),
		"chase-customer": owner.Get("/customers/" + written.PropertyID), "chase-duties": owner.Get("/duties"),
		"wording":    owner.Get("/reminders"),
		"chase-stop": site.Guest().Get(stop), "calendar": owner.Get("/calendar"), "day": owner.Get("/day"),
		"booking": owner.Get("/bookings/new?appliance=" + mailed.ID + "&duty=" + duty.ID),
	}
}

// Every template of a page is executed by some test of this package; the list
// makes a forgotten one fail.
func TestEveryPageIsShown(t *testing.T) {
	site := servertest.Start(t)
	draft, issued := site.Draft(), site.Issued()
	owner, guest := site.As(records.RoleOwner), site.Guest()
	stale := servertest.Form("revision", "1", "tightness.test_min", "2")
	if p := owner.Post("/records/"+draft.ID+"/sections/tightness", servertest.Form("revision", "1",
		"tightness.test_min",
		"3")); p.Status != 303 {
		t.Fatal(p.Status)
	}
	invite, err := site.Store.People.Invite(t.Context(), storetest.Actor, site.People[records.RoleOffice].ID,
		func(p records.Person, _ records.Invitation) records.Message {
			return records.Message{Kind: records.InvitationKind, ToEmail: p.Email, Subject: "x", Text: "x"}
		})
	if err != nil {
		t.Fatal(err)
	}
	hook, err := site.Store.Webhooks.Add(t.Context(), storetest.Actor, "https://office.example/", records.WebhookEvents,
		site.App.Today(), false)
	if err != nil {
		t.Fatal(err)
	}
	shown := map[string]servertest.Page{
		"sign-in": guest.Get("/sign-in"), "error": owner.Get("/records/none"), "home": owner.Get("/"),
		"find":     owner.Get("/find?q=rise"),
		"property": owner.Get("/properties/" + site.Property.ID), "form": owner.Get("/properties/new"),
		"appliance-form": owner.Get("/appliances/" + site.Appliance.ID + "/edit"),
		"appliance":      owner.Get("/appliances/" + site.Appliance.ID), "register": owner.Get("/register"),
		"import": owner.Get("/import"), "draft": owner.Get("/records/" + draft.ID),
		"section": owner.Get("/records/" + draft.ID + "/sections/flue"),
		"stale":   owner.Post("/records/"+draft.ID+"/sections/tightness", stale),
		"review":  owner.Get("/records/" + draft.ID + "/review"), "issued": owner.Get("/records/" + issued.ID),
		"customer": guest.Get("/r/" + site.Token(issued.ID)),
		"verify":   guest.Get("/verify"), "rules": guest.Get("/rules"), "firm": owner.Get("/firm"),
		"people": owner.Get("/people"),
		"person": owner.Get("/people/" + site.People[records.RoleOffice].ID), "instruments": owner.Get("/instruments"),
		"drop-bands": owner.Get("/drop-bands"), "limits": owner.Get("/limits"), "messages": owner.Get("/messages"),
		"customer-ended": guest.Get("/r/none"), "message": owner.Get("/messages/" + firstMessage(t, site)),
		"overview": owner.Get("/overview"), "roles": owner.Get("/roles"), "join": guest.Get("/join/" + invite.Token),
		"account": owner.Get("/account"),
		"log":     owner.Get("/log"), "webhooks": owner.Get("/webhooks"),
		"webhooks-told": owner.Get("/webhooks/" + hook.ID),
	}
	office := site.As(records.RoleOffice)
	shown["second-codes"] = office.Post("/account/codes", nil)
	shown["second-set-up"] = office.Get("/account/second-step")
	_, shown["recovery"] = site.SetUpCodes(office)
	half := site.Guest()
	half.Post("/sign-in", servertest.Form("email", site.People[records.RoleOffice].Email, "password",
		servertest.Password))
	shown["sign-in-code"], shown["confirm"] = half.Get("/sign-in/code"), office.Get("/confirm")
	maps.Copy(shown, chasePages(t, site))
	for _, r := range rules.All() {
		shown["rule"] = guest.Get("/rules/" + r.ID)
		if p := shown["rule"]; p.Status != 200 || !strings.Contains(p.Body, "An example, worked out now") {
			t.Errorf("rule %s: status %d", r.ID, p.Status)
		}
	}
	set, err := templates.Parse(server.Pages...)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range set.Names() {
		p, ok := shown[name]
		if !ok {
			t.Errorf("page %s is shown by no test", name)
			continue
		}
		if p.Status >= 500 || !strings.Contains(p.Body, "</html>") {
			t.Errorf("page %s: status %d", name, p.Status)
		}
		for _, s := range []string{"<script>", " style=", "onclick=", "ZgotmplZ", "%!", "<no value>"} {
			if strings.Contains(p.Body, s) {
				t.Errorf("page %s holds %q", name, s)
			}
		}
	}
}

func TestStaticFiles(t *testing.T) {
	guest := servertest.Start(t).Guest()
	body := guest.Get("/sign-in").Body
	for _, m := range regexp.MustCompile(`(?:href|src)="(/static/[^"]+)"`).FindAllStringSubmatch(body, -1) {
		p := guest.Get(m[1])
		if p.Status != 200 || !strings.Contains(p.Header.Get("Cache-Control"), "immutable") {
			t.Errorf("%s: status %d, %q", m[1], p.Status, p.Header.Get("Cache-Control"))
		}
	}
	for path, status := range map[string]int{
		"/static/css/app.css": 200, "/favicon.ico": 200, "/healthz": 200, "/static/": 404, "/static/css": 404,
		"/static/../templates.go":     404,
		"/static/%2e%2e/templates.go": 404, "/static/0000/css/app.css": 404, "/static/css/none.css": 404,
	} {
		if p := guest.Get(path); p.Status != status {
			t.Errorf("%s: status %d, want %d", path, p.Status, status)
		}
	}
}

func firstMessage(t *testing.T, site *servertest.Site) string {
	t.Helper()
	all, _, err := site.Store.Outbox.Find(t.Context(), store.OutboxQuery{Limit: 1})
	if err != nil || len(all) == 0 {
		t.Fatal("no message", err)
	}
	return all[0].ID
}

// Every field that a template uses is there in the data of its page, in every
// branch and in every partial; a wrong one in a branch that is never taken is
// found.
func TestTemplatesFitTheirData(t *testing.T) {
	set, err := templates.Parse(server.Pages...)
	if err != nil {
		t.Fatal(err)
	}
	templatetest.Pages(t, set, server.Pages)

	templatetest.Each(set, server.Pages, func(name string, page *template.Template, part string, data any) {
		broken, err := page.Clone()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := broken.Parse(`{{define "content"}}{{if false}}{{.Nobody}}{{end}}{{end}}`); err != nil {
			t.Fatal(err)
		}
		_, err = templatetest.HTML(broken, part, data)
		if part == "layout" && (err == nil || !strings.Contains(err.Error(), "Nobody")) {
			t.Errorf("page %s: a field that does not exist was not found: %v", name, err)
		}
	})
}
