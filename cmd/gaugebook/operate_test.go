package main

import (
	"database/sql"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
)

// issuedRegister is a register with one issued record and its paper, served.
func issuedRegister(t *testing.T) (f *firm, is issued, paper string) {
	t.Helper()
	dir := t.TempDir()
	newOwner(t, dir)
	f = setUp(t, serve(t, dir))
	_, appliance := f.addHome("14 Larkspur Rise", "imogen.farrow@example.org")
	record := f.startRecord(appliance, records.Commissioning, today(t))
	f.fillRecord(record)
	is = f.issueRecord(record)
	paper = write(t, t.TempDir(), "paper.pdf", f.office.get("/records/"+record+"/pdf").body)
	return f, is, paper
}

// A second server on the folder is refused; once the first is gone, however it
// went, the next one starts.
func TestOneServerForAFolder(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	newOwner(t, dir)
	s := serve(t, dir)
	got := gaugebook(t, "", "serve", "--data", dir, "--listen", "127.0.0.1:0")
	if got.code != exitBad || !strings.Contains(got.err, "a server runs on") {
		t.Errorf("exit %d: %s%s", got.code, got.out, got.err)
	}
	s.visitor(t).get("/sign-in").says("Sign in")
	s.crash()
	s.visitor(t).get("/sign-in").says("Sign in")
}

// A server does not start with a key that is not the firm's. After a change of
// the key, papers of before prove with the keys that the server gives out, the
// register still proves, and the earlier key is not taken any more.
func TestFirmKey(t *testing.T) {
	t.Parallel()
	f, is, paper := issuedRegister(t)
	f.stop()
	key := filepath.Join(f.dir, "firm.key")
	ours := string(read(t, key))
	other := t.TempDir()
	newOwner(t, other)
	if err := os.Rename(key, key+".ours"); err != nil {
		t.Fatal(err)
	}
	write(t, f.dir, "firm.key", read(t, filepath.Join(other, "firm.key")))
	got := gaugebook(t, "", "serve", "--data", f.dir, "--listen", "127.0.0.1:0")
	if got.code != exitBad || !strings.Contains(got.err, "this is another key than the firm's") {
		t.Fatalf("with another key: exit %d: %s%s", got.code, got.out, got.err)
	}
	if err := os.Rename(key+".ours", key); err != nil {
		t.Fatal(err)
	}

	if said := must(t, "", "key", "change", "--data", f.dir); !strings.Contains(said, "keep proving") {
		t.Errorf("it says %s", said)
	}
	if string(read(t, key)) == ours {
		t.Fatal("the key is the same")
	}
	must(t, "", "audit", "--data", f.dir, "--against", paper)
	if said := must(t, "", "verify", "--data", f.dir, paper); !strings.Contains(said, is.number) {
		t.Errorf("verify says %s", said)
	}
	s := serve(t, f.dir)
	public := write(t, t.TempDir(), "firm.pem", s.visitor(t).get("/verify/key").body)
	s.stop()
	if n := strings.Count(string(read(t, public)), "BEGIN PUBLIC KEY"); n != 2 {
		t.Errorf("%d public keys", n)
	}
	must(t, "", "verify", "--key", public, paper)

	// Out and into another folder, both keys go along.
	lines, to := filepath.Join(t.TempDir(), "register.jsonl"), t.TempDir()
	must(t, "", "export", "--data", f.dir, lines)
	write(t, to, "firm.key", read(t, key))
	must(t, "", "import", "--data", to, lines)
	must(t, "", "audit", "--data", to)
	must(t, "", "verify", "--data", to, paper)

	olds, err := filepath.Glob(key + ".*.old")
	if err != nil || len(olds) != 1 || string(read(t, olds[0])) != ours {
		t.Fatalf("the old key: %v %v", olds, err)
	}
	if err := os.Rename(olds[0], key); err != nil {
		t.Fatal(err)
	}
	got = gaugebook(t, "", "serve", "--data", f.dir, "--listen", "127.0.0.1:0")
	if got.code != exitBad || !strings.Contains(got.err, "another key") {
		t.Errorf("with the old key: exit %d: %s%s", got.code, got.out, got.err)
	}
}

// A change of the key that was broken off before the files were exchanged is
// brought to its end at the next start.
func TestKeyChangeBrokenOff(t *testing.T) {
	t.Parallel()
	f, _, _ := issuedRegister(t)
	f.stop()
	key := filepath.Join(f.dir, "firm.key")
	must(t, "", "key", "change", "--data", f.dir)
	olds, _ := filepath.Glob(key + ".*.old")
	if err := os.Rename(key, key+".next"); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(olds[0], key); err != nil {
		t.Fatal(err)
	}
	serve(t, f.dir).stop()
	must(t, "", "audit", "--data", f.dir)
}

// Whatever umask and folder the program is started with, nobody else on the
// machine can read the register, what SQLite keeps beside it, the key or a
// photo.
func TestNobodyElseReads(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	exe := program(t)
	cmd := exec.Command("sh", "-c", fmt.Sprintf("umask 0; echo a password of some words | exec %s owner --data %s "+
		"--name A --email a@firm.example", exe, dir))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	old := filepath.Join(dir, "register.db")
	if err := os.Chmod(old, 0o644); err != nil { // as an earlier program left it
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	s := serve(t, dir)
	seen := 0
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		if seen++; info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s has mode %o", path, info.Mode().Perm())
		}
		return nil
	})
	if err != nil || seen < 5 {
		t.Errorf("%d files, %v", seen, err)
	}
	s.stop()
}

