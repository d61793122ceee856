package main

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"
)

// pageAbout says where today's program shows a thing that a kept register
// names.
func pageAbout(tb testing.TB, about, id string) string {
	tb.Helper()
	record, section, _ := strings.Cut(id, " ")
	page, ok := map[string]string{
		"appliance":   "/appliances/" + id,
		"booking":     "/bookings/" + id,
		"calendar":    "/calendar",
		"customer":    "/customers/" + id,
		"drop bands":  "/drop-bands",
		"firm":        "/firm",
		"instruments": "/instruments",
		"letters":     "/letters/" + id,
		"limits":      "/limits",
		"message":     "/messages/" + id,
		"people":      "/people",
		"person":      "/people/" + id,
		"record":      "/records/" + id,
		"register":    "/register?q=" + url.QueryEscape(id),
		"review":      "/records/" + id + "/review",
		"section":     "/records/" + record + "/sections/" + section,
		"today":       "/",
		"webhooks":    "/webhooks",
		"wording":     "/reminders",
	}[about]
	if !ok {
		tb.Fatalf("nothing says which page is about %q", about)
	}
	return page
}

// issued opens every issued record in each place that shows it.
func (r *reader) issued() {
	owner, stranger := r.by["owner"], r.visitor(r.t)
	api := r.api[personOf(r.t, r.want, "owner").Email]
	for _, k := range r.want.Records {
		page := owner.get("/records/"+k.ID).says(k.Number, k.Code, k.Serial, k.Engineer)
		paper := owner.get("/records/" + k.ID + "/pdf")
		if sumOf(paper.body) != k.PaperSHA256 || paper.header.Get("Content-Type") != "application/pdf" {
			r.t.Errorf("%s: the paper is another", k.Number)
		}
		stranger.get("/v/"+k.Number+"/"+k.Code).says(k.Number).saysNot(k.Serial, k.Engineer)
		got := api.record(k.ID)
		if now := keptRecordOf(got, paper.body); now != k {
			r.t.Errorf("the API gives\n%+v, was\n%+v", now, k)
		}
		for _, ph := range got.Record.Photos {
			if sumOf(owner.get("/records/"+k.ID+"/photos/"+ph.SHA256).body) != ph.SHA256 {
				r.t.Errorf("%s: the photo %s is another", k.Number, ph.SHA256)
			}
		}
		switch k.Stage {
		case "issued":
			p := owner.enter("/records/"+k.ID, "/links", fields{"for": "Reader of a kept register", "days": "30"})
			r.customerSees(customerLink.FindString(string(p.body)), k)
		default:
			page.says(k.ReplacedBy, k.WithdrawnWhy)
			r.noLongerInForce(k, write(r.t, r.t.TempDir(), "record.pdf", string(paper.body)))
		}
	}
}

// noLongerInForce asks about the paper of a record that was amended or
// withdrawn: it is told, and by which record it was replaced.
func (r *reader) noLongerInForce(k keptRecord, paper string) {
	got := gaugebook(r.t, "", "verify", "--data", r.dir, "--server", r.base, paper)
	if got.code != exitAdverse || !strings.Contains(got.out, k.ReplacedBy) {
		r.t.Errorf("%s, %s: exit %d\n%s%s", k.Number, k.Stage, got.code, got.out, got.err)
	}
}

// customerSees opens a record as the customer.
func (r *reader) customerSees(link string, k keptRecord) {
	r.t.Helper()
	v := r.visitor(r.t)
	p := v.get(link).says(k.Number, k.Code)
	if sumOf(v.get(p.link(link+"/record.pdf")).body) != k.PaperSHA256 {
		r.t.Errorf("%s: the customer's paper is another", k.Number)
	}
}

// links opens the addresses that were given out: of customers, of those who
// want no reminders, of calendars. They run out in their time; one that was
// ended stays so.
func (r *reader) links() {
	v := r.visitor(r.t)
	for _, l := range r.want.Links {
		i := slices.IndexFunc(r.want.Records, func(k keptRecord) bool { return k.Number == l.Number })
		if l.Ended {
			if p := v.look("/r/" + l.Token); p.status/100 != 4 {
				r.t.Errorf("a link that was ended answers %d", p.status)
			}
			continue
		}
		if stillOn(r.t, l.Until) {
			r.customerSees("/r/"+l.Token, r.want.Records[i])
		}
	}
	for _, s := range r.want.Stops {
		v.get("/stop/" + s.Token)
	}
	for _, f := range r.want.Feeds {
		if f.Ended {
			v.look("/calendar/" + f.Token + ".ics").was(http.StatusNotFound)
			continue
		}
		if got := v.get("/calendar/" + f.Token + ".ics").body; !strings.HasPrefix(string(got), "BEGIN:VCALENDAR") {
			r.t.Errorf("a calendar answers %.80q", got)
		}
	}
}

