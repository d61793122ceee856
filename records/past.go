package records

import "strings"

// Past is what a field of today has been: what an older record may hold of it.
// The strict reader takes none of it, the reader of what was stored all of it.
type Past struct {
	Keys    []string // keys that it had, section.name; of a column, bare names
	Choices []Choice // codes that are no longer offered
	Columns []*Field // columns that are no longer asked for
}

// fieldTable finds fields by key: those asked for today and those of before.
type fieldTable struct {
	current map[string]*Field
	renamed map[string]*Field // fields of today, by keys that they had
	retired map[string]*Field
}

// tableNow is the table of Sections.
var tableNow = newFieldTable(Sections)

// newFieldTable reads the sections, and gives each field its past.
func newFieldTable(sections []*Section) *fieldTable {
	t := &fieldTable{current: map[string]*Field{}, renamed: map[string]*Field{},
		retired: map[string]*Field{}}
	for _, s := range sections {
		for _, f := range s.Fields() {
			t.current[f.Key] = f
			f.past = s.Past[f.Key]
			for _, key := range f.past.Keys {
				t.renamed[key] = f
			}
			for _, c := range f.Columns {
				c.past = s.Past[f.Key+"."+c.Key]
			}
		}
		for _, f := range s.Retired {
			t.retired[f.Key] = f
		}
	}
	return t
}

// find returns the field that a stored key is of and its key today; nil for a
// key that no version of the table had.
func (t *fieldTable) find(key string) (*Field, string) {
	if f := t.current[key]; f != nil {
		return f, key
	}
	if f := t.renamed[key]; f != nil {
		return f, f.Key
	}
	return t.retired[key], key
}

// column returns the column that a stored name is of and its name today.
func (f *Field) column(name string) (*Field, string) {
	if c := f.Column(name); c != nil {
		return c, name
	}
	for _, c := range f.Columns {
		for _, was := range c.past.Keys {
			if was == name {
				return c, c.Key
			}
		}
	}
	for _, c := range f.past.Columns {
		if c.Key == name {
			return c, name
		}
	}
	return nil, name
}

// ColumnsIn returns the columns that hold anything in rows: those of today in
// their order, then any that are no longer asked for.
func (f *Field) ColumnsIn(rows []Row) []*Field {
	held := map[string]bool{}
	for _, r := range rows {
		for name, v := range r {
			held[name] = held[name] || v.Present()
		}
	}
	var out []*Field
	for _, c := range append(append([]*Field{}, f.Columns...), f.past.Columns...) {
		if held[c.Key] {
			out = append(out, c)
			delete(held, c.Key)
		}
	}
	for _, name := range sortedKeys(held) {
		if held[name] {
			out = append(out, unknownField(name))
		}
	}
	return out
}

// unknownField describes a key that no version of the table had, by the words
// in it.
func unknownField(key string) *Field {
	words := strings.NewReplacer("_", " ", ".", ": ").Replace(key)
	if words != "" {
		words = UpperFirst(words)
	}
	return &Field{Key: key, Label: words, Kind: TextKind}
}

// goneError says of a key that is refused what became of its field.
func (t *fieldTable) goneError(key string) *Error {
	e := &Error{Kind: Invalid, Field: clip(key), Msg: "there is no such field"}
	if f, now := t.find(key); f != nil {
		e = noLongerAsked(f)
		if now != key {
			e = &Error{Kind: Invalid, Field: key, Label: f.Label, Msg: "this field has been renamed",
				Want: "it as " + now}
		}
	}
	return e
}
