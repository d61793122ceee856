package engineer

import (
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/web"
	"gaugebook/templates"
)

// sectionForm is what the form of one section shows. It is made from the
// section's description alone, so a new section needs no code here.
type sectionForm struct {
	Section *records.Section
	Exempt  string // why the section does not apply, or ""
	Groups  []groupForm
	// Loose is the findings of the section that read none of its fields.
	Loose []records.Finding
}

type groupForm struct {
	Title, Intro string
	Fields       []*fieldForm
}

// fieldForm is one field as shown: its description, what stands in it and
// what was made of it.
type fieldForm struct {
	*records.Field
	ID, Name string
	Entry    string
	Error    string
	Options  []web.Option
	Radios   bool
	Rows     []rowForm
	Blank    rowForm // copied by script for one more row
	When     *whenForm
	Findings []records.Finding
}

type rowForm struct {
	Title string
	Cells []*fieldForm
}

type whenForm struct{ Key, In, Text string }

// blankRows is how many empty rows follow the filled ones, so that rows can
// be added without script.
const blankRows = 2

// mostRadios is how many choices are shown as targets of their own; more go
// into a list.
const mostRadios = 5

// formOf builds the form of a section for a record. Instruments are those of
// the firm that a field may name.
func formOf(s *records.Section, r *records.Record, instruments []records.Instrument) sectionForm {
	form := sectionForm{Section: s, Exempt: s.ExemptReason(r.Values)}
	at := map[string]*fieldForm{}
	for _, g := range s.Groups {
		group := groupForm{Title: g.Title, Intro: g.Intro}
		for _, f := range g.Fields {
			ff := fieldFormOf(f, r, instruments)
			at[f.Key] = ff
			group.Fields = append(group.Fields, ff)
		}
		form.Groups = append(form.Groups, group)
	}
	for _, f := range r.Findings {
		if f.Section != s.ID {
			continue
		}
		if place := placeOf(s, f, r); place != nil {
			at[place.Key].Findings = append(at[place.Key].Findings, f)
		} else {
			form.Loose = append(form.Loose, f)
		}
	}
	return form
}

// placeOf returns the field of the section that a finding stands beside: of
// those it reads, the one that the fewest findings read, since that is what
// this one is about. Readings come before answers; between equals the rule's
// own order decides. It returns nil when no field fits, and for a finding that
// reads most of the section's readings: that one is about the whole of it.
func placeOf(s *records.Section, f records.Finding, r *records.Record) *records.Field {
	var best *records.Field
	read, numbers := 0, 0
	for _, field := range s.Fields() {
		if field.Kind == records.NumberKind {
			numbers++
		}
	}
	for _, key := range f.Fields {
		field := records.FieldByKey(key)
		if field == nil || field.Section() != s.ID {
			continue
		}
		if field.Kind == records.NumberKind {
			read++
		}
		if best == nil || closer(field, best, s, r) {
			best = field
		}
	}
	if read > 4 && 3*read > 2*numbers {
		return nil
	}
	return best
}

func closer(a, b *records.Field, s *records.Section, r *records.Record) bool {
	if as, bs := r.Values.Shown(a), r.Values.Shown(b); as != bs {
		return as
	}
	if an, bn := a.Kind == records.NumberKind, b.Kind == records.NumberKind; an != bn {
		return an
	}
	return readers(a.Key, s, r.Findings) < readers(b.Key, s, r.Findings)
}

// readers counts the findings of the section that read a field.
func readers(key string, s *records.Section, fs []records.Finding) int {
	n := 0
	for _, f := range fs {
		if f.Section == s.ID && slices.Contains(f.Fields, key) {
			n++
		}
	}
	return n
}

func fieldFormOf(f *records.Field, r *records.Record, instruments []records.Instrument) *fieldForm {
	v := r.Values[f.Key]
	ff := &fieldForm{Field: f, ID: templates.Slug(f.Key), Name: f.Key, Entry: v.Text()}
	if no, ok := r.Rejected[f.Key]; ok {
		ff.Entry, ff.Error = no.Entry, no.Message
	}
	if f.When != nil {
		ff.When = whenFormOf(f.When)
	}
	switch f.Kind {
	case records.RowsKind:
		ff.Entry = ""
		ff.Rows, ff.Blank = rowsFormOf(f, v.Rows(), r.Rejected[f.Key])
	case records.InstrumentKind:
		ff.Options = instrumentOptions(f, instruments, r, ff.Entry)
	default:
		ff.Options, ff.Radios = choiceOptions(f, ff.Entry)
	}
	return ff
}

func whenFormOf(c *records.ShowIf) *whenForm {
	on := records.FieldByKey(c.Key)
	w := &whenForm{Key: c.Key, In: strings.Join(c.In, " "), Text: c.Key}
	if on != nil {
		labels := make([]string, len(c.In))
		for i, code := range c.In {
			labels[i] = "“" + on.ChoiceLabel(code) + "”"
		}
		w.Text = fmt.Sprintf("“%s” is %s", on.Label, strings.Join(labels, " or "))
	}
	return w
}

