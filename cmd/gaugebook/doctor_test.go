package main

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"
)

// doctorOf examines a folder and returns what was found, by check and state.
func doctorOf(t *testing.T, args ...string) (code int, found map[string]string) {
	t.Helper()
	got := command(t, nil, append([]string{"doctor", "--json"}, args...)...)
	var all []checked
	if err := json.Unmarshal([]byte(got.out), &all); err != nil {
		t.Fatalf("exit %d: %s%s: %v", got.code, got.out, got.err, err)
	}
	return got.code, byCheck(t, all)
}

func byCheck(t *testing.T, all []checked) map[string]string {
	t.Helper()
	found := map[string]string{}
	for _, c := range all {
		if c.State == wrong && c.Do == "" || c.State == attention && c.Do == "" {
			t.Errorf("%s does not say what to do: %s", c.Check, c.Found)
		}
		check, _, _ := strings.Cut(c.Check, " domain ")
		found[check+" "+string(c.State)] += c.Found + "; "
	}
	return found
}

// filesOf returns what a folder holds, but for what SQLite keeps beside an open
// database.
func filesOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.HasSuffix(path, "-wal") || strings.HasSuffix(path, "-shm") {
			return err
		}
		info, err := e.Info()
		out[path] = fmt.Sprintf("%x %s", sha256.Sum256(read(t, path)), info.Mode())
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Each thing that is wrong is found, and nothing is changed by looking.
func TestDoctor(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	got := command(t, strings.NewReader("a password of some words\n"), "owner", "--data", dir, "--name", "Alder Mossop",
		"--email", "alder@firm.example")
	if got.code != exitClear {
		t.Fatal(got.err)
	}
	was := filesOf(t, dir)
	want := func(code int, found map[string]string, wants ...string) {
		t.Helper()
		if !strings.Contains(" 0 1 4 ", fmt.Sprintf(" %d ", code)) {
			t.Errorf("exit %d", code)
		}
		for _, w := range wants {
			key, text, _ := strings.Cut(w, ": ")
			if !strings.Contains(found[key], text) {
				t.Errorf("no %q in %q", w, found)
			}
		}
	}
	code, found := doctorOf(t, "--data", dir, "--base-url", "http://records.firm.example")
	want(code, found, "base URL wrong: plain http", "firm's key well: newest seal", "firm's key note: one folder",
		"permissible drops attention: edition 4, natural gas", "mail wrong: no e-mail address", "clock well: after",
		"backups attention: makes none", "schema well: that of this program", "disk space ")
	_, found = doctorOf(t, "--data", dir, "--tls-host", "records.firm.example")
	want(0, found, "base URL well: https://records.firm.example",
		"certificate of records.firm.example attention: there is none yet")
	code, found = doctorOf(t, "--data", dir, "--backup-dir", filepath.Join(dir, "backups"))
	want(code, found, "base URL attention: not set", "backups attention: one disk loses both")
	if code != exitAdverse {
		t.Errorf("exit %d", code)
	}
	if is := filesOf(t, dir); fmt.Sprint(is) != fmt.Sprint(was) {
		t.Errorf("looking changed\n%v\ninto\n%v", was, is)
	}

	if err := os.Chmod(filepath.Join(dir, "register.db"), 0o644); err != nil {
		t.Fatal(err)
	}
	key := filepath.Join(dir, "firm.key")
	if err := os.Rename(key, key+".away"); err != nil {
		t.Fatal(err)
	}
	code, found = doctorOf(t, "--data", dir, "--zone", "Nowhere", "--proxies", "all", "--listen", ":99999")
	want(code, found, "file modes wrong: register.db has mode 0644", "firm's key wrong: missing",
		`configuration wrong: --zone "Nowhere"`, `configuration wrong: --proxies "all"`)

	late := &doctor{settings: settings{home: home{Data: dir}}, names: net.DefaultResolver,
		now: func() time.Time { return testDay().Add(-time.Hour) }}
	want(exitClear, byCheck(t, late.examine(t.Context())), "clock wrong: nothing is issued")

	_, found = doctorOf(t, "--data", t.TempDir())
	want(exitClear, found, "register wrong: there is none")
}

