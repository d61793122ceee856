package main

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"time"

	"gaugebook/server/servertest"
)

var joinLink = regexp.MustCompile(`/join/[A-Za-z0-9_-]+`)

// enterFirm enters the firm and its people, each in the way that the scenario
// says, and makes keys for programs.
func (m *maker) enterFirm() {
	owner := m.as("owner").signIn(m.plan.People[0].Email, m.plan.People[0].Password)
	owner.enter("/firm", "", m.plan.Firm)
	m.shows("firm", "", "owner", m.plan.Firm["name"], m.plan.Firm["address"], m.plan.Firm["registration"])
	for i, p := range m.plan.People {
		if i > 0 {
			m.addPerson(p)
		}
		m.shows("people", "", "owner", p.Name, p.Email)
	}
	for _, href := range owner.get("/people").links("/people/") {
		page := owner.get(href).words()
		for _, p := range m.plan.People {
			if strings.Contains(page, p.Email) {
				m.people[p.Key] = href
			}
		}
	}
	osmund, junia := m.people["osmund"], m.people["junia"]
	owner.get("/people").form(osmund + "/invite").press().was(http.StatusOK)
	owner.get("/people").form(osmund + "/invite/revoke").press().was(http.StatusOK)
	for _, who := range []string{"owner", "junia", "osmund"} {
		m.keys[who] = keyed{m.visitor(m.t), m.newKey(who, "register of "+who, "issue")}
	}
	m.newKey("office", "screen in the office", "read")
	m.newKey("osmund", "gauge that sends", "enter")
	m.newKey("junia", "lost telephone", "issue")
	m.want.Keys[len(m.want.Keys)-1].Ended = true
	owner.get(junia).formBeside("/end", "lost telephone").press().was(http.StatusOK)
	m.shows("person", strings.TrimPrefix(junia, "/people/"), "owner", "register of junia", "lost telephone")
}

// newKey makes somebody a key and notes it.
func (m *maker) newKey(who, label, scope string) string {
	k := keptKey{Email: m.person(who).Email, Token: newAPIKey(m.as(who), label, scope), Scope: scope,
		Until: time.Now().AddDate(0, 0, 300).UTC().Truncate(time.Second).Format(time.RFC3339)}
	m.want.Keys = append(m.want.Keys, k)
	return k.Token
}

// addPerson adds somebody, with a first password or by invitation.
func (m *maker) addPerson(p plannedPerson) {
	in := fields{"name": p.Name, "email": p.Email, "role": p.Role, "licence": p.Licence,
		"competence_until": p.Competence}
	if p.By == "first password" || p.By == "closed" {
		in["password"] = p.Password
	}
	m.as("owner").enter("/people", "", in)
	switch p.By {
	case "first password", "closed":
		m.as(p.Key).signIn(p.Email, p.Password)
	case "invitation":
		link := joinLink.FindString(m.letterTo(p.Email, "/join/").text)
		m.as(p.Key).enter(link, "", fields{"password": p.Password, "again": p.Password})
	}
}

// keptPeople are the people as they are left.
func (m *maker) keptPeople() (out []keptPerson) {
	for _, p := range m.plan.People {
		account := map[string]string{"closed": "closed", "open invitation": "invited"}[p.By]
		if account == "" {
			account = "open"
		}
		out = append(out, keptPerson{Name: p.Name, Email: p.Email, Role: p.Role, Password: p.Password,
			Account: account})
	}
	return out
}

// enterRegister enters instruments, permissible drops, properties and
// appliances, takes a list in, and adds webhooks.
func (m *maker) enterRegister() {
	owner, office := m.as("owner"), m.as("office")
	for _, key := range sortedKeys(m.plan.Instruments) {
		in := m.plan.Instruments[key]
		for _, href := range office.enter("/instruments", "", in).links("/instruments/") {
			if strings.Contains(office.get(href).words(), in["serial"]) {
				m.instruments[key] = strings.TrimPrefix(href, "/instruments/")
			}
		}
		m.shows("instruments", "", "office", in["serial"])
	}
	table := fields{"edition": "edition-4", "fuel": "natural-gas", "clause": ownTable}
	f := owner.get("/drop-bands").fill("/drop-bands", table)
	f.values["volume"], f.values["drop"] = []string{"0.01", "0.035"}, []string{"3.0", "1.5"}
	f.press().was(http.StatusOK)
	m.shows("drop bands", "", "owner", ownTable, "0.035", "1.5")

	for _, limit := range m.plan.Limits {
		owner.enter("/limits", "", limit)
		m.shows("limits", "", "owner", limit["document"], limit["clause"])
	}

	api := m.keys["junia"]
	for _, key := range sortedKeys(m.plan.Properties) {
		for range 2 { // a phone asks again when it saw no answer
			var got struct{ ID string }
			api.call(http.MethodPost, "/properties", m.plan.Properties[key], &got, http.StatusCreated, "property-"+key)
			if was := m.properties[key]; was != "" && was != got.ID {
				m.t.Fatalf("%s was made twice", key)
			}
			m.properties[key] = got.ID
		}
	}
	for _, key := range sortedKeys(m.plan.Appliances) {
		a := m.plan.Appliances[key]
		var got struct{ ID string }
		in := map[string]any{"property_id": m.properties[a.Property], "values": a.Values}
		api.call(http.MethodPost, "/appliances", in, &got, http.StatusCreated)
		m.appliances[key] = got.ID
	}
	m.takeListIn()
	m.addHooks()
}

