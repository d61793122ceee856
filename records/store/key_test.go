package store_test

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func mustPerson(t *testing.T, s *store.Store, email string) records.Person {
	t.Helper()
	return must(s.People.Create(ctx, storetest.Actor, records.Person{Name: "Elspeth Corrow", Email: email,
		Role: records.RoleEngineer, Active: true}))
}

func TestKeyIsOfOnePersonUntilRevoked(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	p, other := mustPerson(t, s, "elspeth@firm.example"), mustPerson(t, s, "other@firm.example")
	k := must(s.People.NewKey(ctx, storetest.Actor, p.ID, " van tablet "))
	if !regexp.MustCompile(`^gbk_[a-z2-7]{26}$`).MatchString(k.Token) || k.Label != "van tablet" ||
		!k.RevokedAt.IsZero() {
		t.Errorf("key %+v", k)
	}
	second := must(s.People.NewKey(ctx, storetest.Actor, p.ID, "office export"))
	if second.Token == k.Token {
		t.Error("two keys are the same")
	}
	if got := must(s.People.ByKey(ctx, k.Token)); got.ID != p.ID || got.Role != records.RoleEngineer {
		t.Errorf("PersonByKey = %+v", got)
	}
	for _, wrong := range []string{"", "gbk_", k.Token + "a", strings.ToUpper(k.Token), k.ID} {
		_, err := s.People.ByKey(ctx, wrong)
		wantKind(t, err, records.NotFound)
		if wrong != "" && strings.Contains(err.Error(), wrong) {
			t.Errorf("the error repeats the key: %v", err)
		}
	}
	wantKind(t, s.People.RevokeKey(ctx, storetest.Actor, other.ID, k.ID), records.NotFound)
	must(s.People.ByKey(ctx, k.Token))
	for range 2 {
		if err := s.People.RevokeKey(ctx, storetest.Actor, p.ID, k.ID); err != nil {
			t.Fatal(err)
		}
	}
	_, err := s.People.ByKey(ctx, k.Token)
	wantKind(t, err, records.NotFound)
	must(s.People.ByKey(ctx, second.Token))

	keys := must(s.People.Keys(ctx, p.ID))
	if len(keys) != 2 || keys[0].ID != second.ID || keys[1].ID != k.ID || keys[1].RevokedAt.IsZero() || keys[0].Token+
		keys[1].Token != "" {
		t.Errorf("keys %+v", keys)
	}
	var said []string
	for _, e := range must(s.Audit.Entries(ctx, k.ID, 0, 10)) {
		said = append(said, e.What)
	}
	if strings.Join(said, ", ") != "key revoked, key made" {
		t.Errorf("audit says %q", said)
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
}

func TestKeyRefuses(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	p := mustPerson(t, s, "elspeth@firm.example")
	for _, label := range []string{"", "  ", strings.Repeat("x", 61), "two\nlines"} {
		_, err := s.People.NewKey(ctx, storetest.Actor, p.ID, label)
		wantKind(t, err, records.Invalid)
	}
	_, err := s.People.NewKey(ctx, storetest.Actor, "nobody", "x")
	wantKind(t, err, records.NotFound)
	var last store.Key
	for range store.MostKeys {
		last = must(s.People.NewKey(ctx, storetest.Actor, p.ID, "one of many"))
	}
	_, err = s.People.NewKey(ctx, storetest.Actor, p.ID, "one too many")
	wantKind(t, err, records.Conflict)
	if err := s.People.RevokeKey(ctx, storetest.Actor, p.ID, last.ID); err != nil {
		t.Fatal(err)
	}
	must(s.People.NewKey(ctx, storetest.Actor, p.ID, "in its place"))
}

// The token must be nowhere in the file, nor in its journal.
func TestKeyTokenIsNotStored(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := storetest.MustOpenAt(t, filepath.Join(dir, "test.db"), storetest.NewClock().Now)
	k := must(s.People.NewKey(ctx, storetest.Actor, mustPerson(t, s, "elspeth@firm.example").ID, "findable label"))
	found := false
	for _, e := range must(os.ReadDir(dir)) {
		data := must(os.ReadFile(filepath.Join(dir, e.Name())))
		if bytes.Contains(data, []byte(k.Token)) || bytes.Contains(data, []byte(strings.TrimPrefix(k.Token, "gbk_"))) {
			t.Errorf("%s holds the token", e.Name())
		}
		found = found || bytes.Contains(data, []byte("findable label"))
	}
	if !found {
		t.Error("the label was not found either: the test looked in the wrong place")
	}
}
