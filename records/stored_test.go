package records_test

import (
	"bytes"
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
)

// readBack reads a document as stored and proves that writing it gives the
// same bytes.
func readBack(t *testing.T, doc string) *records.Record {
	t.Helper()
	r, err := records.DecodeStored([]byte(doc))
	if err != nil {
		t.Fatalf("refused: %v", err)
	}
	if out := encoded(t, r); string(out) != doc {
		t.Fatalf("read\n%s\nwritten as\n%s", doc, out)
	}
	return r
}

// oldText returns what the record shows of a key that no field of today has.
func oldText(r *records.Record, key string) string {
	for _, k := range r.OldEntries() {
		if k.Field.Key == key {
			return k.Value.Text()
		}
	}
	return "not there"
}

// What today's entry rules refuse was accepted once, or may have been: the
// reader of what was stored keeps it as it was written.
func TestStoredKeepsWhatEntryRefuses(t *testing.T) {
	in := func(from, to string) string {
		if strings.Count(least, from) != 1 {
			t.Fatalf("%q is not in the document once", from)
		}
		return strings.Replace(least, from, to, 1)
	}
	with := func(member string) string { return in(`"customer":`, member+`,"customer":`) }
	sections := func(s string) string { return with(`"sections":` + s) }
	value := func(key string) func(*records.Record) string {
		return func(r *records.Record) string { return r.Values[key].Text() }
	}
	kept := func(key string) func(*records.Record) string {
		return func(r *records.Record) string { return oldText(r, key) }
	}
	for _, c := range []struct {
		name, doc string
		shows     func(*records.Record) string
		want      string
	}{
		{"number above today's range", sections(`{"heat":{"seconds":4000.50}}`), value("heat.seconds"), "4000.50"},
		{"number below today's range", sections(`{"heat":{"seconds":-1}}`), value("heat.seconds"), "-1"},
		{"more decimals", sections(`{"heat":{"turns":2.125}}`), value("heat.turns"), "2.125"},
		{"more digits", sections(`{"heat":{"turns":12345678901234567890}}`), value("heat.turns"),
			"12345678901234567890"},
		{"a code not offered", sections(`{"heat":{"meter":"gallons"}}`), value("heat.meter"), "gallons"},
		{"longer text", sections(`{"appliance":{"make":"` + strings.Repeat("x", 61) + `"}}`), value("appliance.make"),
			strings.Repeat("x", 61)},
		{"text that is trimmed now", sections(`{"appliance":{"make":" A "}}`), value("appliance.make"), " A "},
		{"another shape of time", sections(`{"heat":{"time":"9.05"}}`), value("heat.time"), "9.05"},
		{"another shape of date", sections(`{"ventilation":{"alarm_expiry":"June 2031"}}`),
			value("ventilation.alarm_expiry"), "June 2031"},
		{"exponent", sections(`{"heat":{"seconds":6e1}}`), value("heat.seconds"), "6e1"},
		{"number as text", sections(`{"heat":{"seconds":"61"}}`), value("heat.seconds"), "61"},
		{"text as number", sections(`{"appliance":{"make":7}}`), value("appliance.make"), "7"},
		{"flag as text", sections(`{"tightness":{"smell":"slight"}}`), value("tightness.smell"), "slight"},
		{"flag as number", sections(`{"tightness":{"smell":0}}`), value("tightness.smell"), "0"},
		{"rows as object", sections(`{"tightness":{"runs":{"pipe":"lead"}}}`), value("tightness.runs"),
			`{"pipe":"lead"}`},
		{"unknown field", sections(`{"heat":{"colour":"blue"}}`), kept("heat.colour"), "blue"},
		{"unknown yes", sections(`{"heat":{"colour":true}}`), kept("heat.colour"), "yes"},
		{"unknown no", sections(`{"heat":{"colour":false}}`), kept("heat.colour"), "no"},
		{"unknown number", sections(`{"heat":{"dial_mm":1.250}}`), kept("heat.dial_mm"), "1.250"},
		{"unknown object", sections(`{"heat":{"dial":{"mm":1}}}`), kept("heat.dial"), `{"mm":1}`},
		{"unknown name of odd letters", sections(`{"heat":{"Größe \"\\ \u0001":1}}`),
			kept("heat.Größe \"\\ \u0001"), "1"},
		{"unknown section", sections(`{"chimney":{"height_m":6.5}}`), kept("chimney.height_m"), "6.5"},
		{"section as list", sections(`{"heat":[1,2]}`), kept("sections.heat"), "[1,2]"},
		{"sections as text", sections(`"none"`), kept("sections"), "none"},
		{"section with a point", sections(`{"a.b":{"c":1}}`), kept("sections.a.b"), `{"c":1}`},
		{"section without a name", sections(`{"":{"":1},"zz":{"":2}}`), kept("zz."), "2"},
		{"only a section without a name", sections(`{"":{"":1}}`), kept("."), "1"},
		{"field twice", sections(`{"heat":{"seconds":61,"seconds":62}}`), kept("sections.heat.seconds"), "62"},
		{"unknown member", with(`"colour":"red"`), kept("colour"), "red"},
		{"unknown of the property", in(`"town"`, `"county":"Norshire","town"`), kept("property.county"), "Norshire"},
		{"unknown of the firm", with(`"firm":{"name":"F","address":"","phone":"","email":"","registration":"",` +
			`"fax":"01632 960 000"}`), kept("firm.fax"), "01632 960 000"},
		{"unknown of an instrument", with(`"instruments":[{"id":"a","kind":"gauge","serial":"1","owner":"B"}]`),
			kept("instruments[0].owner"), "B"},
		{"unknown of an entry", with(`"condition":{"entries":[{"rule":"r","class":"","found":"","done":"",` +
			`"urgency":"today"}],"told":"","told_how":"","left_off":false,"refused":false}`),
			kept("condition.entries[0].urgency"), "today"},
		{"capitals", in(`"purpose"`, `"Purpose"`), kept("Purpose"), "service"},
		{"member twice", in(`"purpose":"service"`, `"purpose":"service","purpose":"remedial"`), kept("purpose"),
			"remedial"},
		{"no such day", in("2026-11-25", "2026-02-30"), kept("work_date"), "2026-02-30"},
		{"date as number", in(`"2026-11-25"`, `20261125`), kept("work_date"), "20261125"},
		{"property as text", in(`{"line1":"1 Row","town":"Harnby","postcode":"YO9 2AB","nation":"England"}`, `"1 Row"`),
			kept("property"), "1 Row"},
		{"instruments as object", with(`"instruments":{"id":"a"}`), kept("instruments"), `{"id":"a"}`},
		{"yes as text", with(`"condition":{"entries":[],"told":"","told_how":"","left_off":"yes","refused":false}`),
			kept("condition.left_off"), "yes"},
		{"an earlier schema", in(`"schema":1`, `"schema":0`),
			func(r *records.Record) string { return string(r.Purpose) }, "service"},
		{"a later schema", in(`"schema":1`, `"schema":9`), func(r *records.Record) string { return r.Contact.Name },
			"A"},
		{"schema as text", in(`"schema":1`, `"schema":"1"`), kept("schema"), "1"},
		{"unknown purpose", in(`"service"`, `"annual visit"`), func(r *records.Record) string {
			return string(r.Purpose)
		}, "annual visit"},
		{"a postcode of another shape", in("YO9 2AB", "HARN 1"), func(r *records.Record) string {
			return r.Property.Postcode
		}, "HARN 1"},
		{"white space", " " + in(`"schema":1`, `"schema" : 1`) + "\n", func(r *records.Record) string {
			return r.Property.Town
		}, "Harnby"},
		{"not answered", sections(`{"heat":{"seconds":null,"time":""}}`), value("heat.seconds"), ""},
		{"nothing at all", `{}`, func(r *records.Record) string { return string(r.Stage) }, "draft"},
		{"null for everything", `{"schema":null,"property":null,"sections":null,"photos":null,"condition":null}`,
			func(r *records.Record) string { return r.Property.Line1 }, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := c.shows(readBack(t, c.doc)); got != c.want {
				t.Errorf("shows %q, want %q", got, c.want)
			}
		})
	}
}

