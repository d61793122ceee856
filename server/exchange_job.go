package server

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

// How far an imported list has come.
const (
	listColumns  = "columns"  // uploaded; what the columns hold is to be confirmed
	listChecking = "checking" // being tried
	listChecked  = "checked"  // tried; nothing is written yet
	listWriting  = "writing"
	listDone     = "done"
	listFailed   = "failed"
)

// mostRowErrors is how many errors of a list are kept to be shown.
const mostRowErrors = 10_000

// listJob is one list on its way in. Its fields are read under the lock of
// the desk that it lies on.
type listJob struct {
	stage      string
	by         records.Person
	path, name string
	sha256     string
	header     []string
	sample     [][]string
	delimiter  rune
	encoding   string
	mapping    exchange.Mapping
	update     bool
	order      string // of the dates
	done, rows int
	bad        []*exchange.RowError
	badCount   int
	count      store.ListCount
	problem    string // why the list as a whole was refused
}

func (j *listJob) busy() bool { return j.stage == listChecking || j.stage == listWriting }

// listDesk holds the one list that is on its way in. It outlives the request
// and the session that began it; the file lies in a folder of the register's
// until it is taken in, discarded or the server starts anew.
type listDesk struct {
	store *store.Store
	log   *slog.Logger
	today func() records.Date
	dir   string
	mu    sync.Mutex
	job   *listJob
}

func newListDesk(st *store.Store, log *slog.Logger, today func() records.Date) *listDesk {
	d := &listDesk{store: st, log: log, today: today, dir: filepath.Join(st.Dir(), "uploads")}
	if err := os.RemoveAll(d.dir); err != nil {
		log.Error("lists of before are still there", "error", err)
	}
	return d
}

// look returns a copy of the job, nil for none.
func (d *listDesk) look() *listJob {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.job == nil {
		return nil
	}
	j := *d.job
	return &j
}

// change lets fn change the job.
func (d *listDesk) change(fn func(*listJob)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.job != nil {
		fn(d.job)
	}
}

// move takes the job from one stage to the next, or refuses as a Conflict
// when somebody else did.
func (d *listDesk) move(from, to string, fn func(*listJob)) (listJob, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.job == nil || d.job.stage != from {
		return listJob{}, records.Fail(records.Conflict,
			"the list is no longer where this page had it: look at it again")
	}
	d.job.stage = to
	if fn != nil {
		fn(d.job)
	}
	return *d.job, nil
}

// accept stores an uploaded file and reads its heading. Errors: Invalid;
// Conflict when there is another list.
func (d *listDesk) accept(by records.Person, name string, in io.Reader) (err error) {
	j := &listJob{stage: listColumns, by: by, name: filepath.Base(name)}
	if err := d.put(j); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			d.clear()
		}
	}()
	if err := os.MkdirAll(d.dir, 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(d.dir, "list-*.csv")
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
		return errors.Join(os.Remove(f.Name()), &records.Error{Kind: records.Invalid, Field: "file", Label: "List",
			Msg: "the file is too large", Want: fmt.Sprintf("at most %d MB", exchange.MaxFile>>20)})
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
			Msg: "there is a heading and nothing under it", Want: "a row for each appliance"})
	}
	d.change(func(j *listJob) {
		j.path, j.sha256, j.header, j.sample, j.delimiter, j.encoding = f.Name(), hex.EncodeToString(hash.Sum(nil)),
			t.Header, sample, t.Delimiter, t.Encoding
		j.mapping = exchange.Mapping{Column: exchange.Guess(t.Header),
			Default: map[exchange.Target]string{exchange.Tenure: string(records.OwnerOccupier)}}
	})
	return nil
}

// put lays a new list on the desk; one that is done makes room.
func (d *listDesk) put(j *listJob) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if old := d.job; old != nil && old.stage != listDone && old.stage != listFailed {
		return records.Fail(records.Conflict, "“"+old.name+"” of "+old.by.Name+
			" is on its way in: one list at a time; finish or discard it first")
	}
	d.job = j
	return nil
}

// clear takes the list off the desk, with its file.
func (d *listDesk) clear() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.job != nil {
		d.dropFile(d.job)
	}
	d.job = nil
}