// An upgrade keeps a copy, and can be gone back on until the register is used.
func TestUndoUpgrade(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "old")
	want := unpack(t, filepath.Join(registersDir, "schema-10"), dir)
	version := func() (n int) {
		t.Helper()
		db, err := sql.Open("sqlite3", "file:"+filepath.Join(dir, "register.db")+"?mode=ro")
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if err := db.QueryRow("SELECT max(version_id) FROM goose_db_version").Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	taken := personOf(t, want, "engineer").Email
	upgrade := func(email string) outcome {
		return gaugebook(t, "a password of some words\n", "owner", "--data", dir, "--name", "New Owner", "--email", email)
	}
	if got := gaugebook(t, "", "undo-upgrade", "--data", dir); got.code != exitBad ||
		!strings.Contains(got.err, "no copy of before an upgrade") {
		t.Errorf("nothing to undo: exit %d %s", got.code, got.err)
	}
	if got := upgrade(taken); got.code != exitBad || version() == 10 { // refused, after the upgrade
		t.Fatalf("exit %d %s, schema %d", got.code, got.err, version())
	}
	must(t, "", "audit", "--data", dir)
	must(t, "", "undo-upgrade", "--data", dir)
	if version() != 10 {
		t.Errorf("schema %d", version())
	}
	rowsStillThere(t, dir, want)
	must(t, "", "audit", "--data", dir)
	if got := upgrade("new@firm.example"); got.code != 0 {
		t.Fatal(got.err)
	}
	if got := gaugebook(t, "", "undo-upgrade", "--data", dir); got.code != exitBad ||
		!strings.Contains(got.err, "has been used since") {
		t.Errorf("used: exit %d %s", got.code, got.err)
	}
}

// A register on media that nothing can be written to is audited and exported.
func TestReadOnlyMedia(t *testing.T) {
	t.Parallel()
	f, is, _ := issuedRegister(t)
	f.crash() // with what SQLite had not taken over yet
	f.kill()
	dir := filepath.Join(t.TempDir(), "media")
	if err := os.CopyFS(dir, os.DirFS(f.dir)); err != nil {
		t.Fatal(err)
	}
	_ = os.Remove(filepath.Join(dir, "register.db-shm"))
	bin, out := t.TempDir(), t.TempDir()
	exe := filepath.Join(bin, "gaugebook")
	if err := os.WriteFile(exe, read(t, program(t)), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, d := range []string{bin, out, filepath.Dir(bin)} {
		if err := os.Chmod(d, 0o777); err != nil {
			t.Fatal(err)
		}
	}
	if err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() {
			return os.Chmod(path, 0o555)
		} else if err == nil {
			return os.Chmod(path, 0o444)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	lines := filepath.Join(out, "register.jsonl")
	for _, args := range [][]string{{"audit", "--data", dir}, {"export", "--data", dir, lines}} {
		cmd := exec.Command(exe, args...)
		if os.Geteuid() == 0 { // who may write everywhere
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		if said, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %v\n%s", args, err, said)
		}
	}
	if !strings.Contains(string(read(t, lines)), is.number) {
		t.Error("the newest record is not in the export")
	}
	if err := os.Chmod(dir, 0o755); err != nil { // so that it can be removed
		t.Fatal(err)
	}
}

// A forgotten password is put right on the command line, and the holder is told.
func TestPasswordOnTheCommandLine(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "register")
	must(t, "three cups of oolong\n", "owner", "--data", dir, "--name", "Alder Mossop", "--email", "alder@moss.example")
	st := openRegister(t, dir, time.Now)
	if err := st.Settings.SaveFirm(t.Context(), records.SystemActor, records.Firm{Name: "Moss", Email: "post@moss.example",
		Phone: "01632 960 100"}); err != nil {
		t.Fatal(err)
	}
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	for in, says := range map[string]string{"short\n": "12 to 200", "alder mossop 2026\n": "among the first"} {
		if got := gaugebook(t, in, "password", "--data", dir, "--email", "alder@moss.example"); got.code != exitBad ||
			!strings.Contains(got.err, says) {
			t.Errorf("%q: %+v", in, got)
		}
	}
	if got := gaugebook(t, "lamp oil and biscuits\n", "password", "--data", dir, "--email",
		"nobody@moss.example"); got.code != exitBad {
		t.Errorf("nobody: %+v", got)
	}
	must(t, "lamp oil and biscuits\n", "password", "--data", dir, "--email", "alder@moss.example")
	st = openRegister(t, dir, time.Now)
	list, _, err := st.Outbox.Find(t.Context(), store.OutboxQuery{})
	if err != nil || len(list) != 1 || list[0].Kind != records.AccountKind ||
		!strings.Contains(list[0].Text, "by command line") {
		t.Errorf("told %+v, %v", list, err)
	}
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	serve(t, dir).visitor(t).signIn("alder@moss.example", "lamp oil and biscuits")
}