// A value kept from another kind of field answers nothing: a rule or a page
// that asks for a yes must not be given one.
func TestKeptValuesAnswerNothing(t *testing.T) {
	r := readBack(t, `{"schema":1,"purpose":"service","work_date":"2026-11-25","property":{"line1":"","town":"",`+
		`"postcode":"","nation":""},"customer":{"name":"","tenure":""},"engineer":{"name":"","licence":""},`+
		`"firm":{"name":"","address":"","phone":"","email":"","registration":""},"sections":{"appliance":`+
		`{"fuel":5,"make":true},"flue":{"low":"yes"},"heat":{"seconds":"61"},"tightness":{"runs":"none"},`+
		`"ventilation":{"alarm_expiry":2031}}}`)
	vs := r.Values
	if code := vs.Choice(records.ApplianceFuel); code != "" {
		t.Errorf("choice %q", code)
	}
	if yes, answered := vs.Flag(records.FlueLow); yes || answered {
		t.Errorf("flag %v, answered %v", yes, answered)
	}
	if s := vs.Text(records.ApplianceMake); s != "" {
		t.Errorf("text %q", s)
	}
	if x, ok := vs.Float(records.HeatSeconds); ok || x != 0 {
		t.Errorf("number %v", x)
	}
	if d := vs.Date(records.AlarmExpiry); !d.IsZero() {
		t.Errorf("date %s", d)
	}
	if rows := vs.Rows(records.TightnessRuns); rows != nil {
		t.Errorf("rows %v", rows)
	}
	if vs.Shown(records.FlueGuard.Field) {
		t.Error("a kept answer shows the field that depends on it")
	}
	for _, f := range []*records.Field{records.ApplianceFuel.Field, records.FlueLow.Field, records.HeatSeconds.Field} {
		if v := vs[f.Key]; !v.Present() || !v.Old() || v.Text() == "" {
			t.Errorf("%s is not kept: %+v", f.Key, v)
		}
	}
}