// ownTable is where the permissible drops of the invented firm come from.
const ownTable = "table B of an invented copy"

// takeListIn takes a list of an earlier owner's customers in: enough words, no
// two alike, for the search index to need more than its root.
func (m *maker) takeListIn() {
	v := m.as("office")
	var list strings.Builder
	list.WriteString("Address line 1,Town,Postcode,Name,E-mail,Telephone,Kind,Make,Model,Serial number,Last service\n")
	kinds := []string{"Combination boiler", "System boiler", "Gas fire", "Instantaneous water heater"}
	begins := []string{"Hal", "Bren", "Cor", "Dun", "Ash", "Mer", "Pol", "Tam"}
	ends := []string{"wick", "holt", "mere", "stow", "garth", "by", "den", "ley"}
	for i := range len(begins) * len(ends) {
		word := begins[i%len(begins)] + ends[i/len(begins)]
		email := strings.ToLower(word) + "@staithe.example"
		if i%4 == 3 {
			email = ""
		}
		last := today(m.t).AddMonths(-12).AddDays(4*i - 60)
		fmt.Fprintf(&list, "%d %s Gardens,Ostrey,YO9 3G%c,", 2*i+1, word, "ABDEFGHJLN"[i%10])
		fmt.Fprintf(&list, "%s %sson,%s,01632 9604%02d,", ends[i%len(ends)], word, email, i)
		fmt.Fprintf(&list, "%s,Sirrock,Brise %d,SB-%05d,%s\n", kinds[i%4], 20+i, 70000+13*i, last)
	}
	if p := uploadList(m.t, v, list.String()); p.status != http.StatusOK {
		m.t.Fatalf("upload: %d %s", p.status, p.words())
	}
	stand := fields{"stand-nation": "England", "stand-tenure": "owner-occupier", "stand-fuel": "natural-gas"}
	v.get("/import").fill("/import/columns", stand).press()
	untilStage(m.t, v, "checked", 0)
	v.get("/import").form("/import/write").press().was(http.StatusOK)
	untilStage(m.t, v, "done", 0)
	v.get("/import").says("Imported")
	m.shows("register", "SB-70013", "office", "3 Brenwick Gardens", "Brise 21")
}

// addHooks adds one address that takes what it is told, one that does not, and
// one that is ended.
func (m *maker) addHooks() {
	owner := m.as("owner")
	answering := func(status int) string {
		s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(status)
		}))
		m.t.Cleanup(s.Close)
		return s.URL
	}
	taken, busy := answering(http.StatusNoContent), answering(http.StatusServiceUnavailable)
	for _, address := range []string{taken + "/taken", busy + "/busy", taken + "/ended"} {
		p := owner.get("/webhooks")
		f := p.fill("/webhooks", fields{"url": address})
		f.values["event"] = boxes(p, "event")
		f.press().was(http.StatusOK)
		m.shows("webhooks", "", "owner", address)
	}
	for _, href := range owner.get("/webhooks").links("/webhooks/") {
		m.hooks = append(m.hooks, href)
		if p := owner.get(href); strings.Contains(p.words(), "/ended") {
			p.form(href + "/end").press().was(http.StatusOK)
		}
	}
}

// hooksTold waits until the webhooks have been told of something, or tried.
func (m *maker) hooksTold() {
	servertest.Eventually(m.t, "the webhooks told", func() bool {
		words := ""
		for _, href := range m.hooks {
			words += m.as("owner").get(href).words()
		}
		return strings.Contains(words, "delivered") && strings.Contains(words, "503")
	})
}
