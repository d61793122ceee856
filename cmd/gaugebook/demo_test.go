package main

import (
	"context"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/servertest"
)

// demoRegister is a demo register that several tests copy; it is made once.
var demoRegister = sync.OnceValues(func() (string, error) {
	exe, err := binary()
	if err != nil {
		return "", err
	}
	dir := filepath.Join(built.dir, "demo")
	return dir, runTool(exe, "demo", "--data", dir)
})

// demoFolder returns a copy of the demo register in a folder of the test's
// own, and what the command printed.
func demoFolder(tb testing.TB) (dir, printed string) {
	tb.Helper()
	master := made(tb, demoRegister)
	for _, name := range []string{"sign-ins.txt", "firm.key"} {
		if info, err := os.Stat(filepath.Join(master, name)); err != nil || info.Mode().Perm() != 0o600 {
			tb.Errorf("%s can be read by others: %v, %v", name, info, err)
		}
	}
	dir = filepath.Join(tb.TempDir(), "demo")
	if err := os.CopyFS(dir, os.DirFS(master)); err != nil {
		tb.Fatal(err)
	}
	return dir, must(tb, "", "demo", "--data", dir)
}

var demoSignIn = regexp.MustCompile(`(?m)^ +(owner|office|engineer) +(\S+) +(\S+) +(.+)$`)

// demoPeople reads the sign-ins that the command printed: role to e-mail and
// password, the first of each role.
func demoPeople(tb testing.TB, printed string) map[string][2]string {
	tb.Helper()
	out := map[string][2]string{}
	for _, m := range demoSignIn.FindAllStringSubmatch(printed, -1) {
		if _, known := out[m[1]]; !known {
			out[m[1]] = [2]string{m[2], m[3]}
		}
	}
	if len(out) != 3 {
		tb.Fatalf("sign-ins of %d roles in:\n%s", len(out), printed)
	}
	return out
}

func TestDemo(t *testing.T) {
	t.Parallel()
	dir, printed := demoFolder(t)
	must(t, "", "audit", "--data", dir)

	counts := countDemo(t, dir)
	for what, least := range map[string]int{
		"properties": 40, "appliances": 60, "kinds": 6, "fuels": 2, "nation England": 5, "nation Wales": 3,
		"nation Scotland": 3, "nation Northern Ireland": 3,
		"state late": 3, "state near": 3, "state ahead": 10, "state none": 1, "stage draft": 2, "stage issued": 40,
		"stage amended": 1, "stage withdrawn": 1,
		"standing clear": 40, "standing adverse": 1, "standing open": 1, "purpose commissioning": 40,
		"purpose service": 10, "purpose landlord check": 5,
	} {
		if counts[what] < least {
			t.Errorf("%d of %s, at least %d wanted", counts[what], what, least)
		}
	}

	// Twice is harmless: nothing changes, the same sign-ins are printed.
	if again := must(t, "", "demo", "--data", dir); again != printed {
		t.Errorf("the second time it printed\n%s\nafter\n%s", again, printed)
	}
	if after := countDemo(t, dir); after["appliances"] != counts["appliances"] ||
		after["stage issued"] != counts["stage issued"] {
		t.Errorf("the second time changed the register: %v, %v", after, counts)
	}
	s := serve(t, dir)
	people := demoPeople(t, printed)
	for role, p := range people {
		v := s.visitor(t).signIn(p[0], p[1])
		if role == "engineer" {
			v.get("/").says("due soon")
		} else {
			v.get("/register").says("appliances in use")
			for _, state := range []string{"late", "near", "ahead"} {
				v.get("/register?state="+state).says(state, "that match your search")
			}
		}
	}
	s.visitor(t).get("/sign-in").fill("/sign-in", fields{"email": people["owner"][0],
		"password": "not this one at all"}).press().was(422)
}

// A register of a firm of one's own is not taken for a demo, nor filled.
func TestDemoKeepsAnotherRegister(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	newOwner(t, dir)
	got := gaugebook(t, "", "demo", "--data", dir)
	if got.code != exitBad || !strings.Contains(got.err, "no demo") || !strings.Contains(got.err, "--data") {
		t.Errorf("exit %d: %s%s", got.code, got.out, got.err)
	}
}

