package main

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"

	"gaugebook/server/servertest"
)

// book books a visit for what is due of an appliance.
func (m *maker) book(appliance, engineer, day, note string) (booking string) {
	m.t.Helper()
	p := m.as("office").get("/bookings/new?appliance=" + m.appliances[appliance])
	f := p.form("/bookings")
	f.values.Set("on", day)
	f.values.Set("engineer", strings.TrimPrefix(m.people[engineer], "/people/"))
	f.values.Set("note", note)
	if f.values["duty"] == nil { // none is near: for one that is ahead
		f.values["duty"] = boxes(p, "duty")[:1]
	}
	booking = strings.TrimPrefix(f.press().was(http.StatusOK).path, "/bookings/")
	m.shows("booking", booking, "office", note)
	return booking
}

// boxes are the values of a page's boxes of a name, ticked or not.
func boxes(p *page, name string) []string {
	var out []string
	for n := range p.doc.Descendants() {
		if attr(n, "name") == name && attr(n, "type") == "checkbox" && !hasAttr(n, "disabled") {
			out = append(out, attr(n, "value"))
		}
	}
	return out
}

// workAtDesk does the work of an office: duties, calls, visits, calendars.
func (m *maker) workAtDesk() {
	office := m.as("office")
	p := office.get("/duties?kind=" + url.QueryEscape("building-work notification"))
	p.fill(formsTo(p, "/sent")[0], fields{"reference": "BN-4471"}).press().was(http.StatusOK)
	m.endDuty("cooker", "copy to tenant", "done", "Copy handed to the tenant.")
	m.endDuty("fire", "annual service", "lift", "Serviced by its manufacturer from now on.")

	said, call := "No answer, message left with a neighbour.", m.appliances["warm-air"]
	office.enter("/appliances/"+call, "/contacts", fields{"how": "telephone", "note": said, "next": m.in(3)})
	m.shows("appliance", call, "office", said)
	said, call = "Nobody opened at nine.", m.properties["quay-steps"]
	office.enter("/customers/"+call, "/contacts", fields{"how": "no access", "note": said})
	m.shows("customer", call, "office", said)

	moved := m.book("regular", "osmund", m.in(6), "Side gate sticks.")
	when := fields{"on": m.in(8), "from": "10:00", "until": "12:00", "why": "Customer away until then."}
	office.enter("/bookings/"+moved, "/move", when)
	off := m.book("system", "junia", m.in(7), "Ask for the cupboard key.")
	why := "Cupboard cannot be opened before the new year."
	office.enter("/bookings/"+off, "/cancel", fields{"why": why})
	m.shows("booking", off, "office", why)
	m.book("range", "junia", m.in(12), "Bring the new spigot seal.")

	for _, who := range []string{"junia", "osmund", "office"} {
		of := "own"
		if who == "office" {
			of = "office"
		}
		p := m.as(who).send("/calendar", url.Values{"of": {of}}).was(http.StatusOK)
		token := feedLink.FindStringSubmatch(string(p.body))
		m.want.Feeds = append(m.want.Feeds, keptToken{Token: token[1], Ended: who == "osmund"})
	}
	m.as("osmund").get("/calendar").formBeside("/end", "Osmund").press().was(http.StatusOK)
	m.shows("calendar", "", "engineer", m.person("junia").Name)

	retired, why := m.appliances["flueless"], "Taken out by the agent's builder."
	office.enter("/appliances/"+retired, "/retire", fields{"why": why})
	m.shows("appliance", retired, "office", why)
}

// in is the date some days from today.
func (m *maker) in(days int) string { return today(m.t).AddDays(days).String() }

// endDuty ends a duty of an appliance by hand.
func (m *maker) endDuty(appliance, kind, how, why string) {
	m.t.Helper()
	var a gotAppliance
	id := m.appliances[appliance]
	m.keys["owner"].call(http.MethodGet, "/appliances/"+id, nil, &a, http.StatusOK)
	for _, d := range a.Duties {
		if d.Kind == kind && d.ClosedAt == "" {
			path := "/appliances/" + id + "/duties/" + d.ID + "/" + how
			m.as("office").send(path, url.Values{"why": {why}}).was(http.StatusOK)
			m.shows("appliance", id, "office", why)
			return
		}
	}
	m.t.Fatalf("the %s has no %s open: %+v", appliance, kind, a.Duties)
}

var (
	customerLink = regexp.MustCompile(`/r/([A-Za-z0-9_-]+)`)
	stopLink     = regexp.MustCompile(`/stop/([A-Za-z0-9_-]+)`)
	feedLink     = regexp.MustCompile(`/calendar/([A-Za-z0-9_-]+)\.ics`)
)

// keepLink notes a customer's link. It works for two years; looked at is it
// for a little less.
func (m *maker) keepLink(number, token string) {
	until := time.Now().AddDate(0, 0, 700).UTC().Truncate(time.Second).Format(time.RFC3339)
	m.want.Links = append(m.want.Links, keptLink{Token: token, Number: number, Until: until})
}

// linkTo is the address that the customer of a record was sent.
func (m *maker) linkTo(record string) string {
	m.t.Helper()
	for _, l := range m.want.Links {
		if l.Number == m.records[record].Number && !l.Ended {
			return "/r/" + l.Token
		}
	}
	m.t.Fatalf("no link to %s", record)
	return ""
}

