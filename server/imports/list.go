package imports

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"

	"gaugebook/records"
	"gaugebook/records/exchange"
	"gaugebook/records/store"
)

// Stage is how far an imported list has come.
type Stage string

// The stages.
const (
	Columns  Stage = "columns"  // uploaded; what the columns hold is to be confirmed
	Checking Stage = "checking" // being tried
	Checked  Stage = "checked"  // tried; nothing is written yet
	Writing  Stage = "writing"
	Done     Stage = "done"
	Failed   Stage = "failed"
)

// mostRowErrors is how many errors of a list are kept to be shown.
const mostRowErrors = 10_000

// List is one list on its way in.
type List struct {
	Stage      Stage
	By         records.Person
	Name       string // of the file
	Header     []string
	Sample     [][]string // its first rows
	Delimiter  rune
	Encoding   string
	Mapping    exchange.Mapping
	Update     bool // appliances on file are changed to what the list says
	Order      string
	Done, Rows int
	Bad        []*exchange.RowError // the first of BadCount
	BadCount   int
	Count      store.ListCount
	Problem    string // why the list as a whole was refused

	path, sha256 string
}

// Busy reports whether the list is being read.
func (l *List) Busy() bool { return l.Stage == Checking || l.Stage == Writing }

// WriteErrors writes every error that was kept as a CSV list of its own.
func (l *List) WriteErrors(out io.Writer) error {
	w := csv.NewWriter(out)
	w.UseCRLF = true
	rows := [][]string{{"Row", "Column", "What is wrong"}}
	for _, e := range l.Bad {
		rows = append(rows, []string{strconv.Itoa(e.Row), exchange.Guard(e.Column), exchange.Guard(e.Err.Error())})
	}
	if more := l.BadCount - len(l.Bad); more > 0 {
		rows = append(rows, []string{"", "", fmt.Sprintf("%d more errors are not listed", more)})
	}
	return w.WriteAll(rows)
}

func (l *List) options() store.ListOptions {
	return store.ListOptions{Source: l.Name, SHA256: l.sha256, Update: l.Update}
}

func (l *List) open() (*os.File, *exchange.Table, error) {
	f, err := os.Open(l.path)
	if err != nil {
		return nil, nil, err
	}
	t, err := exchange.OpenTable(f)
	if err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return f, t, nil
}

func (l *List) refuse(bad ...*exchange.RowError) {
	l.BadCount += len(bad)
	l.Bad = append(l.Bad, bad[:min(len(bad), mostRowErrors-len(l.Bad))]...)
}

// named puts a refusal of the store to a column of the list.
func (l *List) named(r *store.ListRefusal) *exchange.RowError {
	target := map[string]exchange.Target{"appliance": exchange.Serial, "contact": exchange.Name}[r.Column]
	name := r.Column
	if col, ok := l.Mapping.Column[target]; ok && l.Header[col] != "" {
		name = l.Header[col]
	}
	return &exchange.RowError{Row: r.Row, Column: name, Err: r.Err}
}
