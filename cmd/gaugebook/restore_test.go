package main

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
)

// backedUp is a register with an issued record, its photos and a message that
// waits, backed up, and used once more after that.
type backedUp struct {
	*firm
	file, key     string
	before, after issued
	paper         string // of after
}

func backUp(t *testing.T) backedUp {
	t.Helper()
	f, before, _ := issuedRegister(t)
	b := backedUp{firm: f, before: before, file: filepath.Join(t.TempDir(), "copy.db"),
		key: filepath.Join(f.dir, "firm.key")}
	// A message that is due when the backup is made: nothing sends it meanwhile.
	f.stop()
	forge(t, f.dir, "UPDATE outbox SET state = 'due', next_at = '2026-01-01T00:00:00.000Z', receipt = ''")
	must(t, "", "backup", "--data", f.dir, b.file)
	forge(t, f.dir, "UPDATE outbox SET state = 'sent'")
	again := serve(t, f.dir)
	later := *f
	later.service = again
	for who, secret := range map[**visitor][2]string{&later.engineer: {engineerEmail, engineerPassword},
		&later.office: {officeEmail, officePassword}, &later.owner: {ownerEmail, ownerPassword}} {
		*who = again.visitor(t).signIn(secret[0], secret[1])
	}
	_, appliance := later.addHome("15 Larkspur Rise", "second@example.org")
	record := later.startRecord(appliance, records.Commissioning, today(t))
	later.fillRecord(record)
	b.after = later.issueRecord(record)
	b.paper = write(t, t.TempDir(), "paper.pdf", later.office.get("/records/"+record+"/pdf").body)
	again.stop()
	return b
}

// A restored register proves, sends nothing by itself, lets nobody stay signed
// in, and gives no number out again that a customer has on paper.
func TestRestore(t *testing.T) {
	t.Parallel()
	b := backUp(t)
	to := filepath.Join(t.TempDir(), "restored")
	said := must(t, "", "restore", b.file, "--data", to, "--key", b.key, "--paper", b.paper)
	for _, want := range []string{"1 issued records", "1 messages that were due", b.after.number + " are not given out"} {
		if !strings.Contains(said, want) {
			t.Errorf("restore does not say %q:\n%s", want, said)
		}
	}
	must(t, "", "audit", "--data", to)
	s := serve(t, to)
	if got := s.visitor(t).get("/register"); !strings.Contains(string(got.body), "Sign in") {
		t.Error("somebody is still signed in")
	}
	f := setUpAgain(t, s, b.firm)
	f.office.get("/messages?state=unsure").says("restored from a backup")
	_, appliance := f.addHome("16 Larkspur Rise", "third@example.org")
	record := f.startRecord(appliance, records.Commissioning, today(t))
	f.fillRecord(record)
	next := f.issueRecord(record)
	if next.number <= b.after.number {
		t.Errorf("%s was given out, and a customer has %s", next.number, b.after.number)
	}
	f.stop()
	if l := letters(t, to); len(l) != 1 || !strings.Contains(l[0].to, "third@example.org") {
		t.Errorf("it sent %d letters", len(l))
	}
	must(t, "", "audit", "--data", to)
	// The paper of the record that was lost names a log which is not this one.
	if got := gaugebook(t, "", "audit", "--data", to, "--against", b.paper); got.code != exitAdverse {
		t.Errorf("against the lost record's paper: exit %d %s", got.code, got.out)
	}
	if got := gaugebook(t, "", "restore", b.file, "--data", to); got.code != exitBad ||
		!strings.Contains(got.err, "empty folder only") {
		t.Errorf("over a register: exit %d %s", got.code, got.err)
	}
}

// setUpAgain signs the people of a firm in at another server.
func setUpAgain(t *testing.T, s *service, was *firm) *firm {
	t.Helper()
	f := *was
	f.service = s
	f.engineer = s.visitor(t).signIn(engineerEmail, engineerPassword)
	f.office = s.visitor(t).signIn(officeEmail, officePassword)
	f.owner = s.visitor(t).signIn(ownerEmail, ownerPassword)
	return &f
}

