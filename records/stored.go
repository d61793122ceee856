package records

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"
)

// There are two readers. DecodeRecord is for entry: it refuses whatever
// today's fields do not accept. The ones here are for what was stored or
// sealed: they refuse no record that any version of the program wrote. Values
// stay as written, whatever today's ranges and codes are; what no field of
// today asks for is kept and shown; writing again what was read gives the same
// bytes.

// DecodeStored reads a record's document as it was stored. Only what is no
// JSON object is an error.
func DecodeStored(data []byte) (*Record, error) { return tableNow.decodeStored(data) }

// DecodeStoredValues reads values as they were stored, by section and name.
// Only what is no JSON object is an error.
func DecodeStoredValues(data []byte) (Values, error) {
	if err := mustBeObject(data); err != nil {
		return nil, err
	}
	return (&storedReader{table: tableNow}).values("sections", trimSpace(data)), nil
}

// DecodeIssued reads the canonical JSON of an issued record, of any version
// of the program. The findings are those it was issued with.
// Only what is no JSON object with a record's number in it is an error.
func DecodeIssued(data []byte) (Issued, error) { return tableNow.decodeIssued(data) }

// asRead is a document as it was read, kept where writing it again would give
// other bytes.
type asRead struct{ raw, fresh []byte }

// or returns the document as it was read if nothing was changed since.
func (a *asRead) or(fresh []byte) []byte {
	if a != nil && bytes.Equal(a.fresh, fresh) {
		return a.raw
	}
	return fresh
}

func readAs(raw, fresh []byte) *asRead {
	if bytes.Equal(raw, fresh) {
		return nil
	}
	return &asRead{bytes.Clone(raw), fresh}
}

func (t *fieldTable) decodeStored(data []byte) (*Record, error) {
	if err := mustBeObject(data); err != nil {
		return nil, err
	}
	var d document
	reader := &storedReader{table: t}
	reader.take("", trimSpace(data), reflect.ValueOf(&d).Elem())
	return d.asStored(data, reader.left)
}

func (d document) asStored(raw []byte, left []OldEntry) (*Record, error) {
	r := d.record()
	r.old = left
	fresh, err := encode(r.document())
	if err == nil {
		r.read = readAs(raw, fresh)
	}
	return r, err
}

func (t *fieldTable) decodeIssued(data []byte) (Issued, error) {
	if err := mustBeObject(data); err != nil {
		return Issued{}, err
	}
	var d issuedDocument[document]
	reader := &storedReader{table: t}
	reader.take("", trimSpace(data), reflect.ValueOf(&d).Elem())
	if d.Number == "" {
		return Issued{}, &Error{Kind: Invalid, Field: "number", Label: "Number of the record",
			Want: "an issued record, which has one"}
	}
	for i := range d.Findings {
		d.Findings[i].Fields = t.namesNow(d.Findings[i].Fields)
	}
	for i := range d.Earlier {
		d.Earlier[i].Readings = t.readingsNow(d.Earlier[i].Readings)
	}
	for i, k := range reader.left {
		reader.left[i].Field = unknownField(strings.TrimPrefix(k.Field.Key, "record."))
	}
	r, err := d.Record.asStored(memberOf(data, "record"), reader.left)
	if err != nil {
		return Issued{}, err
	}
	r.Stage, r.Findings = StageIssued, d.Findings
	i := Issued{Number: d.Number, IssuedAt: d.IssuedAt, Record: r, Findings: d.Findings, Standing: d.Standing,
		Duties: d.Duties, Earlier: d.Earlier, IssuedBy: d.IssuedBy, AmendedBy: d.AmendedBy,
		TakenOverFrom: d.TakenOverFrom, Log: d.Log}
	fresh, err := i.fresh()
	i.read = readAs(data, fresh)
	return i, err
}

// namesNow gives keys of renamed fields the names that they have today.
func (t *fieldTable) namesNow(keys []string) []string {
	out := slices.Clone(keys)
	for i, key := range out {
		_, out[i] = t.find(key)
	}
	return out
}

func (t *fieldTable) readingsNow(by map[string]string) map[string]string {
	if by == nil {
		return nil
	}
	out := make(map[string]string, len(by))
	for _, key := range sortedKeys(by) {
		_, now := t.find(key)
		if _, taken := by[now]; taken {
			now = key
		}
		out[now] = by[key]
	}
	return out
}

// storedReader reads JSON that is known to be valid. What does not fit is
// kept, with its path.
type storedReader struct {
	table *fieldTable
	left  []OldEntry
}

func (s *storedReader) keep(path string, raw []byte) {
	s.left = append(s.left, OldEntry{Field: unknownField(path), Value: oldValue(raw)})
}

