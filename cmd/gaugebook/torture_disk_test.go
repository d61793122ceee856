//go:build torture && linux

package main

import (
	"database/sql"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/records/store"
)

// tolerant starts a server whose log may hold errors: they are provoked.
func tolerant(t *testing.T, dir string) *service {
	t.Helper()
	s := &service{tb: t, dir: dir, exe: program(t), log: &lockedLog{}}
	s.start("127.0.0.1:0")
	t.Cleanup(s.kill)
	return s
}

// fill writes a file until the disk is full, and gives a little room back.
func fill(t *testing.T, name string, leave int64) {
	t.Helper()
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	block := make([]byte, 64<<10)
	for err == nil {
		_, err = f.Write(block)
	}
	info, serr := f.Stat()
	if !errors.Is(err, syscall.ENOSPC) || serr != nil {
		t.Fatal(err, serr)
	}
	if err := errors.Join(f.Truncate(max(0, info.Size()-leave)), f.Close()); err != nil {
		t.Fatal(err)
	}
}

// On a full disk what cannot be saved is refused, what was acknowledged stays,
// reading goes on, and once there is room again the same server saves on.
func TestTortureFullDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "disk")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64m"); err != nil {
		t.Fatalf("a small disk needs root: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	newOwner(t, dir)
	f := setUp(t, tolerant(t, dir))
	p := client{f, newKey(t, f)}
	ballast := filepath.Join(dir, "ballast")
	fill(t, ballast, 600<<10)
	saved, refused := map[string]bool{}, 0
	home := func(n int) int {
		line := fmt.Sprintf("%d Full Street", n)
		status := p.call(http.MethodPost, "/properties", map[string]any{"property": map[string]string{"line1": line,
			"town": strings.Repeat("Ambershaw ", 6), "postcode": "AA7 4TB", "nation": "England"}}, nil)
		if saved[line] = status == http.StatusCreated; !saved[line] {
			delete(saved, line)
		}
		return status
	}
	n := 0
	for ; n < 20_000 && refused < 20; n++ {
		if status := home(n); status >= 500 {
			refused++
		} else if status != http.StatusCreated {
			t.Fatalf("status %d", status)
		}
	}
	if refused < 20 || len(saved) == 0 {
		t.Fatalf("%d saved, %d refused", len(saved), refused)
	}
	fill(t, ballast+".rest", 0)
	time.Sleep(6 * time.Second) // as long as an answer of the check holds
	f.owner.get("/register")
	if got := f.visitor(t).look("/readyz"); got.status != http.StatusServiceUnavailable {
		t.Errorf("readyz: %d on a full disk", got.status)
	}
	if err := errors.Join(os.Remove(ballast), os.Remove(ballast+".rest")); err != nil {
		t.Fatal(err)
	}
	if status := home(n); status != http.StatusCreated {
		t.Errorf("with room again: status %d", status)
	}
	time.Sleep(6 * time.Second)
	f.stop()
	must(t, "", "audit", "--data", dir)
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(dir, "register.db")+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	there := 0
	if err := db.QueryRow("SELECT count(*) FROM properties").Scan(&there); err != nil || there != len(saved) {
		t.Errorf("%d homes are there, %d were acknowledged, %v", there, len(saved), err)
	}
	t.Logf("%d saved, %d refused", len(saved), refused)
}

// With a clock that is behind the log nothing is issued and no number is used
// up; once it is right, the same draft is issued.
func TestTortureClockBack(t *testing.T) {
	dir := t.TempDir()
	newOwner(t, dir)
	s := tolerant(t, dir)
	f := setUp(t, s)
	p := client{f, newKey(t, f)}
	_, home := f.addHome("3 Clock Street", "clock@example.org")
	first := p.issue(home, records.Commissioning, today(t))
	f.stop()

	// The last entry is written by a clock that is ahead.
	ahead := time.Minute
	st, err := store.Open(t.Context(), store.Options{Path: filepath.Join(dir, "register.db"),
		Now: func() time.Time { return time.Now().Add(ahead) }})
	if err != nil {
		t.Fatal(err)
	}
	firm, err := st.Settings.Firm(t.Context())
	if err == nil {
		firm.Phone = "01632 960178"
		err = st.Settings.SaveFirm(t.Context(), records.Actor{Name: "a clock that is ahead"}, firm)
	}
	until := time.Now().Add(ahead)
	if err := errors.Join(err, st.Close()); err != nil {
		t.Fatal(err)
	}
	s.base = ""
	s.start("127.0.0.1:0")
	_, other := f.addHome("4 Clock Street", "clock@example.org")
	draft := f.startRecord(other, records.Commissioning, today(t))
	vs := rules.Sample().Values
	vs.Put(records.EngineerName.Field, "Sorrel Yarrow")
	for _, g := range []records.TextField{records.TightnessGauge, records.PressureGauge, records.Analyser} {
		vs.Put(g.Field, f.instruments[vs.Text(g)])
	}
	var r apiAnswer
	if status := p.call(http.MethodGet, "/records/"+draft, nil, &r); status != http.StatusOK {
		t.Fatal(status)
	}
	if status := p.call(http.MethodPatch, "/records/"+draft, map[string]any{"revision": r.Revision, "sections": vs},
		&r); status != http.StatusOK {
		t.Fatal(status)
	}
	issue := map[string]any{"revision": r.Revision}
	if status := p.call(http.MethodPost, "/records/"+draft+"/issue", issue, &r); status != http.StatusConflict ||
		!strings.Contains(r.Detail, "clock") {
		t.Errorf("with the clock behind: %d %s", status, r.Detail)
	}
	if got := gaugebook(t, "", "doctor", "--data", dir); !strings.Contains(got.out, "nothing is issued") {
		t.Errorf("doctor: %s", got.out)
	}
	time.Sleep(time.Until(until.Add(time.Second)))
	var is apiAnswer
	if status := p.call(http.MethodPost, "/records/"+draft+"/issue", issue, &is); status != http.StatusOK ||
		is.Number != strings.TrimSuffix(first.number, "1")+"2" {
		t.Errorf("with the clock right: %d %s after %s", status, is.Number, first.number)
	}
	f.stop()
	must(t, "", "audit", "--data", dir)
}
