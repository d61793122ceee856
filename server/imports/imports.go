// Package imports takes lists of appliances in: it keeps an uploaded list,
// tries it and counts what it would do, and then writes it, whole or not at
// all. What is read of a list is package exchange's.
package imports

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"sync"

	"gaugebook/records"
	"gaugebook/records/exchange"
	"gaugebook/records/store"
)

// Importer holds the one list that is on its way in. The list outlives the
// request and the session that began it; its file lies in a folder of the
// register's until it is taken in, discarded or the server is started again.
type Importer struct {
	store *store.Store
	log   *slog.Logger
	today func() records.Date
	dir   string
	wake  chan struct{}
	mu    sync.Mutex
	list  *List
}

// New returns an importer without a list. Its Run does the work, each time that
// Waiting says so.
func New(st *store.Store, log *slog.Logger, today func() records.Date) *Importer {
	im := &Importer{store: st, log: log, today: today, dir: filepath.Join(st.Dir(), "uploads"),
		wake: make(chan struct{}, 1)}
	if err := os.RemoveAll(im.dir); err != nil {
		log.Error("lists of before are still there", "error", err)
	}
	im.list = im.interrupted()
	im.writeDown()
	return im
}

// Waiting tells when a list waits for Run.
func (im *Importer) Waiting() <-chan struct{} { return im.wake }

// Current returns a copy of the list, nil for none.
func (im *Importer) Current() *List {
	im.mu.Lock()
	defer im.mu.Unlock()
	if im.list == nil {
		return nil
	}
	l := *im.list
	return &l
}

// change lets fn change the list.
func (im *Importer) change(fn func(*List)) {
	im.mu.Lock()
	defer im.mu.Unlock()
	if im.list != nil {
		stage := im.list.Stage
		fn(im.list)
		if im.list.Stage != stage || im.list.sha256 != "" && stage == Columns {
			im.writeDown()
		}
	}
}

// move takes the list from one stage to the next, or refuses as a Conflict when
// somebody else did.
func (im *Importer) move(from, to Stage, fn func(*List)) error {
	im.mu.Lock()
	defer im.mu.Unlock()
	if im.list == nil || im.list.Stage != from {
		return records.Fail(records.Conflict, "the list has moved on since this page was opened: open it again")
	}
	im.list.Stage = to
	fn(im.list)
	im.writeDown()
	if im.list.Busy() {
		select {
		case im.wake <- struct{}{}:
		default:
		}
	}
	return nil
}

// Accept stores an uploaded file and reads its heading. Errors: Invalid;
// Conflict when there is another list.
func (im *Importer) Accept(by records.Person, name string, in io.Reader) (err error) {
	if err := im.begin(&List{Stage: Columns, By: by, Name: filepath.Base(name)}); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			im.clear()
		}
	}()
	if err := os.MkdirAll(im.dir, 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(im.dir, "list-*.csv")
	if err != nil {
		return err
	}
	defer f.Close()
	hash := sha256.New()
	n, err := io.Copy(io.MultiWriter(f, hash), io.LimitReader(in, exchange.MaxFile+1))
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	if n > exchange.MaxFile {
		return errors.Join(os.Remove(f.Name()), TooLarge())
	}
	t, err := exchange.OpenTable(f)
	var sample [][]string
	for err == nil && len(sample) < 3 {
		var cells []string
		if _, cells, err = t.Next(); err == nil {
			sample = append(sample, cells)
		}
	}
	if err != nil && !errors.Is(err, io.EOF) {
		return errors.Join(err, os.Remove(f.Name()))
	}
	if len(sample) == 0 {
		return errors.Join(os.Remove(f.Name()), &records.Error{Kind: records.Invalid, Field: "file", Label: "List",
			Msg: "there is a heading row and nothing below it", Want: "a row for each appliance"})
	}
	im.change(func(l *List) {
		l.path, l.sha256 = f.Name(), hex.EncodeToString(hash.Sum(nil))
		l.Header, l.Sample, l.Delimiter, l.Encoding = t.Header, sample, t.Delimiter, t.Encoding
		l.Mapping = exchange.Mapping{Column: exchange.Guess(t.Header),
			Default: map[exchange.Target]string{exchange.Tenure: string(records.OwnerOccupier)}}
	})
	return nil
}

// TooLarge is the refusal of a file beyond the limit.
func TooLarge() error {
	return &records.Error{Kind: records.Invalid, Field: "file", Label: "List", Msg: "the file is too large",
		Want: fmt.Sprintf("at most %d MB", exchange.MaxFile>>20)}
}

// begin makes a list the current one; one that is done makes room.
func (im *Importer) begin(l *List) error {
	im.mu.Lock()
	defer im.mu.Unlock()
	if old := im.list; old != nil && old.Stage != Done && old.Stage != Failed {
		return records.Fail(records.Conflict, "“"+old.Name+"” of "+old.By.Name+
			" is being imported: one list at a time; finish or discard it first")
	}
	im.list = l
	return nil
}

// Check has the list tried with the columns given. Kinds: Invalid for columns
// that do not fit; Conflict.
func (im *Importer) Check(m exchange.Mapping, update bool) error {
	l := im.Current()
	if l == nil {
		return records.Fail(records.Conflict, "there is no list to check")
	}
	if err := m.Check(len(l.Header)); err != nil {
		return err
	}
	return im.move(Columns, Checking, func(l *List) {
		l.Mapping, l.Update, l.Bad, l.BadCount, l.Problem, l.Done, l.Rows = m, update, nil, 0, "", 0, 0
	})
}