// countDemo counts what is in the register, read past the program.
func countDemo(t *testing.T, dir string) map[string]int {
	t.Helper()
	st := openRegister(t, dir, time.Now)
	defer st.Close()
	n, kinds, fuels, properties := map[string]int{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	eachAppliance(t, st, store.ByAddress, func(r store.RegisterRow, history []store.RecordLine) {
		a, err := st.Register.Appliance(t.Context(), r.ApplianceID)
		if err != nil {
			t.Fatal(err)
		}
		if !properties[a.PropertyID] {
			properties[a.PropertyID] = true
			n["nation "+string(a.Property.Nation)]++
		}
		kinds[a.Values.Choice(records.ApplianceKind)], fuels[a.Values.Choice(records.ApplianceFuel)] = true, true
		n["appliances"]++
		state := "none"
		if r.NextDuty != nil {
			state = string(r.NextDuty.StateOn(today(t)))
		}
		n["state "+state]++
		for _, line := range history {
			n["stage "+string(line.Stage)]++
			n["standing "+string(line.Standing)]++
			n["purpose "+string(line.Purpose)]++
		}
	})
	n["kinds"], n["fuels"], n["properties"] = len(kinds), len(fuels), len(properties)
	return n
}

// openRegister opens the register of a folder past the program; the caller
// closes it.
func openRegister(tb testing.TB, dir string, now func() time.Time) *store.Store {
	tb.Helper()
	st, err := store.Open(tb.Context(), store.Options{Path: home{Data: dir}.database(), Now: now})
	if err != nil {
		tb.Fatal(err)
	}
	return st
}

// eachAppliance calls do with every appliance of a register and its history.
func eachAppliance(tb testing.TB, st *store.Store, by store.Sort,
	do func(r store.RegisterRow, history []store.RecordLine)) {
	tb.Helper()
	for q := (store.Query{Sort: by, Limit: 100}); ; {
		rows, next, err := st.Register.Find(tb.Context(), q)
		if err != nil {
			tb.Fatal(err)
		}
		for _, r := range rows {
			history, err := st.Records.History(tb.Context(), r.ApplianceID)
			if err != nil {
				tb.Fatal(err)
			}
			do(r, history)
		}
		if next == "" {
			return
		}
		q.After = next
	}
}

// demoNames finds what the names in pages.txt stand for in a demo register.
func demoNames(tb testing.TB, s *service, people map[string][2]string) *strings.Replacer {
	tb.Helper()
	st := openRegister(tb, s.dir, time.Now)
	defer st.Close()
	names := map[string]string{}
	first := func(name, value string) {
		if names[name] == "" {
			names[name] = value
		}
	}
	eachAppliance(tb, st, store.ByDue, func(r store.RegisterRow, history []store.RecordLine) {
		for _, line := range history {
			path := "/records/" + line.ID
			switch {
			case line.Stage == records.Draft && line.Standing == records.Clear:
				first("ready", path)
			case line.Stage == records.Draft:
				first("draft", path)
			case line.Stage == records.StageIssued && line.Standing == records.Clear:
				first("issued", path)
			case line.Stage == records.StageIssued:
				first("adverse", path)
			default:
				first(string(line.Stage), path)
			}
		}
		if len(history) > 2 {
			first("appliance", "/appliances/"+r.ApplianceID)
			first("property", "/properties/"+r.PropertyID)
			first("postcode", url.QueryEscape(r.Postcode))
		}
	})
	chaseNames(tb, st, names)
	owner := s.visitor(tb).signIn(people["owner"][0], people["owner"][1])
	names["person"] = owner.get("/people").link("/people/")
	names["instrument"] = owner.get("/instruments").link("/instruments/")
	names["verify"] = owner.get(names["issued"]).link("/v/")
	for name, record := range map[string]string{"customer": "issued", "customer-adverse": "adverse"} {
		names[name] = sentAgain(tb, s, owner, names[record])
	}
	var pairs []string
	for name, value := range names {
		pairs = append(pairs, "{"+name+"}", value)
	}
	return strings.NewReplacer(pairs...)
}

// chaseNames finds a visit that is booked, its appliance and customer, and the
// link of a reminder that stops them.
func chaseNames(tb testing.TB, st *store.Store, names map[string]string) {
	tb.Helper()
	ctx, today := context.Background(), records.DateOf(time.Now())
	visits, err := st.Bookings.Between(ctx, "", today, today.AddDays(14))
	if err != nil || len(visits) == 0 {
		tb.Fatalf("no visit is booked: %v", err)
	}
	v := visits[0]
	names["visit"], names["book"], names["customer-page"] = "/bookings/"+v.ID,
		"/bookings/new?appliance="+v.ApplianceID+"&on="+v.On.String(), "/customers/"+v.PropertyID
	messages, _, err := st.Outbox.Find(ctx, store.OutboxQuery{})
	if err != nil {
		tb.Fatal(err)
	}
	for _, m := range messages {
		if u, err := url.Parse(m.StopURL); err == nil && u.Path != "" {
			names["stop"] = u.Path
		}
	}
}

// sentAgain has a record's letter sent once more and returns the private link
// in it.
func sentAgain(tb testing.TB, s *service, owner *visitor, record string) string {
	tb.Helper()
	before := map[string]bool{}
	for _, l := range letters(tb, s.dir) {
		before[l.id] = true
	}
	owner.get(record).form(record + "/resend").press().was(200)
	link := ""
	servertest.Eventually(tb, "the letter sent again", func() bool {
		for _, l := range letters(tb, s.dir) {
			if !before[l.id] {
				link = privateLink.FindString(l.text)
			}
		}
		return link != ""
	})
	return link
}
