package main

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
)

// demoRegister is a demo register that several tests read; it is made once.
var demoRegister = sync.OnceValues(func() (string, error) {
	if _, err := binary(); err != nil {
		return "", err
	}
	return filepath.Join(built.dir, "demo"), nil
})

var demoMade sync.Mutex

// demoFolder returns a copy of the demo register in a folder of the test's
// own, and what the command printed.
func demoFolder(tb testing.TB) (dir, printed string) {
	tb.Helper()
	master, err := demoRegister()
	if err != nil {
		tb.Fatal(err)
	}
	demoMade.Lock()
	defer demoMade.Unlock()
	must(tb, "", "demo", "--data", master) // fills it the first time only
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
	ctx := context.Background()
	st, err := store.Open(ctx, store.Options{Path: filepath.Join(dir, "register.db"), Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	n, kinds, fuels, properties := map[string]int{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	for q := (store.Query{Sort: store.ByAddress, Limit: 100}); ; {
		rows, next, err := st.Register.Find(ctx, q)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			a, err := st.Register.Appliance(ctx, r.ApplianceID)
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
			history, err := st.Records.History(ctx, a.ID)
			if err != nil {
				t.Fatal(err)
			}
			for _, line := range history {
				n["stage "+string(line.Stage)]++
				n["standing "+string(line.Standing)]++
				n["purpose "+string(line.Purpose)]++
			}
		}
		if next == "" {
			break
		}
		q.After = next
	}
	n["kinds"], n["fuels"], n["properties"] = len(kinds), len(fuels), len(properties)
	return n
}