// stillOn reports whether what works until an instant does; "" is for ever.
func stillOn(tb testing.TB, until string) bool {
	tb.Helper()
	if until == "" {
		return true
	}
	at, err := time.Parse(time.RFC3339, until)
	if err != nil {
		tb.Fatal(err)
	}
	return time.Now().Before(at)
}

// appliances compares every appliance, its duties and its visits. A later
// program may know more of them, not less.
func (r *reader) appliances() {
	api := r.api[personOf(r.t, r.want, "owner").Email]
	got := map[string]keptAppliance{}
	for _, a := range appliancesOf(api) {
		got[a.ID] = a
	}
	inUse := 0
	for _, k := range r.want.Appliances {
		a, listed := got[k.ID]
		if k.Retired {
			var one gotAppliance
			api.call(http.MethodGet, "/appliances/"+k.ID, nil, &one, http.StatusOK)
			if a = keptApplianceOf(one); listed {
				r.t.Errorf("%s is in the register though it was retired", k.Serial)
			}
		} else {
			inUse++
		}
		if a.Kind != k.Kind || a.Serial != k.Serial || a.Retired != k.Retired {
			r.t.Errorf("appliance %+v, was %+v", a, k)
		}
		for _, d := range k.Duties {
			if !slices.Contains(a.Duties, d) {
				r.t.Errorf("%s: the duty %+v is not among %+v", k.Serial, d, a.Duties)
			}
		}
		for _, id := range k.Visits {
			if !slices.Contains(a.Visits, id) {
				r.t.Errorf("%s: the record %s is not among its visits", k.Serial, id)
			}
		}
	}
	if len(got) != inUse {
		r.t.Errorf("%d appliances in use, were %d", len(got), inUse)
	}
}

// drafts opens each draft as its engineer, saves it as it stands, finishes it
// and issues it. Whatever today's rules find is answered by a condition
// report, so that a later rule cannot hold a draft of an earlier day back.
func (r *reader) drafts() {
	for _, d := range r.want.Drafts {
		v, api := r.by[d.Engineer], r.api[d.Engineer]
		page := v.get("/records/" + d.ID)
		got := api.record(d.ID)
		if got.Stage != "draft" || got.Record.Purpose != d.Purpose || len(got.Record.Photos) != d.Photos {
			r.t.Errorf("%s: %s for a %s with %d photos", d.Name, got.Stage, got.Record.Purpose, len(got.Record.Photos))
		}
		sections := page.links("/records/" + d.ID + "/sections/")
		if len(sections) < 5 {
			r.t.Fatalf("%s leads to %v", page.path, sections)
		}
		for _, path := range sections {
			path, _, _ = strings.Cut(path, "#")
			p := v.get(path)
			for key, entry := range d.Refused {
				if section, _, _ := strings.Cut(key, "."); strings.HasSuffix(path, "/"+section) {
					p.says(entry, "Not accepted")
				}
			}
		}
		for key, entry := range d.Refused {
			if got.Rejected[key].Entry != entry {
				r.t.Errorf("%s: %s was refused as %q, now as %q", d.Name, key, entry, got.Rejected[key].Entry)
			}
		}
		last, _, _ := strings.Cut(sections[len(sections)-1], "#")
		v.get(last).form(last).press("").was(http.StatusOK)
		r.finish(d)
	}
}

func (r *reader) finish(d keptDraft) {
	r.t.Helper()
	v, api := r.by[d.Engineer], r.api[d.Engineer]
	got := api.record(d.ID)
	if len(d.Finish) > 0 {
		got = api.change(got, json.RawMessage(d.Finish))
	}
	told := map[string]any{"told": "The customer", "told_how": "in person", "left_off": true, "refused": false}
	api.answered(got, told)
	v.get("/records/" + d.ID + "/review").form("/records/" + d.ID + "/issue").press().was(http.StatusOK)
	is := api.record(d.ID)
	if is.Stage != "issued" || is.Number == "" {
		r.t.Fatalf("%s was not issued: %+v", d.Name, is)
	}
	paper := write(r.t, r.t.TempDir(), "record.pdf", string(v.get("/records/"+d.ID+"/pdf").body))
	if got := gaugebook(r.t, "", "verify", "--data", r.dir, "--server", r.base, paper); got.code != exitClear {
		r.t.Errorf("%s, once issued, is not genuine: exit %d\n%s%s", d.Name, got.code, got.out, got.err)
	}
}
