package records

import (
	"fmt"
	"slices"
	"strings"
)

// OldEntry is something on a record that no field of today asks for: shown as
// it was written, and judged by no rule.
type OldEntry struct {
	Section SectionID // "" for what stood outside the sections
	Field   *Field    // as it was described; by its key where nothing is known of it
	Value   Value
}

// OldEntries returns what the record holds beside the fields of today: retired
// fields, then unknown ones, in the order of the sections; then unknown
// sections; then what stood outside the sections.
func (r *Record) OldEntries() []OldEntry { return r.oldBeside(Sections) }

func (r *Record) oldBeside(sections []*Section) []OldEntry {
	var out []OldEntry
	shown := map[string]bool{}
	add := func(section SectionID, f *Field, key string) {
		if v := r.Values[key]; v.Present() && !shown[key] {
			out = append(out, OldEntry{section, f, v})
		}
		shown[key] = true
	}
	for _, s := range sections {
		for _, f := range s.Fields() {
			shown[f.Key] = true
		}
		for _, f := range s.Retired {
			add(s.ID, f, f.Key)
		}
		for _, key := range sortedKeys(r.Values) {
			if name, ok := strings.CutPrefix(key, string(s.ID)+"."); ok {
				f := unknownField(name)
				f.Key = key
				add(s.ID, f, key)
			}
		}
	}
	for _, key := range sortedKeys(r.Values) {
		add((&Field{Key: key}).Section(), unknownField(key), key)
	}
	return append(out, r.old...)
}

// SetAside moves what today's fields do not accept out of the values into
// Rejected, with what is wrong with it. It is for a draft, whose values may
// have been stored by an older version: what is left is as if it had been
// entered today, and what is set aside waits for a person.
func (r *Record) SetAside() { r.setAsideBy(tableNow) }

func (r *Record) setAsideBy(t *fieldTable) {
	for _, key := range sortedKeys(r.Values) {
		f := t.current[key]
		if f == nil {
			was := t.retired[key]
			if was == nil {
				was = unknownField(key)
			}
			r.setAside(key, r.Values[key], noLongerAsked(was))
			continue
		}
		v, err := f.again(r.Values[key])
		switch {
		case err != nil:
			r.setAside(key, r.Values[key], err)
		case v.Present():
			r.Values[key] = v
		default:
			delete(r.Values, key)
		}
	}
	for _, k := range r.old {
		r.setAside(k.Field.Key, k.Value, noLongerAsked(k.Field))
	}
	r.old, r.read = nil, nil // written by today's program from here on
}

func noLongerAsked(f *Field) *Error {
	return &Error{Kind: Invalid, Field: f.Key, Label: f.Label, Msg: "this is no longer asked for"}
}

func (r *Record) setAside(key string, v Value, err error) {
	delete(r.Values, key)
	if r.Rejected == nil {
		r.Rejected = map[string]Rejection{}
	}
	if was, ok := r.Rejected[key]; ok { // typed later: it stays
		if was.Entry != v.entry() {
			was.Message += ". Saved before: “" + clip(v.entry()) + "”"
		}
		r.Rejected[key] = was
		return
	}
	r.Rejected[key] = NewRejection(v.entry(), err)
}

// again reads a stored value as if it were entered today.
func (f *Field) again(v Value) (Value, error) {
	switch {
	case v.Old():
		return Value{}, f.refuse(v.entry(), "")
	case f.Kind != RowsKind:
		return f.Parse(v.Text())
	}
	now, errs := RowsField{f}.ParseRows(v.entries())
	if len(errs) > 0 {
		return Value{}, errs
	}
	return now, nil
}

// entry is the value as a person would type it, rows as EntryOfRows.
func (v Value) entry() string {
	if v.rows != nil {
		return EntryOfRows(v.entries())
	}
	return v.text
}

func (v Value) entries() []map[string]string {
	out := make([]map[string]string, len(v.rows))
	for i, row := range v.rows {
		out[i] = map[string]string{}
		for name, cell := range row {
			out[i][name] = cell.text
		}
	}
	return out
}

// RejectedKeys returns the keys of the entries that were not accepted, in the
// order of the form, those that no field of today has last.
func (r *Record) RejectedKeys() []string {
	var out []string
	for _, s := range Sections {
		for _, f := range s.Fields() {
			if _, ok := r.Rejected[f.Key]; ok {
				out = append(out, f.Key)
			}
		}
	}
	for _, key := range sortedKeys(r.Rejected) {
		if !slices.Contains(out, key) {
			out = append(out, key)
		}
	}
	return out
}

// NotAccepted returns an error that names every entry that was not accepted,
// or nil.
func (r *Record) NotAccepted() error {
	var errs Errors
	for _, key := range r.RejectedKeys() {
		e := &Error{Kind: NotReady, Field: key, Label: unknownField(key).Label,
			Msg: fmt.Sprintf("“%s” was not accepted: put it right or leave it out", clip(r.Rejected[key].Entry))}
		if f, _ := tableNow.find(key); f != nil {
			e.Label = f.Label
		}
		errs = append(errs, e)
	}
	if errs == nil {
		return nil
	}
	return errs
}
