package app_test

import (
	"bytes"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/mail"
	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

// sentLinks hands over what is due and returns the links in it, by path.
func sentLinks(t *testing.T, site *servertest.Site) map[string][]string {
	t.Helper()
	dir := t.TempDir()
	m := worker.NewMailSender(site.App, mail.Folder{Dir: dir}, site.Clock.Now, slog.New(slog.DiscardHandler))
	if err := m.SendDue(t.Context()); err != nil {
		t.Fatal(err)
	}
	names, err := filepath.Glob(filepath.Join(dir, "*.eml"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]string{}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		text := strings.NewReplacer("=\r\n", "", "=3D", "=").Replace(string(data))
		if strings.Contains(text, records.TokenMark) {
			t.Errorf("%s was sent without its token", filepath.Base(name))
		}
		for _, found := range regexp.MustCompile(`/(join|r|stop)/([a-z2-7]{26})`).FindAllStringSubmatch(text, -1) {
			if !slices.Contains(out[found[1]], found[2]) {
				out[found[1]] = append(out[found[1]], found[2])
			}
		}
	}
	return out
}

// Neither the outbox nor a backup nor a page tells a link that a message
// carried, and each of them opens what it is for.
func TestLinksAreKeptNowhere(t *testing.T) {
	site := servertest.Start(t)
	owner, office := site.As(records.RoleOwner), site.As(records.RoleOffice)
	row := site.Issued()
	if _, err := site.App.Resend(t.Context(), site.People[records.RoleOffice], row.ID, ""); err != nil {
		t.Fatal(err)
	}
	maud := site.People[records.RoleEngineer]
	if _, err := site.App.Invite(t.Context(), site.People[records.RoleOwner].Actor(), maud.ID); err != nil {
		t.Fatal(err)
	}
	site.Landlord(2, servertest.ByMail, "2026-12-20")
	_, form := owner.Preview("e-mail")
	owner.Post("/chase/send", form)

	links := sentLinks(t, site)
	if len(links["r"]) != 2 || len(links["join"]) != 1 || len(links["stop"]) != 1 {
		t.Fatalf("sent %v", links)
	}
	for kind, tokens := range links {
		for _, token := range tokens {
			site.Guest().Expect("/"+kind+"/"+token, 200, nil, nil)
		}
	}
	backup := filepath.Join(t.TempDir(), "backup.db")
	if err := store.BackupFile(t.Context(), filepath.Join(site.Store.Dir(), "site.db"), backup); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(site.Store.Dir(), "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range append(files, backup) {
		data, err := os.ReadFile(name)
		if err != nil {
			continue // a folder
		}
		for _, tokens := range links {
			for _, token := range tokens {
				if bytes.Contains(data, []byte(token)) {
					t.Errorf("%s holds a link in the clear", filepath.Base(name))
				}
			}
		}
	}
	pages := office.Get("/messages").Body
	for _, m := range site.Outbox() {
		p := office.Get("/messages/" + m.ID)
		pages += p.Body
		if m.AboutAccount() && p.Status != 404 {
			t.Errorf("the office reads the message about an account: %d", p.Status)
		}
		if p := site.As(records.RoleEngineer).Get("/messages/" + m.ID); m.AboutAccount() && p.Status != 404 {
			t.Errorf("an engineer reads the message about an account: %d", p.Status)
		}
	}
	if strings.Contains(pages, "/join/") || strings.Contains(pages, "Set your password") ||
		strings.Contains(pages, records.TokenMark) {
		t.Error("the office sees an invitation, or what stands for a link")
	}
	for _, tokens := range links {
		if slices.ContainsFunc(tokens, func(token string) bool { return strings.Contains(pages, token) }) {
			t.Error("a page of messages shows a link")
		}
	}
}

// A message that may have arrived is sent again: the link in either works.
func TestLinkOfAnUnsureMessageWorksOn(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	m, err := site.Store.Outbox.ClaimDue(t.Context(), site.Clock.Now(), 1)
	if err != nil || m == nil {
		t.Fatal(m, err)
	}
	first := site.LinkIn(*m, "/r/")
	if err := site.Store.Outbox.MarkUnsure(t.Context(), m.ID, "the line broke"); err != nil {
		t.Fatal(err)
	}
	if err := site.App.Requeue(t.Context(), site.People[records.RoleOffice], m.ID); err != nil {
		t.Fatal(err)
	}
	second := site.LinkIn(*m, "/r/")
	if first == second {
		t.Error("the same token twice")
	}
	for _, link := range []string{first, second} {
		site.Guest().Expect(link, 200, []string{row.Number}, nil)
	}
}

// The holder of an account is told of a new password and of a new address, at
// both addresses.
func TestHolderIsToldOfChanges(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	const fresh = "lamp oil and biscuits"
	site.As(records.RoleEngineer).Post("/password", servertest.Form("present", servertest.Password, "password", fresh,
		"again", fresh))
	site.As(records.RoleOwner).Post("/people/"+maud.ID, servertest.Form("name", maud.Name, "email",
		"elsewhere@tweddle.example", "role", "engineer", "licence", maud.Licence, "active", "active"))
	var told []string
	for _, m := range site.Outbox() {
		if m.Kind == records.AccountKind {
			told = append(told, m.ToEmail+": "+strings.Join(strings.Fields(m.Text), " "))
		}
	}
	slices.Sort(told)
	if len(told) != 3 {
		t.Fatalf("told %q", told)
	}
	for i, want := range []string{"elsewhere@tweddle.example: Dear Tamsin Oakhurst, The address that you sign in " +
		"with was changed from engineer@tweddle.example to elsewhere@tweddle.example for Gaugebook",
		"engineer@tweddle.example: Dear Tamsin Oakhurst, The address that you sign in with",
		"engineer@tweddle.example: Dear Tamsin Oakhurst, Your password was changed for Gaugebook"} {
		if !strings.HasPrefix(told[i], want) {
			t.Errorf("told %q, not %q", told[i], want)
		}
	}
	if !strings.Contains(told[0], ", by Rhona Tweddle.") || strings.Contains(told[2], ", by Tamsin") {
		t.Errorf("by whom: %q", told)
	}
}

func TestGuessablePasswordsAreRefused(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	for _, bad := range []string{"password2026!", "Passw0rd Passw0rd", "P@$$w0rd1234", "qwertyuiop12", "123456789012",
		"aaaaaaaaaaaaaa", "abcabcabcabcabc", "TweddleHeating2026", "Tweddle and Daughter",
		strings.ToLower(maud.Name) + " 1",
		"engineer@tweddle.example1", "Gaugebook-2026", "gas engineer gas", "letmeinletmein", "welcome 2025 welcome",
		"summer2026!!!", "boilerboiler1", "gaugebook7351964", "Gaugebook#58203", "Ambershaw95027", "Quillwater 83016 !",
		"Tamsin.Oakhurst.9573", "oakhurst 640 tamsin 82", "engineer 9173 tweddle", "H3at1ng 7351964",
		"Daughter$9302751", "4mb3rsh4w 5702", "password-7391-5206"} {
		if _, err := site.App.PasswordOf(t.Context(), maud, bad); records.KindOf(err) != records.Invalid ||
			!strings.Contains(err.Error(), "among the first") {
			t.Errorf("%q: %v", bad, err)
		}
	}
	for _, good := range []string{servertest.Password, "lamp oil and biscuits", "four words of tea",
		"83019 27465 10938", "x9#kQv2!mTz7", "tåga och sjö Ärta", "correct boiler staple"} {
		if _, err := site.App.PasswordOf(t.Context(), maud, good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
	p := site.As(records.RoleEngineer).Post("/password", servertest.Form("present", servertest.Password, "password",
		"Tweddle-2026-Tweddle", "again", "Tweddle-2026-Tweddle"))
	if p.Status != 422 || !strings.Contains(p.Body, "among the first") {
		t.Errorf("on the page: %d", p.Status)
	}
	p = site.As(records.RoleOwner).Post("/people", servertest.Form("name", "Wilf Marchbank", "email",
		"w@tweddle.example",
		"role", "engineer", "password", "wilfmarchbank1"))
	if p.Status != 422 || !strings.Contains(p.Body, "among the first") {
		t.Errorf("a first one: %d", p.Status)
	}
}
