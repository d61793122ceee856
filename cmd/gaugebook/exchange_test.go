package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
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
	public := write(t, t.TempDir(), "firm.pem", string(s.visitor(t).get("/verify/key").body))
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
	key, err := os.ReadFile(filepath.Join(dir, "firm.key"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(to, "firm.key"), key, 0o600); err != nil {
		t.Fatal(err)
	}
	if text := must(t, "", "import", "--data", to, out); !strings.Contains(text, "record: 750") {
		t.Errorf("it printed\n%s", text)
	}
	must(t, "", "audit", "--data", to)
	again := filepath.Join(t.TempDir(), "again.jsonl")
	must(t, "", "export", "--data", to, again)
	a, err1 := os.ReadFile(out)
	b, err2 := os.ReadFile(again)
	if err1 != nil || err2 != nil || !bytes.Equal(withoutLog(a), withoutLog(b)) || bytes.Equal(a, b) {
		t.Errorf("it came back otherwise: %d bytes, were %d (%v, %v)", len(b), len(a), err1, err2)
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