// A register of before is not brought up to date by looking at it.
func TestDoctorMigratesNothing(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "old")
	unpack(t, filepath.Join(registersDir, "schema-10"), dir)
	was := filesOf(t, dir)
	_, found := doctorOf(t, "--data", dir)
	if !strings.Contains(found["schema note"], "the register has schema 10") {
		t.Errorf("%q", found)
	}
	if is := filesOf(t, dir); fmt.Sprint(is) != fmt.Sprint(was) {
		t.Errorf("looking changed\n%v\ninto\n%v", was, is)
	}
}

// nameServer answers on loopback from a zone of TXT and MX records; without a
// zone it says nothing at all.
func nameServer(t *testing.T, zone map[string][]dnsmessage.ResourceBody) *net.Resolver {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	go func() {
		buf := make([]byte, 1500)
		for {
			n, from, err := conn.ReadFrom(buf)
			if err != nil {
				return
			}
			var m dnsmessage.Message
			if zone == nil || m.Unpack(buf[:n]) != nil || len(m.Questions) != 1 {
				continue
			}
			q := m.Questions[0]
			m.Header = dnsmessage.Header{ID: m.ID, Response: true, RCode: dnsmessage.RCodeNameError}
			m.Additionals = nil
			for _, body := range zone[q.Name.String()] {
				m.RCode = dnsmessage.RCodeSuccess
				if typeOf(body) == "*dnsmessage."+strings.TrimPrefix(q.Type.String(), "Type")+"Resource" {
					m.Answers = append(m.Answers, dnsmessage.Resource{Header: dnsmessage.ResourceHeader{Name: q.Name,
						Type: q.Type, Class: q.Class}, Body: body})
				}
			}
			if out, err := m.Pack(); err == nil {
				_, _ = conn.WriteTo(out, from)
			}
		}
	}()
	return &net.Resolver{PreferGo: true, Dial: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "udp", conn.LocalAddr().String())
	}}
}

func typeOf(v any) string { return fmt.Sprintf("%T", v) }

// What receivers judge mail by is looked up; where no names can be, that is said
// and nothing is held against the domain.
func TestDoctorLooksAtTheMailDomain(t *testing.T) {
	t.Parallel()
	text := func(s string) dnsmessage.ResourceBody { return &dnsmessage.TXTResource{TXT: []string{s}} }
	root := []dnsmessage.ResourceBody{&dnsmessage.NSResource{NS: dnsmessage.MustNewName("a.example.")}}
	spf, dmarc := text("v=spf1 mx -all"), text("v=DMARC1; p=none")
	mx := &dnsmessage.MXResource{Pref: 10, MX: dnsmessage.MustNewName("mail.firm.example.")}
	for name, c := range map[string]struct {
		zone map[string][]dnsmessage.ResourceBody
		want []string
	}{
		"all there": {map[string][]dnsmessage.ResourceBody{"firm.example.": {spf, text("other"), mx},
			"_dmarc.firm.example.": {dmarc}}, []string{"mail well: SPF: v=spf1", "mail well: DMARC: v=DMARC1",
			"mail well: mail.firm.example"}},
		"nothing there": {map[string][]dnsmessage.ResourceBody{".": root}, []string{"mail attention: no SPF",
			"mail attention: no DMARC", "mail wrong: no server takes mail"}},
		"twice": {map[string][]dnsmessage.ResourceBody{"firm.example.": {spf, spf, mx},
			"_dmarc.firm.example.": {dmarc, dmarc}}, []string{"mail wrong: 2 SPF", "mail wrong: 2 DMARC"}},
		"knows no names":  {map[string][]dnsmessage.ResourceBody{"x.": root}, []string{"mail note: not looked up"}},
		"does not answer": {nil, []string{"mail note: not looked up"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ctx := t.Context()
			if c.zone == nil {
				short, cancel := context.WithTimeout(ctx, 200*time.Millisecond)
				defer cancel()
				ctx = short
			}
			d := &doctor{names: nameServer(t, c.zone)}
			d.mailDomain(ctx, "firm.example")
			found := byCheck(t, d.found)
			for _, w := range c.want {
				key, text, _ := strings.Cut(w, ": ")
				if !strings.Contains(found[key], text) {
					t.Errorf("no %q in %q", w, found)
				}
			}
		})
	}
}
