package engineer

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// stalePage shows two versions of a section, field by field: what the person
// typed and what was saved meanwhile.
type stalePage struct {
	web.Base
	Record      *records.Record
	Section     *records.Section
	Saved       string
	Differences []difference
}

type difference struct {
	Key, Label  string
	Mine, Other string
	Hidden      []hidden // the typed entries, to be sent again
}

type hidden struct{ Name, Value string }

// minePrefix marks the names of entries that a person typed but that are not
// saved yet.
const minePrefix = "mine."

func (s Sections) showStale(c echo.Context, sec *records.Section, current *records.Record, in app.Entries) error {
	data := stalePage{Base: s.Base(c, "Two versions"), Record: current, Section: sec, Saved: s.Clock(current.UpdatedAt)}
	for _, f := range sec.Fields() {
		if d, ok := differenceOf(f, current.Values[f.Key], in); ok {
			data.Differences = append(data.Differences, d)
		}
	}
	return s.Page(c, http.StatusConflict, "stale", data)
}

func differenceOf(f *records.Field, saved records.Value, in app.Entries) (difference, bool) {
	d := difference{Key: f.Key, Label: f.Label, Other: plain(f, saved)}
	if f.Kind == records.RowsKind {
		rows, sent := in.Rows[f.Key]
		v, errs := records.RowsField{Field: f}.ParseRows(rows)
		if !sent || len(errs) == 0 && v.Equal(saved) {
			return d, false
		}
		d.Mine = plainRows(f, rows)
		for i, row := range rows {
			for _, col := range f.Columns {
				name := fmt.Sprintf("%s[%d].%s", f.Key, i, col.Key)
				d.Hidden = append(d.Hidden, hidden{minePrefix + name, row[col.Key]})
			}
		}
		return d, true
	}
	entry, sent := in.Fields[f.Key]
	v, err := f.Parse(entry)
	if !sent || err == nil && v.Equal(saved) {
		return d, false
	}
	d.Mine = plainEntry(f, entry)
	d.Hidden = []hidden{{minePrefix + f.Key, entry}}
	return d, true
}

func plain(f *records.Field, v records.Value) string {
	switch {
	case v.Old() && len(v.Rows()) == 0:
		return v.Text()
	case f.Kind != records.RowsKind && !v.Old():
		return plainEntry(f, v.Text())
	}
	f = &records.Field{Columns: f.ColumnsIn(v.Rows())}
	rows := make([]map[string]string, len(v.Rows()))
	for i, row := range v.Rows() {
		rows[i] = map[string]string{}
		for name, cell := range row {
			rows[i][name] = cell.Text()
		}
	}
	return plainRows(f, rows)
}

// plainEntry writes an entry as a person would read it.
func plainEntry(f *records.Field, entry string) string {
	switch {
	case strings.TrimSpace(entry) == "":
		return "nothing"
	case f.Kind == records.StrokesKind:
		return "a signature"
	case f.Kind == records.ChoiceKind:
		return f.ChoiceLabel(entry)
	case f.Unit != "":
		return entry + " " + f.Unit
	}
	return entry
}

func plainRows(f *records.Field, rows []map[string]string) string {
	var lines []string
	for i, row := range rows {
		var cells []string
		for _, col := range f.Columns {
			if row[col.Key] != "" {
				cells = append(cells, col.Label+" "+plainEntry(col, row[col.Key]))
			}
		}
		lines = append(lines, fmt.Sprintf("%d: %s", i+1, strings.Join(cells, ", ")))
	}
	if lines == nil {
		return "nothing"
	}
	return strings.Join(lines, "; ")
}

// Choose saves the entries that a person kept of their own version. The rest
// stands as it was saved.
func (s Sections) Choose(c echo.Context) error {
	sec, err := sectionOf(c)
	if err != nil {
		return err
	}
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	mine := url.Values{"revision": {posted.Get("revision")}}
	for _, f := range sec.Fields() {
		if posted.Get("keep."+f.Key) != "mine" {
			continue
		}
		for name, values := range posted {
			own, ok := strings.CutPrefix(name, minePrefix)
			if ok && (own == f.Key || strings.HasPrefix(own, f.Key+"[")) {
				mine[own] = values
			}
		}
		if f.Kind == records.RowsKind && !posted.Has(minePrefix+firstCell(f)) {
			mine.Set(firstCell(f), "") // kept: no rows
		}
	}
	return s.saveEntries(c, sec, mine)
}

func firstCell(f *records.Field) string { return f.Key + "[0]." + f.Columns[0].Key }
