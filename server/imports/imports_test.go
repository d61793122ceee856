package imports_test

import (
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/exchange"
	"gaugebook/records/store/storetest"
	"gaugebook/server/imports"
)

const list = "Address,Town,Postcode,Nation,Serial,Appliance\n" +
	"1 Quillwater Lane,Ambershaw,AB12 3XY,England,EH-1,Combination boiler\n"

func importer(t *testing.T) (*imports.Importer, string) {
	t.Helper()
	st := storetest.MustOpen(t)
	today := func() records.Date { return records.DateOf(storetest.Start) }
	return imports.New(st, slog.New(slog.DiscardHandler), today), filepath.Join(st.Dir(), "uploads")
}

var someone = records.Person{ID: "p-1", Name: "Piers Applegarth", Role: records.RoleOffice}

// A fault of the machine is an error of Run, for the log and the readiness
// check. The list does not stay busy, and its owner is told no details.
func TestFaultWhileChecking(t *testing.T) {
	im, dir := importer(t)
	if err := im.Accept(someone, "folder/list.csv", strings.NewReader(list)); err != nil {
		t.Fatal(err)
	}
	l := im.Current()
	if l.Stage != imports.Columns || l.Name != "list.csv" || len(l.Header) != 6 || len(l.Sample) != 1 {
		t.Fatalf("%+v", l)
	}
	if err := im.Run(t.Context()); err != nil {
		t.Fatal("nothing to do:", err)
	}
	if err := im.Check(l.Mapping, false); err != nil {
		t.Fatal(err)
	}
	select {
	case <-im.Waiting():
	default:
		t.Error("nobody is told that a list waits")
	}
	if err := im.Discard(); records.KindOf(err) != records.Conflict {
		t.Errorf("discarded while it is read: %v", err)
	}
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if err := im.Run(t.Context()); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("run: %v", err)
	}
	l = im.Current()
	if l.Stage != imports.Checked || !strings.HasPrefix(l.Problem, "Something went wrong; nothing was imported") {
		t.Errorf("%+v", l)
	}
	if err := im.Write(someone); records.KindOf(err) != records.Conflict {
		t.Errorf("written in spite of it: %v", err)
	}
}

// After a panic, which the group of workers takes care of, the list can be
// discarded.
func TestPanicWhileChecking(t *testing.T) {
	im := imports.New(storetest.MustOpen(t), slog.New(slog.DiscardHandler), func() records.Date {
		panic("no calendar")
	})
	if err := im.Accept(someone, "list.csv", strings.NewReader(list)); err != nil {
		t.Fatal(err)
	}
	m := im.Current().Mapping
	m.Default[exchange.Kind] = records.KindCombination
	if err := im.Check(m, false); err != nil {
		t.Fatal(err)
	}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the panic was kept from the group")
			}
		}()
		_ = im.Run(t.Context())
	}()
	if l := im.Current(); l.Stage != imports.Checked || l.Problem == "" {
		t.Errorf("%+v", l)
	}
	if err := im.Discard(); err != nil {
		t.Error(err)
	}
}

// One list at a time, from stage to stage; nobody skips one.
func TestStages(t *testing.T) {
	im, dir := importer(t)
	if im.Current() != nil || im.Check(imports.List{}.Mapping, false) == nil || im.Revise() == nil ||
		im.Write(someone) == nil {
		t.Error("there is no list, but something was done with it")
	}
	for name, c := range map[string]struct{ text, says string }{
		"blank": {"", ""}, "heading.csv": {"Address,Town\n", "nothing below it"},
	} {
		if err := im.Accept(someone, name, strings.NewReader(c.text)); records.KindOf(err) != records.Invalid ||
			!strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := im.Accept(someone, "list.csv", strings.NewReader(list)); err != nil {
		t.Fatal(err)
	}
	if err := im.Accept(someone, "other.csv", strings.NewReader(list)); records.KindOf(err) != records.Conflict ||
		!strings.Contains(err.Error(), "“list.csv” of Piers Applegarth") {
		t.Errorf("a second list: %v", err)
	}
	if err := im.Write(someone); records.KindOf(err) != records.Conflict {
		t.Errorf("written unchecked: %v", err)
	}
	if err := im.Discard(); err != nil {
		t.Fatal(err)
	}
	if files, _ := filepath.Glob(filepath.Join(dir, "*")); len(files) != 0 || im.Current() != nil {
		t.Errorf("after it was discarded: %q", files)
	}
}

// A server that is stopped says, at its next start, what became of the list that
// was on its way in.
func TestListOutlivesTheServer(t *testing.T) {
	st := storetest.MustOpen(t)
	today := func() records.Date { return records.DateOf(storetest.Start) }
	start := func() *imports.Importer { return imports.New(st, slog.New(slog.DiscardHandler), today) }
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	if start().Current() != nil {
		t.Fatal("there is a list already")
	}
	im := start()
	must(im.Accept(someone, "list.csv", strings.NewReader(list)))
	im = start()
	l := im.Current()
	if l == nil || l.Stage != imports.Failed || l.Name != "list.csv" || l.By.Name != someone.Name ||
		!strings.Contains(l.Problem, "stopped before this list was imported") {
		t.Fatalf("uploaded, and after a start %+v", l)
	}
	if l := start().Current(); l != nil {
		t.Errorf("told again: %+v", l)
	}
	// It was being written; once it came to its end, once it did not.
	for _, finishes := range []bool{false, true} {
		im = start()
		must(im.Accept(someone, "list.csv", strings.NewReader(list)))
		must(im.Check(im.Current().Mapping, false))
		must(im.Run(t.Context()))
		must(im.Write(someone))
		noted, err := os.ReadFile(filepath.Join(st.Dir(), "upload.json"))
		must(err)
		if finishes {
			must(im.Run(t.Context()))
			// Killed between the commit and the note of it.
			must(os.WriteFile(filepath.Join(st.Dir(), "upload.json"), noted, 0o600))
		}
		l = start().Current()
		if finishes && (l == nil || l.Stage != imports.Done || l.Count.Appliances != 1) ||
			!finishes && (l == nil || l.Stage != imports.Failed) {
			t.Errorf("finished %v, and after a start %+v", finishes, l)
		}
	}
}
