package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// A backup takes the photos along, and says so when one of them is not what
// the records say it is.
func TestBackupTakesThePhotosAlong(t *testing.T) {
	t.Parallel()
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "copy.db")
	st, err := store.Open(t.Context(), store.Options{Path: home{Data: dir}.database(), Now: storetest.NewClock().Now})
	if err != nil {
		t.Fatal(err)
	}
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
	if err := os.WriteFile(file, []byte("rot"), 0o600); err != nil {
		t.Fatal(err)
	}
	got := gaugebook(t, "", "backup", "--data", dir, out+"2")
	if got.code != exitAdverse || !strings.Contains(got.err, file+" is damaged") ||
		!strings.Contains(got.err, "a record names the photo "+sum) ||
		!strings.Contains(got.out, "The register is in") {
		t.Errorf("damaged photo: exit %d, %s%s", got.code, got.out, got.err)
	}
}
