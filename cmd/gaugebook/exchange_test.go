package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gaugebook/server/servertest"
)

// A generated register: its pages open, a record is printed when it is asked
// for, and the whole goes out and into another folder unchanged.
func TestGeneratedRegisterOutAndIn(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "many")
	printed := must(t, "", "demo", "--data", dir, "--appliances", "250")
	if !strings.Contains(printed, "250 generated appliances") || !strings.Contains(printed, "750 issued records") ||
		!regexp.MustCompile(`ratio [0-9.]+\.`).MatchString(printed) {
		t.Errorf("it printed\n%s", printed)
	}
	must(t, "", "audit", "--data", dir)
	people := demoPeople(t, printed)
	s := serve(t, dir)
	office := s.visitor(t).signIn(people["office"][0], people["office"][1])
	page := office.get("/register?sort=address").says("appliances in use", "-0000")
	record := regexp.MustCompile(`href="(/records/[a-z0-9]+)"`).FindStringSubmatch(string(page.body))
	if record == nil {
		t.Fatal("no record in the register")
	}
	office.get(record[1]).says("Marrowby")
	first := string(office.look(record[1] + "/pdf").body)
	if !strings.HasPrefix(first, "%PDF-") || string(office.look(record[1]+"/pdf").body) != first {
		t.Error("the record was not printed, or twice otherwise")
	}
	file := write(t, t.TempDir(), "record.pdf", first)
	public := write(t, t.TempDir(), "firm.pem", s.visitor(t).get("/verify/key").body)
	if got := gaugebook(t, "", "verify", "--key", public, file); got.code != exitClear {
		t.Errorf("the print is not genuine: exit %d\n%s%s", got.code, got.out, got.err)
	}
	s.stop()

	out := filepath.Join(t.TempDir(), "register.jsonl")
	must(t, "", "export", "--data", dir, out)
	if got := gaugebook(t, "", "export", "--data", dir, out); got.code != exitBad ||
		!strings.Contains(got.err, "never overwrites") {
		t.Errorf("over a file: exit %d %s", got.code, got.err)
	}

	to := filepath.Join(t.TempDir(), "to")
	if got := gaugebook(t, "", "import", "--data", to, out); got.code != exitBad ||
		!strings.Contains(got.err, "firm.key") {
		t.Errorf("without the key: exit %d\n%s%s", got.code, got.out, got.err)
	}
	if left, err := os.ReadDir(to); err != nil || len(left) != 0 {
		t.Errorf("a failed import left %v behind: %v", left, err)
	}
	write(t, to, "firm.key", read(t, filepath.Join(dir, "firm.key")))
	if text := must(t, "", "import", "--data", to, out); !strings.Contains(text, "record: 750") {
		t.Errorf("it printed\n%s", text)
	}
	must(t, "", "audit", "--data", to)
	again := filepath.Join(t.TempDir(), "again.jsonl")
	must(t, "", "export", "--data", to, again)
	a, b := read(t, out), read(t, again)
	if !bytes.Equal(withoutLog(a), withoutLog(b)) || bytes.Equal(a, b) {
		t.Errorf("it came back otherwise: %d bytes, were %d", len(b), len(a))
	}
	if got := gaugebook(t, "", "import", "--data", to, out); got.code != exitBad ||
		!strings.Contains(got.err, "not empty") {
		t.Errorf("twice: exit %d %s", got.code, got.err)
	}

	// The owner who came with it is given a password.
	must(t, "a password of some words\n", "owner", "--data", to, "--name", "x", "--email", people["owner"][0])
	moved := serve(t, to)
	moved.visitor(t).signIn(people["owner"][0], "a password of some words").get("/register").says("appliances in use")
}

// withoutLog takes out of an exported register what names the log that stayed
// behind: another one begins where it is imported.
func withoutLog(lines []byte) []byte {
	return regexp.MustCompile(`,"audit_log":\{[^}]*\}`).ReplaceAll(lines, nil)
}

// The server is killed while it takes a list in: nothing of it is there
// afterwards, the uploaded file is gone, and the list goes in the next time.
func TestKilledWhileAListGoesIn(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "few")
	people := demoPeople(t, must(t, "", "demo", "--data", dir, "--appliances", "40"))
	var list strings.Builder
	list.WriteString("Address line 1,Town,Postcode,Serial number,Last service\n")
	for i := range 20_000 {
		fmt.Fprintf(&list, "%d Elm Row,Upham,UP%d %dDE,S%d,2026-03-%02d\n", i, 1+i/900%90, i%9+1, i, i%28+1)
	}
	s := serve(t, dir)
	signedIn := func() *visitor { return s.visitor(t).signIn(people["office"][0], people["office"][1]) }
	v := signedIn()
	begin := func() {
		v.upload("/import", nil, "file", "list.csv", []byte(list.String())).was(http.StatusOK)
		v.send("/import/columns", url.Values{"line1": {"0"}, "town": {"1"}, "postcode": {"2"}, "serial": {"3"},
			"last_service": {"4"}, "stand-nation": {"England"}, "stand-kind": {"boiler-system"}})
		untilStage(t, v, "checked", 0)
		v.send("/import/write", url.Values{})
	}
	begin()
	untilStage(t, v, "writing", 1000)
	s.kill()

	s.start(strings.TrimPrefix(s.base, "http://"))
	v = signedIn()
	v.get("/import").says("Upload")
	v.get("/register?q=elm").says("0 appliances in use")
	if left, err := filepath.Glob(filepath.Join(dir, "uploads", "*")); err != nil || len(left) > 0 {
		t.Errorf("%v stay behind: %v", left, err)
	}
	must(t, "", "audit", "--data", dir)
	begin()
	untilStage(t, v, "done", 0)
	v.get("/import").says("Imported")
	v.get("/register?q=S19999").says("1 appliance in use", "19999 Elm Row")
	s.stop()
	must(t, "", "audit", "--data", dir)
	if _, err := os.Stat(filepath.Join(dir, "uploads")); err == nil {
		if left, _ := filepath.Glob(filepath.Join(dir, "uploads", "*")); len(left) > 0 {
			t.Errorf("%v stay behind", left)
		}
	}
}

// untilStage waits until the list is at a stage, with some rows done.
func untilStage(t *testing.T, v *visitor, stage string, done int) {
	t.Helper()
	var now struct {
		Stage string
		Done  int
	}
	servertest.Eventually(t, "the list is "+stage, func() bool {
		if err := json.Unmarshal(v.get("/import/progress").body, &now); err != nil {
			t.Fatal(err)
		}
		return now.Stage == stage && now.Done >= done
	})
}
