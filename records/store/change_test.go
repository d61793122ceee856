package store_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gaugebook/records/store/storetest"
)

// change is one way in which the register changes.
type change struct {
	name string
	do   func(context.Context, *world) error
	what string // the newest entry of the audit log afterwards; "" for none
	by   string // its actor, if it is not the fixtures'
}

var by = storetest.Actor

// errOf drops the value that a call returns.
func errOf[T any](_ T, err error) error { return err }

// changes are all of them, but for those of whole registers.
var changes = slices.Concat(settingChanges, peopleChanges, secondChanges, registerChanges, recordChanges, chaseChanges,
	messageChanges)

// Every change is in the audit log, with what was done and by whom, or is of a
// kind that is not logged.
func TestEveryChangeIsLogged(t *testing.T) {
	t.Parallel()
	for _, c := range changes {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			before, _, err := w.Audit.Head(ctx)
			ok(t, err)
			was := read(t, w.path)
			if err := c.do(ctx, w); err != nil {
				t.Fatal(err)
			}
			if len(read(t, w.path).changed(was)) == 0 {
				t.Error("nothing changed")
			}
			log, err := w.Audit.Entries(ctx, "", 0, 1)
			ok(t, err)
			switch {
			case c.what == "" && log[0].Seq != before:
				t.Errorf("logged %q", log[0].What)
			case c.what == "":
			case log[0].Seq <= before:
				t.Error("not logged")
			case log[0].What != c.what || c.by == "" && log[0].Actor != storetest.Actor || c.by != "" &&
				!strings.EqualFold(log[0].Actor.Name, c.by):
				t.Errorf("logged %q by %+v, want %q by %q", log[0].What, log[0].Actor, c.what, c.by)
			}
			wholeRegister(t, w.Store)
		})
	}
}

// breakable makes every table of a file refuse what the table broken names, until
// it is mended.
func breakable(t *testing.T, path string) (refuse func(table string), mend func()) {
	t.Helper()
	db := behind(t, path)
	exec := func(query string, args ...any) {
		t.Helper()
		if _, err := db.Exec(query, args...); err != nil {
			t.Fatalf("%s: %v", query, err)
		}
	}
	text, undo := "BEGIN; CREATE TABLE broken (name TEXT);", "BEGIN;"
	for name := range read(t, path) {
		if strings.HasPrefix(name, "sqlite_") {
			continue
		}
		for _, event := range []string{"INSERT", "UPDATE", "DELETE"} {
			text += fmt.Sprintf(`CREATE TRIGGER break_%s_%s BEFORE %[2]s ON %[1]s
				WHEN EXISTS (SELECT 1 FROM broken WHERE name = '%[1]s')
				BEGIN SELECT RAISE(ABORT, 'injected'); END;`, name, event)
			undo += fmt.Sprintf("DROP TRIGGER break_%s_%s;", name, event)
		}
	}
	exec(text + "COMMIT")
	return func(table string) {
		t.Helper()
		exec("DELETE FROM broken")
		if table != "" {
			exec("INSERT INTO broken VALUES (?)", table)
		}
	}, func() { t.Helper(); exec(undo + "DROP TABLE broken; COMMIT") }
}

// A change that fails at any of the tables that it writes to, or whose request
// ends, leaves everything as it was; tried once more, it goes through.
func TestNothingHalfWritten(t *testing.T) {
	t.Parallel()
	for _, c := range changes {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			trial := newWorld(t)
			before := read(t, trial.path)
			if err := c.do(ctx, trial); err != nil {
				t.Fatal(err)
			}
			touched := slices.DeleteFunc(read(t, trial.path).changed(before), func(table string) bool {
				return strings.HasPrefix(table, "sqlite_") // which follows the audit log
			})

			w := newWorld(t)
			if c.name == "amendment issued" { // begun before it is issued
				_ = c.do(gone(), w)
			}
			refuse, mend := breakable(t, w.path)
			look := reader(t, w.path)
			was := look()
			for _, table := range touched {
				refuse(table)
				now := look()
				err := c.do(ctx, w)
				if err == nil || !strings.Contains(err.Error(), "injected") {
					t.Errorf("%s fails, and the change says %v", table, err)
				}
				if left := look().changed(now); len(left) > 0 {
					t.Errorf("%s failed, and %v changed", table, left)
				}
			}
			refuse("")
			if err := c.do(gone(), w); !errors.Is(err, context.Canceled) {
				t.Errorf("the request ended, and the change says %v", err)
			}
			if left := look().changed(was); len(left) > 1 || len(left) == 1 && left[0] != "broken" {
				t.Errorf("the request ended, and %v changed", left)
			}
			if err := c.do(ctx, w); err != nil {
				t.Errorf("tried once more: %v", err)
			}
			mend()
			wholeRegister(t, w.Store)
		})
	}
}

// gone is the context of a request that has ended.
func gone() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}

// The list of changes is whole: no exported method that takes an actor or
// writes is missing. Those of whole registers have tests of their own.
func TestChangesAreAllListed(t *testing.T) {
	t.Parallel()
	source := ""
	for _, path := range must(filepath.Glob("change_*test.go")) {
		source += string(must(os.ReadFile(path)))
	}
	for _, method := range writingMethods(t) {
		door, name, _ := strings.Cut(method, ".")
		if !strings.Contains(source, "."+door+"."+name+"(") && !strings.Contains(source, ")."+name+"(") {
			t.Errorf("%s is not among the changes", method)
		}
	}
}
