package main

import (
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
)

// A forgotten password is put right on the command line, and the holder is told.
func TestPasswordOnTheCommandLine(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "register")
	must(t, "three cups of oolong\n", "owner", "--data", dir, "--name", "Alder Mossop", "--email", "alder@moss.example")
	open := func() *store.Store {
		st, err := store.Open(t.Context(), store.Options{Path: filepath.Join(dir, "register.db")})
		if err != nil {
			t.Fatal(err)
		}
		return st
	}
	st := open()
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
	st = open()
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