// Rows keep columns that are not known, in the order they are written, and
// cells as they were.
func TestStoredRows(t *testing.T) {
	doc := strings.Replace(least, `"customer":`, `"sections":{"flue":{"bends":[{"angle_deg":200,"wrapped":"felt"},`+
		`{"count":"two"}]},"old":{"list":[{"a":1,"b":"x"},{"b":"y"}]}},"customer":`, 1)
	r := readBack(t, doc)
	rows := r.Values.Rows(records.FlueBends)
	if len(rows) != 2 || rows[0].Float("angle_deg") != 200 || rows[0].Text("wrapped") != "felt" ||
		rows[1].Text("count") != "two" || rows[1].Float("count") != 0 {
		t.Errorf("%+v", rows)
	}
	var names []string
	for _, c := range records.FlueBends.ColumnsIn(rows) {
		names = append(names, c.Label)
	}
	if !slices.Equal(names, []string{"Angle", "How many", "Wrapped"}) {
		t.Errorf("columns %q", names)
	}
	for _, k := range r.OldEntries() {
		if k.Field.Key == "old.list" {
			cols := k.Field.ColumnsIn(k.Value.Rows())
			if len(cols) != 2 || cols[0].Label != "A" || k.Value.Rows()[1].Text("b") != "y" {
				t.Errorf("unknown rows: %+v %+v", cols, k.Value.Rows())
			}
			return
		}
	}
	t.Error("the unknown rows are not shown")
}

