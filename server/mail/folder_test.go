package mail_test

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"gaugebook/server/mail"
)

func TestFolderKeepsTheFirst(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "not", "yet", "there")
	f := mail.Folder{Dir: dir}
	first, err := f.Send(t.Context(), letter())
	if err != nil || first.AlreadyThere || first.Place != filepath.Join(dir, "outbox-17.eml") {
		t.Fatalf("%+v, %v", first, err)
	}
	want, err := mail.Build(letter())
	if err != nil {
		t.Fatal(err)
	}
	changed := letter()
	changed.Subject = "changed"
	again, err := f.Send(t.Context(), changed)
	if err != nil || !again.AlreadyThere || again.Place != first.Place || again.MessageID != first.MessageID {
		t.Fatalf("%+v, %v", again, err)
	}
	got, err := os.ReadFile(first.Place)
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("the file is not the first letter: %v", err)
	}
	info, err := os.Stat(first.Place)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("others may read it: %v %v", info.Mode(), err)
	}
	if names := list(t, dir); len(names) != 1 {
		t.Errorf("left behind: %v", names)
	}
}

func list(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func TestFolderSameLetterAtOnce(t *testing.T) {
	f := mail.Folder{Dir: t.TempDir()}
	var wg sync.WaitGroup
	receipts := make([]mail.Receipt, 16)
	for i := range receipts {
		wg.Go(func() {
			var err error
			if receipts[i], err = f.Send(t.Context(), letter()); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	first := 0
	for _, r := range receipts {
		if !r.AlreadyThere {
			first++
		}
	}
	if names := list(t, f.Dir); first != 1 || len(names) != 1 {
		t.Errorf("%d wrote it, files %v", first, names)
	}
}

func TestFolderErrors(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := mail.Folder{Dir: file}.Send(t.Context(), letter())
	failed(t, err, mail.Temporary, mail.StageFile)
	_, err = mail.Folder{}.Send(t.Context(), letter())
	failed(t, err, mail.Temporary, mail.StageSettings)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	dir := t.TempDir()
	_, err = mail.Folder{Dir: dir}.Send(ctx, letter())
	failed(t, err, mail.Temporary, mail.StageFile)
	if names := list(t, dir); len(names) != 0 {
		t.Errorf("cancelled and yet wrote %v", names)
	}
}

const childFolder = "MAIL_TEST_FOLDER"

// TestFolderChild is the process that TestFolderKilled kills.
func TestFolderChild(t *testing.T) {
	dir := os.Getenv(childFolder)
	if dir == "" {
		return // only there for the test below
	}
	for {
		_ = os.Remove(filepath.Join(dir, "outbox-17.eml"))
		if _, err := (mail.Folder{Dir: dir}).Send(t.Context(), heavy()); err != nil {
			t.Fatal(err)
		}
	}
}

// heavy takes long enough to write for a kill to fall into it.
func heavy() mail.Message {
	m := letter()
	m.Attachments[0].Data = make([]byte, 4<<20)
	return m
}

func unfinished(t *testing.T, dir string) int {
	t.Helper()
	parts, err := filepath.Glob(filepath.Join(dir, ".letter-*.part"))
	if err != nil {
		t.Fatal(err)
	}
	return len(parts)
}

// A process killed at any moment leaves no half letter under its name, and what
// it leaves besides does not hinder the next attempt.
func TestFolderKilled(t *testing.T) {
	want, err := mail.Build(heavy())
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "outbox-17.eml")
	parts := unfinished(t, dir)
	for round := range 12 {
		child := exec.Command(os.Args[0], "-test.run=^TestFolderChild$")
		child.Env = append(os.Environ(), childFolder+"="+dir)
		if err := child.Start(); err != nil {
			t.Fatal(err)
		}
		for begun, limit := parts, time.Now().Add(20*time.Second); begun == parts; begun = unfinished(t, dir) {
			if time.Now().After(limit) {
				t.Fatal("the child process writes nothing")
			}
		}
		time.Sleep(time.Duration(round) * time.Millisecond)
		_ = child.Process.Kill()
		_ = child.Wait()
		parts = unfinished(t, dir)
		got, err := os.ReadFile(path)
		if err == nil && !bytes.Equal(got, want) {
			t.Fatalf("round %d: a half letter of %d bytes is visible", round, len(got))
		}
		visible, err := filepath.Glob(filepath.Join(dir, "[^.]*"))
		if err != nil || len(visible) > 1 {
			t.Fatalf("round %d: visible %v, %v", round, visible, err)
		}
	}
	if parts == 0 {
		t.Error("no kill fell into a write: the test proved nothing")
	}
	if _, err := (mail.Folder{Dir: dir}).Send(t.Context(), heavy()); err != nil {
		t.Fatal(err)
	}
	if got, err := os.ReadFile(path); err != nil || !bytes.Equal(got, want) {
		t.Errorf("after the kills: %v", err)
	}
}