// choiceOptions lists the answers of a choice or a yes-or-no field, the blank
// one included: a wrong tap must be possible to take back.
func choiceOptions(f *records.Field, entry string) (options []web.Option, radios bool) {
	choices := f.Choices
	switch f.Kind {
	case records.FlagKind:
		choices = []records.Choice{{Code: "yes", Label: "Yes"}, {Code: "no", Label: "No"}}
	case records.ChoiceKind:
	default:
		return nil, false
	}
	known := entry == ""
	for _, c := range choices {
		options = append(options, web.Option{Code: c.Code, Label: c.Label, Chosen: c.Code == entry})
		known = known || c.Code == entry
	}
	if len(choices) <= mostRadios {
		blank := "Not answered"
		if f.Kind == records.FlagKind {
			blank = "Blank" // three targets share one line
		}
		return append(options, web.Option{Label: blank, Chosen: !known || entry == ""}), true
	}
	return append([]web.Option{{Label: "Not answered", Chosen: !known || entry == ""}}, options...), false
}

// instrumentOptions lists the firm's instruments that fit, and the one that
// the record already names even if the firm no longer has it.
func instrumentOptions(f *records.Field, instruments []records.Instrument, r *records.Record,
	entry string) []web.Option {
	options := []web.Option{{Label: "Not chosen", Chosen: entry == ""}}
	known := entry == ""
	for _, i := range instruments {
		if !wanted(f, i.Kind) {
			continue
		}
		label := records.UpperFirst(i.Name())
		if due := i.CalibrationDue; !due.IsZero() {
			label += ", calibrated until " + due.Long()
		}
		options = append(options, web.Option{Code: i.ID, Label: label, Chosen: i.ID == entry})
		known = known || i.ID == entry
	}
	if !known {
		label := entry
		if i, ok := r.Instrument(entry); ok {
			label = records.UpperFirst(i.Name())
		}
		options = append(options, web.Option{Code: entry, Label: label, Chosen: true})
	}
	return options
}

func wanted(f *records.Field, kind string) bool {
	for _, w := range f.Wants {
		if w == kind {
			return true
		}
	}
	return len(f.Wants) == 0
}

// rowsFormOf shows the rows as saved, or those that were refused with each
// error in its cell, and after them blank ones.
func rowsFormOf(f *records.Field, saved []records.Row, no records.Rejection) ([]rowForm, rowForm) {
	entries := make([]map[string]string, len(saved))
	for i, row := range saved {
		entries[i] = map[string]string{}
		for name, v := range row {
			entries[i][name] = v.Text()
		}
	}
	wrong := map[string]string{}
	if refused := rowsOfEntry(no.Entry); refused != nil {
		entries = refused
		_, errs := records.RowsField{Field: f}.ParseRows(entries)
		for _, e := range errs {
			wrong[e.Field] = e.Error()
		}
	}
	var out []rowForm
	for i := range max(len(entries), min(len(entries)+blankRows, f.MaxRows)) {
		var row map[string]string
		if i < len(entries) {
			row = entries[i]
		}
		out = append(out, rowFormOf(f, strconv.Itoa(i), row, wrong))
	}
	return out, rowFormOf(f, "#", nil, nil)
}

func rowFormOf(f *records.Field, index string, row map[string]string, wrong map[string]string) rowForm {
	form := rowForm{Title: "Row #"}
	if i, err := strconv.Atoi(index); err == nil {
		form.Title = "Row " + strconv.Itoa(i+1)
	}
	for _, col := range f.Columns {
		name := fmt.Sprintf("%s[%s].%s", f.Key, index, col.Key)
		cell := &fieldForm{Field: col, ID: templates.Slug(name), Name: name, Entry: row[col.Key], Error: wrong[name]}
		cell.Options, _ = choiceOptions(col, cell.Entry)
		form.Cells = append(form.Cells, cell)
	}
	return form
}

// rowsOfEntry reads what records.EntryOfRows wrote; nil when it was not rows
// or was cut short.
func rowsOfEntry(entry string) []map[string]string {
	var rows []map[string]string
	if json.Unmarshal([]byte(entry), &rows) != nil {
		return nil
	}
	return rows
}

// entriesOf reads a section's entries from a posted form, as typed. Fields
// that the form did not send are left as they are; names that the section
// does not have are not looked at.
func entriesOf(s *records.Section, posted url.Values) app.Entries {
	e := app.Entries{Fields: map[string]string{}, Rows: map[string][]map[string]string{}}
	for _, f := range s.Fields() {
		if f.Kind == records.RowsKind {
			if rows := rowsOf(f, posted); rows != nil {
				e.Rows[f.Key] = rows
			}
		} else if posted.Has(f.Key) {
			e.Fields[f.Key] = posted.Get(f.Key)
		}
	}
	return e
}

// rowsOf gathers a rows field's cells by row. Blank rows between filled ones
// close up; a field of which nothing was sent is nil.
func rowsOf(f *records.Field, posted url.Values) []map[string]string {
	sent := false
	var rows []map[string]string
	for i := range f.MaxRows + 2*blankRows {
		row, blank := map[string]string{}, true
		for _, col := range f.Columns {
			name := fmt.Sprintf("%s[%d].%s", f.Key, i, col.Key)
			if !posted.Has(name) {
				continue
			}
			sent = true
			row[col.Key] = posted.Get(name)
			blank = blank && strings.TrimSpace(row[col.Key]) == ""
		}
		if !blank {
			rows = append(rows, row)
		}
	}
	if sent && rows == nil {
		rows = []map[string]string{}
	}
	return rows
}
