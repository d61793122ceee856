package records

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
	"unicode/utf8"
)

// encode is json.Marshal without the escaping meant for HTML.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

// decode reads exactly one JSON value into v. Beyond what the library refuses
// it refuses unknown, repeated and differently capitalised names and invalid
// UTF-8: two readers of one sealed document must not see two things. The
// library's errors become ours.
func decode(data []byte, v any) error {
	if !utf8.Valid(data) {
		return notJSON("it holds bytes that are not UTF-8 text")
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return readable(err, data)
	}
	if _, err := d.Token(); err != io.EOF {
		return notJSON("there is something after its end")
	}
	var errs Errors
	walk(data, func(path, name string, again bool, _ json.Token) {
		switch {
		case again:
			errs = append(errs, &Error{Kind: Invalid, Field: clip(path), Msg: "given twice", Want: "it once"})
		case !plainName(name):
			errs = append(errs, &Error{Kind: Invalid, Field: clip(path), Msg: "names are written in small letters"})
		}
	})
	if len(errs) > 0 {
		return errs
	}
	return nil
}

func notJSON(why string) *Error {
	return &Error{Kind: Invalid, Field: "record", Label: "The document", Msg: "cannot be read: " + why}
}

// readable turns an error of the JSON library into ours.
func readable(err error, data []byte) error {
	var e *Error
	var es Errors
	var syntax *json.SyntaxError
	var mistyped *json.UnmarshalTypeError
	switch {
	case errors.As(err, &es):
		return es
	case errors.As(err, &e):
		if e.Field == "" { // a date; the library does not say which
			e.Field = pathOf(data, e.Value)
		}
		return e
	case errors.As(err, &mistyped):
		out := &Error{Kind: Invalid, Field: mistyped.Field, Value: clip(mistyped.Value),
			Want: jsonTypeOf(mistyped.Type)}
		if out.Field == "" {
			out.Field, out.Label = "record", "The document"
		}
		return out
	case errors.Is(err, io.EOF):
		return notJSON("it is empty")
	case errors.Is(err, io.ErrUnexpectedEOF):
		return notJSON("it ends too early")
	case errors.As(err, &syntax):
		return notJSON(fmt.Sprintf("not valid JSON at byte %d, %s", syntax.Offset, syntax.Error()))
	}
	if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return &Error{Kind: Invalid, Field: clip(strings.Trim(name, `"`)), Msg: "there is no such field"}
	}
	return notJSON(err.Error())
}

// jsonTypeOf says in words what JSON a Go type is read from.
func jsonTypeOf(t reflect.Type) string {
	if t == reflect.TypeFor[Date]() {
		return "a date as YYYY-MM-DD, in quotes"
	}
	switch t.Kind() {
	case reflect.String:
		return "text in quotes"
	case reflect.Bool:
		return "true or false"
	case reflect.Slice:
		return "a list in [ ]"
	case reflect.Int, reflect.Float64:
		return "a number without quotes"
	}
	return "an object in { }"
}

// plainName reports whether a name is written as all names of our documents
// are, field keys with their point among them. The library matches names in
// any capitalisation.
func plainName(s string) bool {
	for i := 0; i < len(s); i++ {
		if c := s[i]; (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '_' && c != '.' {
			return false
		}
	}
	return true
}

// pathOf returns the path of the first text in valid JSON that reads so when
// clipped, or "".
func pathOf(data []byte, clipped string) string {
	found := ""
	walk(data, func(path, _ string, _ bool, v json.Token) {
		if s, ok := v.(string); ok && found == "" && clip(s) == clipped {
			found = path
		}
	})
	return found
}

// walk visits every member of every object in valid JSON: its path and name,
// whether the object had that name before, and its value, of an object or
// array the opening brace.
func walk(data []byte, visit func(path, name string, again bool, v json.Token)) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	first, err := d.Token()
	if err == nil {
		walkIn(d, first, "", visit)
	}
}

func walkIn(d *json.Decoder, open json.Token, path string, visit func(path, name string, again bool, v json.Token)) {
	switch open {
	case json.Delim('{'):
		seen := map[string]bool{}
		for d.More() {
			name, err := d.Token()
			v, err2 := d.Token()
			if err != nil || err2 != nil {
				return
			}
			key := name.(string)
			at := strings.TrimPrefix(path+"."+key, ".")
			visit(at, key, seen[key], v)
			seen[key] = true
			walkIn(d, v, at, visit)
		}
	case json.Delim('['):
		for i := 0; d.More(); i++ {
			v, err := d.Token()
			if err != nil {
				return
			}
			walkIn(d, v, fmt.Sprintf("%s[%d]", path, i), visit)
		}
	default:
		return
	}
	_, _ = d.Token() // the closing brace
}

// DecodeStrict reads exactly one JSON value into v as every document of ours
// is read: unknown, repeated and differently capitalised names are refused.
// Errors are of kind Invalid.
func DecodeStrict(data []byte, v any) error { return decode(data, v) }