// askAsCustomers opens customers' links, asks for visits and for changes of
// their details, and the office answers some of them.
func (m *maker) askAsCustomers() {
	office := m.as("office")
	for _, name := range sortedKeys(m.records) {
		number := m.records[name].Number
		for _, l := range m.post.got(m.t) {
			if token := customerLink.FindStringSubmatch(l.text); token != nil && strings.Contains(l.subject, number) {
				m.keepLink(number, token[1])
			}
		}
	}
	ask := func(record, what string, in fields) { m.visitor(m.t).enter(m.linkTo(record), what, in) }
	ask("combination, amended", "/visit", fields{"text": "Gurgling in the airing cupboard, a Friday would suit."})
	ask("fire, smoke comes back", "/visit", fields{"text": "When can the fire be looked at again?"})
	m.shows("today", "", "office", "When can the fire be looked at again?")
	office.get("/").formBeside("/handled", "Gurgling").press().was(http.StatusOK)

	ask("combination, amended", "/contact", fields{"phone": "01632 960399"})
	office.get("/").formBeside("/confirm", "01632 960399").press().was(http.StatusOK)
	m.shows("customer", m.properties["larkfield"], "office", "01632 960399")
	ask("system, checked for the landlord", "/contact", fields{"name": "Gwenfair Ithell-Maddox"})
	office.get("/").formBeside("/refuse", "Gwenfair Ithell-Maddox").press().was(http.StatusOK)
	ask("fire, smoke comes back", "/contact", fields{"phone": "01632 960398"})
	m.shows("today", "", "office", "01632 960398")
	m.changeLinks()
}

// changeLinks ends a customer's link and makes one by hand, sends a letter
// once more and notes that another came back.
func (m *maker) changeLinks() {
	office := m.as("office")
	r, why := m.records["combination, first fired"], "Sent on to a former owner."
	p := office.get("/records/" + r.ID)
	p.fill(formsTo(p, "/end")[0], fields{"why": why}).press().was(http.StatusOK)
	for i, l := range m.want.Links {
		if l.Number == r.Number {
			m.want.Links[i].Ended, m.want.Links[i].Until = true, ""
		}
	}
	m.shows("record", r.ID, "office", why)
	byHand := m.records["warm air, gauge out of date"] // this customer has no e-mail
	p = office.enter("/records/"+byHand.ID, "/links", fields{"for": "Ifor Pennoyre", "days": "730"})
	m.keepLink(byHand.Number, customerLink.FindStringSubmatch(string(p.body))[1])

	again := "/records/" + m.records["combination, amended"].ID
	office.enter(again, "/resend", fields{"email": "ottoline@marrable.example"})
	back := office.get("/records/" + m.records["fire, smoke comes back"].ID).link("/messages/")
	why = "Mailbox full, said the agent."
	office.enter(back, "/bounced", fields{"why": why})
	m.shows("message", strings.TrimPrefix(back, "/messages/"), "office", why)
}

// remind writes to those whose service falls due, by e-mail and by letter, and
// some want no more.
func (m *maker) remind() {
	office, subject := m.as("office"), "Still to be looked at: {{.What}}"
	m.as("owner").enter("/reminders", "", fields{"steps": "-8, -4, -1, 1, 4", "late_subject": subject})
	m.shows("wording", "", "owner", subject)
	const each = 3
	for reach, action := range map[string]string{"e-mail": "/chase/send", "letter": "/chase/letters"} {
		p := office.get("/chase?reach=" + reach)
		f := p.form("/chase/preview")
		f.values["c"] = boxes(p, "c")[:each]
		f.press().was(http.StatusOK).form(action).press().was(http.StatusOK)
	}
	batch := office.get("/chase").link("/letters/")
	m.shows("letters", strings.TrimPrefix(batch, "/letters/"), "office", "Ostrey")
	servertest.Eventually(m.t, "every reminder at the mail server", func() bool {
		m.want.Stops = nil
		for _, l := range m.post.got(m.t) {
			if token := stopLink.FindStringSubmatch(l.text); token != nil {
				m.want.Stops = append(m.want.Stops, keptToken{Token: token[1]})
			}
		}
		return len(m.want.Stops) == each
	})
	m.visitor(m.t).enter("/stop/"+m.want.Stops[0].Token, "", nil)
	other := m.properties["ty-isaf"]
	office.enter("/customers/"+other, "/stop", fields{"how": "Asked by telephone."})
	m.shows("customer", other, "office", "Asked by telephone.")
}

// settle waits until nothing is under way any more, and closes an account.
func (m *maker) settle() {
	listed := func(state string) string { return m.as("office").get("/messages?state=" + state).words() }
	for state, to := range map[string]string{"failed": "sable@refuses.example", "unsure": "hester@cut.example",
		"due": "fintan@busy.example", "sent": "ottoline@marrable.example"} {
		servertest.Eventually(m.t, "a message that is "+state, func() bool { return strings.Contains(listed(state), to) })
	}
	servertest.Eventually(m.t, "no reminder waiting", func() bool {
		return !strings.Contains(listed("due"), "@staithe.example")
	})
	m.hooksTold()
	m.visitor(m.t).look("/readyz").was(http.StatusOK) // writes, to find out whether the disk takes it
	for _, p := range m.plan.People {
		if p.By == "closed" {
			m.as("owner").enter(m.people[p.Key], "", fields{"active": "closed"})
		}
	}
}