// What the record holds beside the fields of today comes in the order of the
// form: known sections, unknown ones, and what stood outside them.
func TestKeptIsInOrder(t *testing.T) {
	r := readBack(t, strings.Replace(least, `"customer":`, `"sections":{"chimney":{"z_b":1,"z_a":2},"water":{"old":3},`+
		`"heat":{"old_dial":4,"seconds":61}},"zebra":5,"customer":`, 1))
	var got []string
	for _, k := range r.OldEntries() {
		got = append(got, string(k.Section)+"/"+k.Field.Label+"="+k.Value.Text())
	}
	want := []string{"heat/Old dial=4", "water/Old=3", "chimney/Chimney: z a=2", "chimney/Chimney: z b=1", "/Zebra=5"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if kept := sample(t, "clear-combination-england").OldEntries(); len(kept) != 0 {
		t.Errorf("a record of today keeps %v", kept)
	}
}

// The bytes that were read stand only while nothing has been changed.
func TestChangedAfterReading(t *testing.T) {
	doc := strings.Replace(least, `"schema":1`, `"schema" : 1`, 1)
	r := readBack(t, doc)
	r.Values.Put(records.HeatSeconds.Field, "61.1")
	if out := encoded(t, r); !bytes.Contains(out, []byte(`"seconds":61.1`)) || bytes.Contains(out, []byte(" : ")) {
		t.Errorf("a changed record is written as %s", out)
	}
	delete(r.Values, records.HeatSeconds.Key)
	if out := encoded(t, r); string(out) != doc {
		t.Errorf("put back, it is written as %s", out)
	}
	text := strings.Replace(string(canonical(t, issuedSample(t, "clear-combination-england"))), `"number"`,
		`"seen_by":"C","number"`, 1)
	i, err := records.DecodeIssued([]byte(text))
	if err != nil || string(canonical(t, i)) != text {
		t.Fatalf("%v", err)
	}
	i.Standing = records.Adverse
	if out := canonical(t, i); !bytes.Contains(out, []byte(`"standing":"adverse"`)) {
		t.Error("a changed issue is written as it was")
	}
}

// The canonical JSON of another version of the program decodes, keeps its
// bytes and its seal.
func TestDecodeIssuedOfAnotherVersion(t *testing.T) {
	good := string(canonical(t, issuedSample(t, "clear-combination-england")))
	for name, c := range map[string]struct{ from, to, key, text string }{
		"other schema":   {`"schema":1`, `"schema":2`, "", ""},
		"unknown member": {`"standing"`, `"colour":1,"standing"`, "colour", "1"},
		"number twice":   {`"standing"`, `"number":"2026-00043","standing"`, "number", "2026-00043"},
		"capitals":       {`"standing"`, `"STANDING"`, "STANDING", "clear"},
		"time":           {"2026-11-25T14:04:05Z", "yesterday", "issued_at", "yesterday"},
		"year 10000": {"2026-11-25T14:04:05Z", "9999-12-31T23:59:59-01:00", "issued_at",
			"9999-12-31T23:59:59-01:00"},
		"fraction of a second": {"2026-11-25T14:04:05Z", "2026-11-25T14:04:05.250Z", "", ""},
		"reading as text":      {`"seconds":61.1`, `"seconds":"61.1"`, "", ""},
		"unknown of a finding": {`"rule":"combustion.max_ratio"`, `"rule":"combustion.max_ratio","weight":3`,
			"findings[0].weight", "3"},
		"unknown of a limit": {`"text":"at most 0.004 <&>"`, `"text":"at most 0.004 <&>","guard":0.001`,
			"findings[0].limit.guard", "0.001"},
		"limit as text":        {`"low":0`, `"low":"none"`, "findings[0].limit.low", "none"},
		"an outcome of before": {`"outcome":"inside"`, `"outcome":"passed"`, "", ""},
		"fields as one text": {`"fields":["combustion.max_co_ppm"]`, `"fields":"combustion.max_co_ppm"`,
			"findings[0].fields", "combustion.max_co_ppm"},
		"readings as numbers": {`"readings":{"combustion.max_co_ppm":"88"}`, `"readings":{"combustion.max_co_ppm":88}`,
			"earlier[0].readings", `{"combustion.max_co_ppm":88}`},
		"findings as object":     {`"duties":[`, `"duties":{"a":1},"more":[`, "duties", `{"a":1}`},
		"a retired section":      {`"section":"combustion"`, `"section":"chimney"`, "", ""},
		"a member of the record": {`"record":{`, `"record":{"weather":"dry",`, "weather", "dry"},
	} {
		t.Run(name, func(t *testing.T) {
			text := strings.Replace(good, c.from, c.to, 1)
			if text == good {
				t.Fatal("nothing was changed")
			}
			seal := records.SealOf([]byte(text), testKey(1))
			i, err := records.DecodeIssued([]byte(text))
			if err != nil {
				t.Fatal(err)
			}
			again := canonical(t, i)
			if string(again) != text || !seal.Holds(again, testKey(1).Public().(ed25519.PublicKey)) {
				t.Errorf("written as\n%s\nread as\n%s", again, text)
			}
			if i.Number != "2026-00042" || i.Record.Contact.Name == "" || i.Record.Stage != records.StageIssued {
				t.Errorf("%+v", i)
			}
			if c.key != "" && oldText(i.Record, c.key) != c.text {
				t.Errorf("%s shows %q, want %q", c.key, oldText(i.Record, c.key), c.text)
			}
			var whole struct{ Record json.RawMessage }
			if err := json.Unmarshal([]byte(text), &whole); err != nil {
				t.Fatal(err)
			}
			if doc := encoded(t, i.Record); !bytes.Equal(doc, whole.Record) {
				t.Errorf("the record alone is written as\n%s\nread as\n%s", doc, whole.Record)
			}
		})
	}
}

// Only what is no issued record at all is refused.
func TestDecodeIssuedRefuses(t *testing.T) {
	good := string(canonical(t, issuedSample(t, "clear-combination-england")))
	for name, doc := range map[string]string{
		"nothing": "", "white space": " \n", "not JSON": "hello", "trailing": good + "1", "cut off": good[:len(good)-1],
		"list": "[" + good + "]", "text": `"x"`, "null": "null",
		"draft document":  string(encoded(t, sample(t, "clear-combination-england"))),
		"number of 0":     strings.Replace(good, `"number":"2026-00042"`, `"number":0`, 1),
		"blank number":    strings.Replace(good, `"number":"2026-00042"`, `"number":""`, 1),
		"without number":  strings.Replace(good, `"number"`, `"no"`, 1),
		"deeply nested":   strings.Repeat(`{"a":`, 20000) + "1" + strings.Repeat("}", 20000),
		"another bracket": strings.Replace(good, `]`, `}`, 1),
	} {
		_, err := records.DecodeIssued([]byte(doc))
		var e *records.Error
		if !errors.As(err, &e) || e.Kind != records.Invalid || e.Label == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := records.DecodeStored([]byte("[]")); records.KindOf(err) != records.Invalid {
		t.Errorf("a list as a record: %v", err)
	}
	if _, err := records.DecodeStoredValues([]byte("5")); records.KindOf(err) != records.Invalid {
		t.Errorf("a number as values: %v", err)
	}
}

// A seal is a sealed thing too: one with members of another version still
// proves its record.
func TestSealOfAnotherVersion(t *testing.T) {
	text := []byte(`{"number":"2026-00001"}`)
	s := records.SealOf(text, testKey(1))
	raw, err := records.MarshalSeal(s)
	if err != nil {
		t.Fatal(err)
	}
	more := strings.Replace(string(raw), `"code"`, `"log_head":"abc","code"`, 1)
	back, err := records.UnmarshalSeal([]byte(more))
	if err != nil || !back.Holds(text, testKey(1).Public().(ed25519.PublicKey)) || !reflect.DeepEqual(back, s) {
		t.Errorf("%+v, %v", back, err)
	}
	for _, bad := range []string{"", "x", "[]", `"seal"`} {
		if _, err := records.UnmarshalSeal([]byte(bad)); err == nil {
			t.Errorf("%q is taken for a seal", bad)
		}
	}
	if s, err := records.UnmarshalSeal([]byte(`{"SHA256":"x","signature":"not base64!"}`)); err != nil ||
		s.SHA256 != "" || s.Signature != nil {
		t.Errorf("%+v, %v", s, err)
	}
}