// take reads raw into v, which is zero, as far as it fits.
func (s *storedReader) take(path string, raw []byte, v reflect.Value) {
	if string(raw) == "null" {
		return
	}
	switch to := v.Addr().Interface().(type) {
	case *Values:
		*to = s.values(path, raw)
		return
	case *time.Time:
		if json.Unmarshal(raw, to) != nil || to.UTC().Year() < 1 || to.UTC().Year() > 9999 {
			*to = time.Time{}
			s.keep(path, raw)
		}
		*to = to.UTC().Truncate(time.Second)
		return
	case *Date:
		if json.Unmarshal(raw, to) != nil {
			*to = Date{}
			s.keep(path, raw)
		}
		return
	}
	switch kind := v.Kind(); {
	case kind == reflect.Struct && raw[0] == '{':
		s.takeStruct(path, raw, v)
	case kind == reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		s.take(path, raw, v.Elem())
	case kind == reflect.Slice && raw[0] == '[' && v.Type().Elem().Kind() == reflect.Struct:
		eachElement(raw, func(i int, element []byte) {
			v.Set(reflect.Append(v, reflect.Zero(v.Type().Elem())))
			s.take(fmt.Sprintf("%s[%d]", path, i), element, v.Index(i))
		})
	case kind != reflect.Struct && json.Unmarshal(raw, v.Addr().Interface()) == nil:
	default:
		v.SetZero()
		s.keep(path, raw)
	}
}

func (s *storedReader) takeStruct(path string, raw []byte, v reflect.Value) {
	seen := map[string]bool{}
	eachMember(raw, func(name string, value []byte) {
		at := strings.TrimPrefix(path+"."+name, ".")
		for i := range v.NumField() {
			tag, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
			if tag == name && !seen[name] {
				seen[name] = true
				s.take(at, value, v.Field(i))
				return
			}
		}
		s.keep(at, value)
	})
}

// values reads the entries of all sections.
func (s *storedReader) values(path string, raw []byte) Values {
	out := Values{}
	if raw[0] != '{' {
		s.keep(path, raw)
		return out
	}
	var renamed []func()
	eachMember(raw, func(id string, section []byte) {
		if section[0] != '{' || strings.Contains(id, ".") {
			s.keep(path+"."+id, section)
			return
		}
		eachMember(section, func(name string, value []byte) {
			key := id + "." + name
			f, now := s.table.find(key)
			put := func() {
				if !out.putStored(f, now, value) && !out.putStored(nil, key, value) {
					s.keep(path+"."+key, value)
				}
			}
			if now != key { // after all that have the name of today
				renamed = append(renamed, put)
				return
			}
			put()
		})
	})
	for _, put := range renamed {
		put()
	}
	return out
}

// putStored adds a value unless there is one of that key already.
func (vs Values) putStored(f *Field, key string, raw []byte) bool {
	if _, taken := vs[key]; taken {
		return false
	}
	if v := storedValue(f, raw); v.Present() {
		vs[key] = v
	}
	return true
}

// storedValue reads one value as it was written. f is nil for a field that is
// not known.
func storedValue(f *Field, raw []byte) Value {
	switch {
	case string(raw) == "null" || string(raw) == `""`:
		return Value{}
	case f == nil:
		return oldValue(raw)
	}
	switch first := raw[0]; {
	case f.Kind == RowsKind:
		if rows, ok := storedRows(f, raw); ok {
			return Value{kind: RowsKind, rows: rows}
		}
	case f.Kind == NumberKind:
		num, err := strconv.ParseFloat(string(raw), 64)
		if err == nil && !math.IsInf(num, 0) && strings.Trim(string(raw), "-.0123456789") == "" {
			return Value{kind: NumberKind, text: string(raw), num: num}
		}
	case f.Kind == FlagKind && (first == 't' || first == 'f'):
		return Value{kind: FlagKind, text: yesOrNo(first == 't')}
	case f.Kind != FlagKind && first == '"':
		return Value{kind: f.Kind, text: unquoted(raw)}
	}
	return oldValue(raw)
}

func storedRows(f *Field, raw []byte) (rows []Row, ok bool) {
	if ok = raw[0] == '['; !ok {
		return nil, false
	}
	eachElement(raw, func(_ int, element []byte) {
		if ok = ok && element[0] == '{'; !ok {
			return
		}
		row := Values{}
		eachMember(element, func(name string, cell []byte) {
			var c *Field
			now := name
			if f != nil {
				c, now = f.column(name)
			}
			ok = row.putStored(c, now, cell) && ok // two of one name: kept whole
		})
		rows = append(rows, Row(row))
	})
	return rows, ok && len(rows) > 0
}

// oldValue holds a value that no field of today can hold: as JSON to be
// written again, as text or rows to be shown.
func oldValue(raw []byte) Value {
	v := Value{kind: oldKind, raw: string(raw)}
	switch raw[0] {
	case '"':
		v.text = unquoted(raw)
	case 't', 'f':
		v.text = yesOrNo(raw[0] == 't')
	case '[':
		if rows, ok := storedRows(nil, raw); ok {
			v.rows = rows
			return v
		}
		v.text = v.raw
	default:
		v.text = v.raw
	}
	return v
}

func yesOrNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

func unquoted(raw []byte) string {
	var s string
	_ = json.Unmarshal(raw, &s) // valid JSON text, as the caller has seen
	return s
}

func mustBeObject(data []byte) error {
	trimmed := bytes.TrimLeft(data, " \t\r\n")
	switch {
	case len(trimmed) == 0:
		return notJSON("it is empty")
	case !json.Valid(data):
		return notJSON("not valid JSON")
	case trimmed[0] != '{':
		return notJSON("not an object in { }")
	}
	return nil
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