func (d *listDesk) dropFile(j *listJob) {
	if j.path == "" {
		return
	}
	if err := os.Remove(j.path); err != nil {
		d.log.Error("an uploaded list could not be removed", "error", err)
	}
	j.path = ""
}

// try reads the whole list and counts what it would do; nothing is written.
func (d *listDesk) try(ctx context.Context, j listJob) {
	order, rows, count, err := d.tried(ctx, j)
	d.change(func(j *listJob) {
		j.stage, j.order, j.rows, j.count = listChecked, order, rows, count
		if err != nil {
			j.problem = d.said(err)
		}
	})
}

func (d *listDesk) tried(ctx context.Context, j listJob) (order string, rows int, count store.ListCount, err error) {
	f, t, err := j.open()
	if err != nil {
		return "", 0, count, err
	}
	rows, dates, err := exchange.Scan(t, j.mapping)
	if err = errors.Join(err, f.Close()); err != nil {
		return "", rows, count, err
	}
	if err := dates.Check(); err != nil {
		return "", rows, count, err
	}
	d.change(func(j *listJob) { j.rows = rows })
	if f, t, err = j.open(); err != nil {
		return "", rows, count, err
	}
	defer f.Close()
	next := d.items(j, t, func(bad []*exchange.RowError) error {
		d.change(func(j *listJob) { j.refuse(bad...) })
		return nil
	})
	count, err = d.store.Bulk.TryList(ctx, d.options(j), next, func(r *store.ListRefusal) {
		d.change(func(job *listJob) { job.refuse(j.named(r)) })
	})
	return dates.Order(), rows, count, err
}

// write takes the list in, whole or not at all.
func (d *listDesk) write(ctx context.Context, j listJob) {
	count, err := d.written(ctx, j)
	d.change(func(j *listJob) {
		j.stage, j.count = listDone, count
		if err != nil {
			j.stage, j.problem = listFailed, d.said(err)
		}
		d.dropFile(j)
	})
}

func (d *listDesk) written(ctx context.Context, j listJob) (store.ListCount, error) {
	f, t, err := j.open()
	if err != nil {
		return store.ListCount{}, err
	}
	defer f.Close()
	next := d.items(j, t, func(bad []*exchange.RowError) error { return bad[0] })
	return d.store.Bulk.ImportList(ctx, j.by.Actor(), d.options(j), next)
}

func (d *listDesk) options(j listJob) store.ListOptions {
	return store.ListOptions{Source: j.name, SHA256: j.sha256, Update: j.update}
}

// said is what a person is told of an error; details of our own faults are
// for the log.
func (d *listDesk) said(err error) string {
	if records.KindOf(err) == records.Internal {
		d.log.Error("imported list", "error", err)
		return "Something went wrong here; nothing of the list was taken in. The details are in the server's log."
	}
	return err.Error()
}

func (j *listJob) open() (*os.File, *exchange.Table, error) {
	f, err := os.Open(j.path)
	if err != nil {
		return nil, nil, err
	}
	t, err := exchange.OpenTable(f)
	if err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return f, t, nil
}

// items returns the rows of a list as the store takes them. Rows with errors
// go to bad and are passed over unless that returns an error.
func (d *listDesk) items(j listJob, t *exchange.Table, bad func([]*exchange.RowError) error) func() (store.ListItem,
	error) {
	r, seen := exchange.NewReader(t, j.mapping, d.today()), 0
	return func() (store.ListItem, error) {
		for {
			item, wrong, err := r.Next()
			if err != nil {
				return store.ListItem{}, err
			}
			if seen++; seen%500 == 0 {
				d.change(func(j *listJob) { j.done = seen })
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

func (j *listJob) refuse(bad ...*exchange.RowError) {
	j.badCount += len(bad)
	j.bad = append(j.bad, bad[:min(len(bad), mostRowErrors-len(j.bad))]...)
}

// named puts a refusal of the store to a column of the list.
func (j *listJob) named(r *store.ListRefusal) *exchange.RowError {
	target := map[string]exchange.Target{"appliance": exchange.Serial, "contact": exchange.Name}[r.Column]
	name := r.Column
	if col, ok := j.mapping.Column[target]; ok && j.header[col] != "" {
		name = j.header[col]
	}
	return &exchange.RowError{Row: r.Row, Column: name, Err: r.Err}
}