// What cannot be restored safely leaves nothing behind.
func TestRestoreRefuses(t *testing.T) {
	t.Parallel()
	b := backUp(t)
	forged := write(t, t.TempDir(), "register.db", read(t, b.file))
	forge(t, filepath.Dir(forged), "UPDATE records SET standing = 'adverse' WHERE number <> ''")
	cut := write(t, t.TempDir(), "cut.db", read(t, b.file)[:200_000])
	other := t.TempDir()
	newOwner(t, other)
	for name, c := range map[string]struct {
		args []string
		in   string
		says string
	}{
		"no number":     {[]string{b.file, "--key", b.key}, "", "given out twice"},
		"no such":       {[]string{b.file, "--key", b.key, "--highest", "42"}, "", "2026-00042"},
		"next century":  {[]string{b.file, "--key", b.key, "--highest", "2126-00042"}, "", "of this year or before"},
		"no key":        {[]string{b.file, "--highest", "none"}, "", "name the file with --key"},
		"another's key": {[]string{b.file, "--key", filepath.Join(other, "firm.key"), "--highest", "none"}, "", "another key"},
		"forged":        {[]string{forged, "--key", b.key, "--highest", "none"}, "", "shows another standing"},
		"cut":           {[]string{cut, "--key", b.key, "--highest", "none"}, "", "cut.db"},
		"not genuine":   {[]string{b.file, "--key", b.key, "--paper", b.key}, "", "--paper"},
	} {
		to := t.TempDir()
		got := gaugebook(t, c.in, append([]string{"restore", "--data", to}, c.args...)...)
		if got.code != exitBad || name != "cut" && !strings.Contains(got.err, c.says) {
			t.Errorf("%s: exit %d\n%s%s", name, got.code, got.out, got.err)
		}
		left, err := os.ReadDir(to)
		if err != nil || len(left) > 1 || len(left) == 1 && left[0].Name() != "server.lock" {
			t.Errorf("%s left %v behind", name, left)
		}
	}
	to := t.TempDir()
	if got := gaugebook(t, b.after.number+"\n", "restore", b.file, "--data", to, "--key", b.key); got.code != 0 ||
		!strings.Contains(got.out, "not given out again") {
		t.Errorf("asked for the number: exit %d %s%s", got.code, got.out, got.err)
	}
}

// The server makes backups by itself, encrypted for somebody who is not there,
// and keeps so many; one of them restores with the photos.
func TestScheduledBackups(t *testing.T) {
	t.Parallel()
	dir, out := t.TempDir(), t.TempDir()
	identity := filepath.Join(out, "identity.txt")
	made := must(t, "", "key", "for-backups", identity)
	recipient := regexp.MustCompile(`age1[0-9a-z]+`).FindString(made)
	newOwner(t, dir)
	to := filepath.Join(out, "backups")
	s := serve(t, dir, "--backup-dir", to, "--backup-recipient", recipient)
	setUp(t, s)
	files := func() []string {
		all, err := filepath.Glob(filepath.Join(to, "register-*.db.age"))
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	servertest.Eventually(t, "a backup", func() bool { return len(files()) == 1 })
	if p := s.visitor(t).get("/readyz"); p.status != http.StatusOK {
		t.Errorf("readiness %d: %s", p.status, p.body)
	}
	s.stop()
	name := files()[0]
	if strings.HasPrefix(string(read(t, name)), "SQLite") || !strings.Contains(string(read(t, name)), "age-encryption") {
		t.Error("it is not encrypted")
	}
	restored := filepath.Join(out, "restored")
	args := []string{"restore", name, "--data", restored, "--key", filepath.Join(dir, "firm.key"), "--highest", "none"}
	if got := gaugebook(t, "", args...); got.code != exitBad || !strings.Contains(got.err, "--identity") {
		t.Errorf("without the identity: exit %d %s", got.code, got.err)
	}
	must(t, "", append(args, "--identity", identity)...)
	must(t, "", "audit", "--data", restored)
}

// A backup takes the photos along, and says so when one of them is not what
// the records say it is.
func TestBackupTakesThePhotosAlong(t *testing.T) {
	t.Parallel()
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "copy.db")
	st := openRegister(t, dir, storetest.NewClock().Now)
	draft := storetest.MustDraft(t, st, storetest.MustAppliance(t, st, 1).ID, records.Service, "2026-11-20")
	picture := []byte("a picture, as far as a backup is concerned")
	sum, err := st.Photos.Keep(picture)
	if err == nil {
		_, err = st.Photos.Add(t.Context(), storetest.Actor, draft.ID, records.Photo{SHA256: sum, Section: "flue",
			Width: 4, Height: 3})
	}
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(st.Photos.Dir(), sum[:2], sum+".jpg")
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}

	if said := must(t, "", "backup", "--data", dir, out); !strings.Contains(said, out+".photos: 1,") {
		t.Errorf("backup says %q", said)
	}
	if got := read(t, filepath.Join(out+".photos", sum[:2], sum+".jpg")); !bytes.Equal(got, picture) {
		t.Error("the photo in the backup is another")
	}
	write(t, filepath.Dir(file), filepath.Base(file), "rot")
	got := gaugebook(t, "", "backup", "--data", dir, out+"2")
	if got.code != exitAdverse || !strings.Contains(got.err, file+" is damaged") ||
		!strings.Contains(got.err, "a record names the photo "+sum) ||
		!strings.Contains(got.out, "The register is in") {
		t.Errorf("damaged photo: exit %d, %s%s", got.code, got.out, got.err)
	}
}