// Revise goes back to the columns of a checked list. Kinds: Conflict.
func (im *Importer) Revise() error { return im.move(Checked, Columns, func(*List) {}) }

// Write has the checked list taken in. Kinds: Conflict for a list with errors.
func (im *Importer) Write(by records.Person) error {
	if l := im.Current(); l != nil && (l.BadCount > 0 || l.Problem != "") {
		return records.Fail(records.Conflict,
			"the list has errors: nothing of it can be taken in before they are corrected")
	}
	return im.move(Checked, Writing, func(l *List) { l.By, l.Done = by, 0 })
}

// Discard removes the list and its file. Kinds: Conflict while it is being read.
func (im *Importer) Discard() error {
	if l := im.Current(); l != nil && l.Busy() {
		return records.Fail(records.Conflict, "the list is being read: wait until that has finished")
	}
	im.clear()
	return nil
}

func (im *Importer) clear() {
	im.mu.Lock()
	defer im.mu.Unlock()
	if im.list != nil {
		im.dropFile(im.list)
	}
	im.list = nil
	im.writeDown()
}

func (im *Importer) dropFile(l *List) {
	if l.path == "" {
		return
	}
	if err := os.Remove(l.path); err != nil {
		im.log.Error("an uploaded list could not be removed", "error", err)
	}
	l.path = ""
}

// Run checks or writes the list, if that is what it waits for. An error is a
// fault of ours or of the machine; what is wrong with a list is told in the
// list.
func (im *Importer) Run(ctx context.Context) error {
	l := im.Current()
	if l == nil || !l.Busy() {
		return nil
	}
	finished := false
	defer func() { // after a panic the list must not look busy for ever
		if !finished {
			im.finish(l.Stage, store.ListCount{}, l.Order, l.Rows, errBroken)
		}
	}()
	var err error
	var count store.ListCount
	order, rows := l.Order, l.Rows
	if l.Stage == Checking {
		order, rows, count, err = im.check(ctx, *l)
	} else {
		count, err = im.write(ctx, *l)
	}
	finished = true
	im.finish(l.Stage, count, order, rows, err)
	if records.KindOf(err) == records.Internal {
		return err
	}
	return nil
}

var errBroken = errors.New("broken off")

// finish notes what became of a stage.
func (im *Importer) finish(stage Stage, count store.ListCount, order string, rows int, err error) {
	im.change(func(l *List) {
		l.Stage, l.Count, l.Order, l.Rows = Checked, count, order, rows
		if err != nil {
			l.Problem = told(err)
		}
		if stage == Writing {
			l.Stage = Done
			if err != nil {
				l.Stage = Failed
			}
			im.dropFile(l)
		}
	})
}

// told is what a person is told of an error; details of our own faults are for
// the log.
func told(err error) string {
	if records.KindOf(err) == records.Internal {
		return "Something went wrong; nothing was imported. The details are in the server's log."
	}
	return err.Error()
}

// check reads the whole list and counts what it would do; nothing is written.
func (im *Importer) check(ctx context.Context, l List) (order string, rows int, count store.ListCount, err error) {
	f, t, err := l.open()
	if err != nil {
		return "", 0, count, err
	}
	rows, dates, err := exchange.Scan(t, l.Mapping)
	if err = errors.Join(err, f.Close()); err != nil {
		return "", rows, count, err
	}
	if err := dates.Check(); err != nil {
		return "", rows, count, err
	}
	im.change(func(l *List) { l.Rows = rows })
	if f, t, err = l.open(); err != nil {
		return "", rows, count, err
	}
	defer f.Close()
	next := im.items(l, t, func(bad []*exchange.RowError) error {
		im.change(func(l *List) { l.refuse(bad...) })
		return nil
	})
	count, err = im.store.Bulk.TryList(ctx, l.options(), next, func(r *store.ListRefusal) {
		im.change(func(l *List) { l.refuse(l.named(r)) })
	})
	return dates.Order(), rows, count, err
}

func (im *Importer) write(ctx context.Context, l List) (store.ListCount, error) {
	f, t, err := l.open()
	if err != nil {
		return store.ListCount{}, err
	}
	defer f.Close()
	next := im.items(l, t, func(bad []*exchange.RowError) error { return bad[0] })
	return im.store.Bulk.ImportList(ctx, l.By.Actor(), l.options(), next)
}

// items returns the rows of a list as the store takes them. Rows with errors
// go to bad and are passed over unless that returns an error.
func (im *Importer) items(l List, t *exchange.Table, bad func([]*exchange.RowError) error) func() (store.ListItem,
	error) {
	r, seen := exchange.NewReader(t, l.Mapping, im.today()), 0
	return func() (store.ListItem, error) {
		for {
			item, wrong, err := r.Next()
			if err != nil {
				return store.ListItem{}, err
			}
			if seen++; seen%500 == 0 {
				im.change(func(l *List) { l.Done = seen })
			}
			if len(wrong) > 0 {
				if err := bad(wrong); err != nil {
					return store.ListItem{}, err
				}
				continue
			}
			out := store.ListItem{Row: item.Row, Property: item.Property, Contact: item.Contact, Values: item.Values,
				LastWork: item.LastService}
			if duty, ok := item.Duty(); ok {
				out.Duty = &duty
			}
			return out, nil
		}
	}
}
