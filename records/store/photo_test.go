package store_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// photo keeps a picture made of the text and returns what names it.
func photo(t *testing.T, s *store.Store, text string) records.Photo {
	t.Helper()
	return records.Photo{SHA256: must(s.Photos.Keep([]byte(text))), Section: "flue", Width: 4, Height: 3}
}

func TestPictureIsAFileNamedByItsHash(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "p.db")
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	data := []byte("a picture, as far as a file is concerned")
	sum := sha256.Sum256(data)
	want := hex.EncodeToString(sum[:])
	for range 2 {
		if got := must(s.Photos.Keep(data)); got != want {
			t.Fatalf("kept as %s", got)
		}
	}
	file := filepath.Join(filepath.Dir(path), "photos", want[:2], want+".jpg")
	if got := must(os.ReadFile(file)); !bytes.Equal(got, data) {
		t.Error("the file is not the picture")
	}
	if got := must(s.Photos.Picture(want)); !bytes.Equal(got, data) {
		t.Error("not read back")
	}
	for _, bad := range []string{"", "../p.db", strings.ToUpper(want), want[:62], want + "00",
		strings.Repeat("0", 64)} {
		_, err := s.Photos.Picture(bad)
		wantKind(t, err, records.NotFound)
		wantKind(t, s.Photos.Has(bad), records.NotFound)
	}

	// A damaged file is no picture; the same picture sent again heals it.
	if err := os.WriteFile(file, []byte("rot"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := s.Photos.Picture(want)
	wantKind(t, err, records.Internal)
	must(s.Photos.Keep(data))
	must(s.Photos.Picture(want))

	// Nothing but pictures is left in the folder.
	if err := filepath.WalkDir(s.Photos.Dir(), func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && p != file {
			t.Errorf("left behind: %s", p)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
}

func TestPictureOnAFullOrClosedDisk(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "p.db")
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	// A file where the folder should be: writing must fail, not half happen.
	if err := os.WriteFile(s.Photos.Dir(), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Photos.Keep([]byte("x")); err == nil {
		t.Error("kept nowhere")
	}
}

func TestPhotosOfADraft(t *testing.T) {
	s, a := withAppliance(t)
	draft := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	p := photo(t, s, "one")
	p.Caption = " Terminal "
	with := must(s.Photos.Add(ctx, storetest.Actor, draft.ID, p))
	if len(with.Photos) != 1 || with.Photos[0].Caption != "Terminal" || with.Revision != draft.Revision {
		t.Fatalf("added %+v at revision %d", with.Photos, with.Revision)
	}
	if again := must(s.Photos.Add(ctx, storetest.Actor, draft.ID, p)); len(again.Photos) != 1 {
		t.Error("added twice")
	}
	elsewhere := p
	elsewhere.Section = "heat"
	_, err := s.Photos.Add(ctx, storetest.Actor, draft.ID, elsewhere)
	wantKind(t, err, records.Conflict)

	// A form opened before the photo was taken still saves, and takes the
	// photo not away.
	draft.Values.Put(records.TestMinutes.Field, "2")
	saved := must(s.Records.SaveDraft(ctx, storetest.Actor, draft, draft.Revision))
	if len(saved.Photos) != 1 || saved.Revision != draft.Revision+1 {
		t.Fatalf("after saving: %+v at revision %d", saved.Photos, saved.Revision)
	}
	// And sent once more, by a phone that got no answer, it changes nothing.
	if got := must(s.Records.SaveDraft(ctx, storetest.Actor, draft, draft.Revision)); got.Revision != saved.Revision {
		t.Error("saved again")
	}

	// Captions: what somebody else wrote meanwhile is not written over.
	must(s.Photos.Caption(ctx, storetest.Actor, draft.ID, p.SHA256, "Terminal", "Terminal from below"))
	_, err = s.Photos.Caption(ctx, storetest.Actor, draft.ID, p.SHA256, "Terminal", "Mine")
	wantKind(t, err, records.Conflict)
	_, err = s.Photos.Caption(ctx, storetest.Actor, draft.ID, p.SHA256, "Terminal from below", strings.Repeat("x", 121))
	wantKind(t, err, records.Invalid)
	_, err = s.Photos.Caption(ctx, storetest.Actor, draft.ID, strings.Repeat("0", 64), "", "x")
	wantKind(t, err, records.NotFound)

	// A picture that is not kept cannot be named.
	_, err = s.Photos.Add(ctx, storetest.Actor, draft.ID, records.Photo{SHA256: strings.Repeat("ab", 32),
		Section: "flue", Width: 1, Height: 1})
	wantKind(t, err, records.NotFound)
	bad := photo(t, s, "two")
	bad.Section = "roof"
	_, err = s.Photos.Add(ctx, storetest.Actor, draft.ID, bad)
	wantKind(t, err, records.Invalid)

	for range 2 {
		if got := must(s.Photos.Remove(ctx, storetest.Actor, draft.ID, p.SHA256)); len(got.Photos) != 0 {
			t.Errorf("left %+v", got.Photos)
		}
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
}

// Photos that two people add at once are all there, and never one too many.
func TestPhotosAtOnceUpToTheMost(t *testing.T) {
	s, a := withAppliance(t)
	draft := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	var photos []records.Photo
	for i := range records.MaxPhotos + 3 {
		photos = append(photos, photo(t, s, fmt.Sprint("picture ", i)))
	}
	refused := 0
	for _, err := range race(len(photos), func(i int) error {
		_, err := s.Photos.Add(ctx, storetest.Actor, draft.ID, photos[i])
		return err
	}) {
		if err != nil {
			wantKind(t, err, records.Conflict)
			refused++
		}
	}
	if r := must(s.Records.Record(ctx, draft.ID)); len(r.Photos) != records.MaxPhotos || refused != 3 {
		t.Errorf("%d photos, %d refused", len(r.Photos), refused)
	}
}

func TestPhotosOfAnIssuedRecordStay(t *testing.T) {
	s, a := withAppliance(t)
	draft := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	p := photo(t, s, "one")
	must(s.Photos.Add(ctx, storetest.Actor, draft.ID, p))
	row := mustIssue(t, s, draft.ID, draft.Revision)
	issued := must(records.DecodeIssued(row.Canonical))
	if len(issued.Record.Photos) != 1 || issued.Record.Photos[0].SHA256 != p.SHA256 {
		t.Errorf("sealed with %+v", issued.Record.Photos)
	}
	_, err := s.Photos.Add(ctx, storetest.Actor, draft.ID, photo(t, s, "two"))
	wantKind(t, err, records.Conflict)
	_, err = s.Photos.Remove(ctx, storetest.Actor, draft.ID, p.SHA256)
	wantKind(t, err, records.Conflict)
	_, err = s.Photos.Caption(ctx, storetest.Actor, draft.ID, p.SHA256, "", "late")
	wantKind(t, err, records.Conflict)
}

func TestBackupOfPhotos(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := storetest.MustOpenAt(t, filepath.Join(dir, "p.db"), storetest.NewClock().Now)
	a := storetest.MustAppliance(t, s, 1)
	draft := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	var sums []string
	for _, text := range []string{"one", "two", "three"} {
		p := photo(t, s, text)
		must(s.Photos.Add(ctx, storetest.Actor, draft.ID, p))
		sums = append(sums, p.SHA256)
	}
	back := func(name string) store.PhotoBackup {
		t.Helper()
		if err := s.Backup(ctx, filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
		return must(s.Photos.Backup(ctx, filepath.Join(dir, name), filepath.Join(dir, name+".photos")))
	}
	if got := back("a"); got.Copied != 3 || got.Damaged != nil || got.Missing != nil {
		t.Errorf("backup %+v", got)
	}
	_, err := s.Photos.Backup(ctx, filepath.Join(dir, "a"), filepath.Join(dir, "a.photos"))
	wantKind(t, err, records.Conflict)

	// The copy works in the place of the original.
	other := t.TempDir()
	if err := os.Rename(filepath.Join(dir, "a"), filepath.Join(other, "p.db")); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(filepath.Join(dir, "a.photos"), filepath.Join(other, "photos")); err != nil {
		t.Fatal(err)
	}
	copied := storetest.MustOpenAt(t, filepath.Join(other, "p.db"), storetest.NewClock().Now)
	for i, sum := range sums {
		if got := string(must(copied.Photos.Picture(sum))); got != []string{"one", "two", "three"}[i] {
			t.Errorf("picture %d is %q", i, got)
		}
	}

	// One lost and one damaged are both named.
	file := func(sum string) string { return filepath.Join(s.Photos.Dir(), sum[:2], sum+".jpg") }
	if err := os.Remove(file(sums[0])); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file(sums[1]), []byte("rot"), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := back("b"); got.Copied != 1 || len(got.Damaged) != 1 || len(got.Missing) != 2 {
		t.Errorf("backup %+v", got)
	}
}

// A picture that nothing names is removed once it is old; one that a draft, an
// issued record, a version put aside or the firm names stays, as does one that
// was kept again meanwhile.
func TestSweep(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	aside := photo(t, w.Store, "aside")
	must(w.Photos.Add(ctx, by, w.spare.ID, aside))
	ok(t, w.Records.DiscardDraft(ctx, by, w.spare.ID, "not needed"))
	logo := must(w.Photos.Keep([]byte("logo")))
	ok(t, w.Settings.SaveFirm(ctx, by, records.Firm{Name: "F", Logo: logo}))
	again := must(w.Photos.Keep([]byte("again")))
	old := time.Now().Add(-48 * time.Hour)
	for _, name := range must(filepath.Glob(filepath.Join(w.Photos.Dir(), "??", "*.jpg"))) {
		ok(t, os.Chtimes(name, old, old))
	}
	must(w.Photos.Keep([]byte("again")))
	fresh := must(w.Photos.Keep([]byte("fresh")))
	for _, want := range []int{1, 0} {
		if n := must(w.Photos.Sweep(ctx, time.Now().Add(-24*time.Hour))); n != want {
			t.Errorf("removed %d, want %d", n, want)
		}
	}
	for name, sum := range map[string]string{"of a draft": w.photo.SHA256, "put aside": aside.SHA256, "logo": logo,
		"kept again": again, "fresh": fresh} {
		if err := w.Photos.Has(sum); err != nil {
			t.Errorf("the picture %s is gone", name)
		}
	}
	if w.Photos.Has(w.loose.SHA256) == nil {
		t.Error("the picture of nothing is still there")
	}
}
