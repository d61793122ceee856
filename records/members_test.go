package records

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// anyJSON draws a JSON value, white space and awkward texts among it.
func anyJSON(t *rapid.T, depth int) string {
	space := func() string { return rapid.SampledFrom([]string{"", "", " ", "\n\t", " \r\n"}).Draw(t, "space") }
	word := func() string {
		return rapid.SampledFrom([]string{`""`, `"a"`, `"b:c"`, `"}"`, `"[,"`, `"\""`, `"\\"`, `"\\\""`, `"é"`,
			`"\u00e9"`,
			`"a.b"`, `"\ud83d\udd25"`}).Draw(t, "text")
	}
	kind := rapid.IntRange(0, 5).Draw(t, "kind")
	if depth == 0 {
		kind = min(kind, 3)
	}
	switch kind {
	case 0:
		return rapid.SampledFrom([]string{"0", "-1", "61.10", "6e1", "1E-7", "12345678901234567890"}).Draw(t, "number")
	case 1:
		return rapid.SampledFrom([]string{"true", "false", "null"}).Draw(t, "word")
	case 2, 3:
		return word()
	}
	parts := make([]string, rapid.IntRange(0, 4).Draw(t, "parts"))
	for i := range parts {
		part := space() + anyJSON(t, depth-1) + space()
		if kind == 4 {
			part = space() + word() + space() + ":" + part
		}
		parts[i] = part
	}
	inside := strings.Join(parts, ",")
	if inside == "" {
		inside = space()
	}
	if kind == 4 {
		return "{" + inside + "}"
	}
	return "[" + inside + "]"
}

// Members and elements are cut out of an object or array as the standard
// library cuts them: the same names, the same bytes, the same order.
func TestPartsAreThoseOfTheLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := anyJSON(t, 3)
		if !json.Valid([]byte(text)) {
			t.Fatalf("drew what is no JSON: %s", text)
		}
		if end := endOfValue([]byte(text)); end != len(text) {
			t.Fatalf("%q ends at %d, not %d", text, end, len(text))
		}
		for _, after := range []string{",1", " ,", "}", "]", ":1", "\n"} {
			if end := endOfValue([]byte(text + after)); end != len(text) {
				t.Fatalf("%q ends at %d before %q, not %d", text, end, after, len(text))
			}
		}
		var got, want []string
		switch text[0] {
		case '{':
			eachMember([]byte(text), func(name string, value []byte) {
				got = append(got, fmt.Sprintf("%q=%s", name, value))
			})
		case '[':
			eachElement([]byte(text), func(i int, element []byte) {
				got = append(got, fmt.Sprintf("%d=%s", i, element))
			})
		default:
			return
		}
		d := json.NewDecoder(strings.NewReader(text))
		if _, err := d.Token(); err != nil {
			t.Fatal(err)
		}
		for i := 0; d.More(); i++ {
			at := fmt.Sprint(i)
			if text[0] == '{' {
				name, err := d.Token()
				if err != nil {
					t.Fatal(err)
				}
				at = fmt.Sprintf("%q", name)
			}
			var raw json.RawMessage
			if err := d.Decode(&raw); err != nil {
				t.Fatal(err)
			}
			want = append(want, at+"="+string(raw))
		}
		if strings.Join(got, "|") != strings.Join(want, "|") {
			t.Fatalf("%s\ngives %q\nnot   %q", text, got, want)
		}
	})
}

func TestMemberOf(t *testing.T) {
	for doc, want := range map[string]string{
		`{"record":{"a":1},"number":"2"}`:          `{"a":1}`,
		`{"number":"2","record" : [1] }`:           `[1]`,
		`{"record":1,"record":2}`:                  `1`, // the first is what the reader takes
		`{"number":{"record":5}}`:                  `{}`,
		`{}`:                                       `{}`,
		`{"re\u0063ord":"x"}`:                      `"x"`,
		` { "a" : "}" , "record" : { "b" : "{" }}`: `{ "b" : "{" }`,
	} {
		if got := memberOf([]byte(doc), "record"); string(got) != want {
			t.Errorf("%s: %s, want %s", doc, got, want)
		}
	}
}

// A stored value is written as it was read, whatever it is and whatever field
// it is for; and it shows something unless it says nothing.
func TestStoredValueKeepsItsBytes(t *testing.T) {
	fields := []*Field{nil, HeatSeconds.Field, ApplianceFuel.Field, FlueLow.Field, ApplianceMake.Field, FlueBends.Field,
		AlarmExpiry.Field, TightnessTime.Field, ForUser.Field, EngineerSignature.Field}
	rapid.Check(t, func(t *rapid.T) {
		var compact bytes.Buffer
		if err := json.Compact(&compact, []byte(anyJSON(t, 2))); err != nil {
			t.Fatal(err)
		}
		raw := compact.String()
		f := rapid.SampledFrom(fields).Draw(t, "field")
		v := storedValue(f, []byte(raw))
		if !v.Present() {
			if raw != "null" && raw != `""` {
				t.Fatalf("%s says nothing", raw)
			}
			return
		}
		out, err := v.MarshalJSON()
		if err != nil {
			t.Fatal(err)
		}
		var was, is any
		if json.Unmarshal([]byte(raw), &was) != nil || json.Unmarshal(out, &is) != nil {
			t.Fatalf("%s is written as %s", raw, out)
		}
		if v.Old() && string(out) != raw {
			t.Fatalf("%s is written as %s", raw, out)
		}
		if !v.Old() && v.kind != RowsKind && fmt.Sprint(was) != fmt.Sprint(is) {
			t.Fatalf("%s is written as %s", raw, out)
		}
		if v.Text() == "" && len(v.Rows()) == 0 {
			t.Fatalf("%s shows nothing", raw)
		}
		if v.Old() != (f == nil || v.kind != f.Kind) {
			t.Fatalf("%s for %+v is of kind %s", raw, f, v.kind)
		}
	})
}

// What a key is called where nothing else is known of it.
func TestUnknownFieldIsNamedByItsKey(t *testing.T) {
	for key, want := range map[string]string{"old_dial_mm": "Old dial mm", "chimney.height_m": "Chimney: height m",
		"weather": "Weather", "": "", "findings[0].weight": "Findings[0]: weight", "é": "É", "_x": " x"} {
		if f := unknownField(key); f.Label != want || f.Key != key || f.Kind != TextKind {
			t.Errorf("%q: %+v, want %q", key, f, want)
		}
	}
}
