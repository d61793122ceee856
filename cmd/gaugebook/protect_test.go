package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A protected key is used with its passphrase only, stays protected when it is
// changed, and is the same key when the passphrase is taken off.
func TestProtectedKey(t *testing.T) {
	top := t.TempDir()
	dir := filepath.Join(top, "data")
	got := command(t, strings.NewReader("a password of some words\n"), "owner", "--data", dir, "--name", "Alder Mossop",
		"--email", "alder@firm.example")
	if got.code != exitClear {
		t.Fatal(got.err)
	}
	key := filepath.Join(dir, "firm.key")
	plain := string(read(t, key))
	right := write(t, top, "right", "larch copper ember thrift\n")
	wrongOne := write(t, top, "wrong", "larch copper ember drift\n")
	short := write(t, top, "short", "larch\n")
	run := func(code int, says string, args ...string) {
		t.Helper()
		got := command(t, nil, append(args, "--data", dir)...)
		if got.code != code || !strings.Contains(got.out+got.err, says) {
			t.Errorf("%v: exit %d\n%s%s", args, got.code, got.out, got.err)
		}
		if strings.Contains(got.out+got.err, "larch") {
			t.Errorf("%v shows the passphrase", args)
		}
	}
	run(exitBad, "no passphrase", "key", "protect")
	run(exitBad, "fewer than 16 characters", "key", "protect", "--key-passphrase-file", short)
	if string(read(t, key)) != plain {
		t.Fatal("the key was changed")
	}
	run(exitClear, "needs the passphrase", "key", "protect", "--key-passphrase-file", right)
	text := string(read(t, key))
	if strings.Contains(text, "PRIVATE KEY") || !strings.HasPrefix(text, "-----BEGIN AGE ENCRYPTED FILE-----") {
		t.Fatalf("%s", text)
	}
	if info, err := os.Stat(key); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	run(exitBad, "is protected by a passphrase", "audit")
	run(exitBad, "not the right one", "audit", "--key-passphrase-file", wrongOne)
	run(exitClear, "follows from the one before", "audit", "--key-passphrase-file", right)
	t.Setenv(keyPassphrase, "larch copper ember thrift")
	run(exitClear, "follows from the one before", "audit")
	_, found := doctorOf(t, "--data", dir)
	if !strings.Contains(found["firm's key well"], "protected by a passphrase") {
		t.Errorf("%q", found)
	}
	_, found = doctorOf(t, "--data", dir, "--key-passphrase-file", write(t, dir, "phrase", "larch copper ember thrift"))
	if !strings.Contains(found["firm's key attention"], "in the same folder") {
		t.Errorf("%q", found)
	}
	run(exitClear, "keep proving", "key", "change")
	if text := string(read(t, key)); !strings.HasPrefix(text, "-----BEGIN AGE") {
		t.Errorf("the new key is not protected: %s", text)
	}
	run(exitClear, "needs no passphrase", "key", "unprotect")
	if text := string(read(t, key)); !strings.Contains(text, "PRIVATE KEY") || text == plain {
		t.Errorf("%s", text)
	}
	if left, _ := filepath.Glob(key + ".*"); len(left) != 1 { // the key of before
		t.Errorf("left behind: %v", left)
	}
}
