package records_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"gaugebook/records"
)

const least = `{"schema":1,"purpose":"service","work_date":"2026-11-25",` +
	`"property":{"line1":"1 Row","town":"Harnby","postcode":"YO9 2AB","nation":"England"},` +
	`"customer":{"name":"A","tenure":"tenant"}}`

func decodeErr(s string) error {
	_, err := records.DecodeRecord(strings.NewReader(s))
	return err
}

func TestLeastRecord(t *testing.T) {
	r, err := records.DecodeRecord(strings.NewReader(least))
	if err != nil {
		t.Fatal(err)
	}
	if r.Stage != records.Draft || r.Values == nil || len(r.Values) != 0 || !r.Engineer.CompetenceUntil.IsZero() {
		t.Errorf("%+v", r)
	}
	once := encoded(t, r)
	again, err := records.DecodeRecord(bytes.NewReader(once))
	if err != nil || !bytes.Equal(once, encoded(t, again)) {
		t.Errorf("%v: %s", err, once)
	}
}

// Every refusal of a document names where, what and what would be accepted.
func TestDecodeRecordRefuses(t *testing.T) {
	in := func(from, to string) string {
		if strings.Count(least, from) != 1 {
			t.Fatalf("%q is not in the document once", from)
		}
		return strings.Replace(least, from, to, 1)
	}
	with := func(member string) string { return in(`"customer":`, member+`,"customer":`) }
	sections := func(s string) string { return with(`"sections":` + s) }
	for _, c := range []struct{ name, doc, field, says string }{
		{"nothing", "", "record", "it is empty"},
		{"white space", " \n", "record", "it is empty"},
		{"cut off", least[:60], "record", "it ends too early"},
		{"not JSON", "schema: 1", "record", "not valid JSON at byte 1"},
		{"comment", "{/* */}", "record", "not valid JSON at byte 2"},
		{"list", "[]", "record", "give an object in { }"},
		{"null", "null", "schema", "give schema as 1"},
		{"text", `"x"`, "record", "give an object in { }"},
		{"trailing document", least + least, "record", "after its end"},
		{"trailing letter", least + "x", "record", "after its end"},
		{"invalid UTF-8", in("1 Row", "1 R\xff"), "record", "not UTF-8"},
		{"too long", `{"schema":1,"x":"` + strings.Repeat("x", records.MaxDocument) + `"}`, "record",
			"at most 1048576 bytes"},
		{"no schema", in(`"schema":1,`, ``), "schema", "give schema as 1"},
		{"other schema", in(`"schema":1`, `"schema":2`), "schema", "“2” is not accepted: give schema as 1"},
		{"schema as text", in(`"schema":1`, `"schema":"1"`), "schema", "give a number without quotes"},
		{"schema out of range", in(`"schema":1`, `"schema":1e400`), "schema", "give a number without quotes"},
		{"unknown member", with(`"colour":"red"`), "colour", "there is no such field"},
		{"unknown of property", in(`"town"`, `"colour":1,"town"`), "colour", "there is no such field"},
		{"unknown of customer", in(`"name"`, `"colour":1,"name"`), "colour", "there is no such field"},
		{"unknown of engineer", with(`"engineer":{"colour":1}`), "colour", "there is no such field"},
		{"unknown of firm", with(`"firm":{"colour":1}`), "colour", "there is no such field"},
		{"unknown of instrument", with(`"instruments":[{"colour":1}]`), "colour", "there is no such field"},
		{"unknown of condition", with(`"condition":{"colour":1}`), "colour", "there is no such field"},
		{"unknown of entry", with(`"condition":{"entries":[{"colour":1}]}`), "colour", "there is no such field"},
		{"unknown section", sections(`{"chimney":{}}`), "sections.chimney",
			"there is no such section: give one of appliance, tightness"},
		{"unknown field", sections(`{"heat":{"colour":1}}`), "heat.colour", "there is no such field"},
		{"unknown column", sections(`{"tightness":{"runs":[{"pipe":"copper-15","colour":"red"}]}}`),
			"tightness.runs[0].colour", "Pipe runs, row 1: “colour” is not accepted"},
		{"number as text", sections(`{"heat":{"seconds":"61"}}`), "heat.seconds", "not written as JSON number"},
		{"text as number", sections(`{"appliance":{"make":7}}`), "appliance.make", "not written as JSON string"},
		{"flag as text", sections(`{"tightness":{"smell":"yes"}}`), "tightness.smell",
			"not written as JSON true or false"},
		{"cell as text", sections(`{"tightness":{"runs":[{"length_m":"1"}]}}`), "tightness.runs[0].length_m",
			"Pipe runs, row 1, Length: not written as JSON number"},
		{"rows as object", sections(`{"tightness":{"runs":{}}}`), "tightness.runs",
			"not written as JSON array of objects"},
		{"exponent", sections(`{"heat":{"seconds":6e1}}`), "heat.seconds", "not a plain number"},
		{"out of range", sections(`{"heat":{"seconds":4000}}`), "heat.seconds",
			"“4000” is not accepted: give a number from 1 to 3600 s"},
		{"section as list", sections(`{"heat":[]}`), "sections", "not an object of sections"},
		{"twice", in(`"purpose":"service"`, `"purpose":"service","purpose":"remedial"`), "purpose", "given twice"},
		{"field twice", sections(`{"heat":{"seconds":61,"seconds":62}}`), "sections.heat.seconds", "given twice"},
		{"section twice", sections(`{"heat":{},"heat":{}}`), "sections.heat", "given twice"},
		{"cell twice", sections(`{"tightness":{"runs":[{"length_m":1,"length_m":2}]}}`),
			"sections.tightness.runs[0].length_m", "given twice"},
		{"capitals", in(`"purpose"`, `"Purpose"`), "Purpose", "small letters"},
		{"look-alike letter", in(`"purpose"`, `"purpoſe"`), "purpoſe", "small letters"},
		{"wrong date", in("2026-11-25", "25/11/2026"), "work_date",
			"“25/11/2026” is not accepted: give a date as YYYY-MM-DD"},
		{"no such day", in("2026-11-25", "2026-02-30"), "work_date", "2026-02-30"},
		{"date as number", in(`"2026-11-25"`, `20261125`), "work_date", "give a date as YYYY-MM-DD, in quotes"},
		{"blank date", in("2026-11-25", ""), "work_date", "Date of the work: give a date"},
		{"wrong date of an instrument",
			with(`"instruments":[{"id":"a","serial":"b","kind":"gauge"},{"id":"c","calibrated_on":"soon"}]`),
			"instruments[1].calibrated_on", "“soon” is not accepted"},
		{"wrong date of the engineer", with(`"engineer":{"competence_until":"2031"}`), "engineer.competence_until",
			"“2031” is not accepted"},
		{"unknown purpose", in(`"service"`, `"visit"`), "purpose",
			"Purpose: “visit” is not accepted: give one of commissioning, service, landlord check, remedial"},
		{"blank address", in("1 Row", " "), "property.line1",
			"First line of the address: this cannot be left blank"},
		{"wrong postcode", in("YO9 2AB", "YO9 2CI"), "property.postcode", "give a postcode such as AB12 3XY"},
		{"unknown nation", in("England", "Elsewhere"), "property.nation",
			"one of England, Wales, Scotland, Northern Ireland"},
		{"unknown tenure", in(`"tenant"`, `"lodger"`), "customer.tenure",
			"one of owner-occupier, landlord, tenant, agent"},
		{"wrong e-mail", in(`"tenure"`, `"email":"a at b","tenure"`), "customer.email",
			"an address such as name@firm.example"},
		{"e-mail with a name", in(`"tenure"`, `"email":"A <a@b.example>","tenure"`), "customer.email",
			"an address such as"},
		{"e-mail with a header", in(`"tenure"`, `"email":"a@b.example\r\nBcc: c@d.example","tenure"`),
			"customer.email", "E-mail"},
		{"line end in a name", in(`"name":"A"`, `"name":"A\nB"`), "customer.name", "one line of at most 80 characters"},
		{"unknown kind of instrument", with(`"instruments":[{"id":"a","serial":"b","kind":"ruler"}]`),
			"instruments[0].kind", "Instrument 1, kind: “ruler” is not accepted: give one of gauge"},
		{"instrument without serial", with(`"instruments":[{"id":"a","kind":"gauge"}]`), "instruments[0].serial",
			"Instrument 1, serial number: this cannot be left blank"},
		{"one id for two",
			with(`"instruments":[{"id":"a","serial":"1","kind":"gauge"},{"id":"a","serial":"2","kind":"gauge"}]`),
			"instruments[1].id", "no other instrument"},
		{"21 instruments", with(`"instruments":[` + strings.Repeat(`{},`, 20) + `{}]`), "instruments",
			"“21 instruments” is not accepted: give at most 20"},
		{"unknown class", with(`"condition":{"entries":[{"rule":"flue.joints","class":"grave"}]}`),
			"condition.entries[0].class", "one of immediately dangerous, at risk, observation"},
		{"201 entries", with(`"condition":{"entries":[` + strings.Repeat(`{},`, 200) + `{}]}`), "condition.entries",
			"at most 200 entries"},
		{"deeply nested", with(`"sections":` + strings.Repeat("[", 100000)), "record", "cannot be read"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := decodeErr(c.doc)
			if err == nil {
				t.Fatal("accepted")
			}
			var e *records.Error
			var es records.Errors
			if !errors.As(err, &e) && (!errors.As(err, &es) || len(es) == 0) {
				t.Fatalf("not one of our errors: %v", err)
			}
			if e == nil {
				e = es[0]
			}
			if e.Kind != records.Invalid || e.Field != c.field || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s, field %q: %.300v\nwant %q: %s", e.Kind, e.Field, err, c.field, c.says)
			}
			for _, leak := range []string{"records.", "json:", "Go value", "strconv"} {
				if strings.Contains(err.Error(), leak) {
					t.Errorf("leaks %q: %v", leak, err)
				}
			}
		})
	}
}

// All wrong values are told at once, in a fixed order.
func TestDecodeRecordTellsAll(t *testing.T) {
	doc := strings.Replace(least, `"customer":`,
		`"sections":{"heat":{"seconds":"x","turns":1000},"pressure":{"meter_mbar":-1},"attic":{}},"customer":`, 1)
	first := decodeErr(doc).Error()
	for _, want := range []string{"heat.seconds", "heat.turns", "pressure.meter_mbar", "sections.attic"} {
		var es records.Errors
		if !errors.As(decodeErr(doc), &es) || len(es) != 4 {
			t.Fatalf("%v", decodeErr(doc))
		}
		found := false
		for _, e := range es {
			found = found || e.Field == want
		}
		if !found {
			t.Errorf("%s is not told of: %v", want, es)
		}
	}
	for range 20 {
		if got := decodeErr(doc).Error(); got != first {
			t.Fatalf("another order: %s\n%s", got, first)
		}
	}
}

func TestDecodeRecordTidies(t *testing.T) {
	doc := strings.NewReplacer("YO9 2AB", " yo92ab ", "1 Row", " 1 Row ", `"A"`, `" A "`).Replace(least)
	doc = strings.Replace(doc, `"customer":`,
		`"sections":{"heat":{"seconds":null,"start_m3":0012.500,"meter":" metric "},"flue":{"bends":[{},{"count":null}]}},"customer":`, 1)
	if decodeErr(doc) == nil {
		t.Fatal("0012.500 is not JSON")
	}
	r, err := records.DecodeRecord(strings.NewReader(strings.Replace(doc, "0012.500", "12.500", 1)))
	if err != nil {
		t.Fatal(err)
	}
	if r.Property.Postcode != "YO9 2AB" || r.Property.Line1 != "1 Row" || r.Contact.Name != "A" {
		t.Errorf("%+v %+v", r.Property, r.Contact)
	}
	if got := r.Values[records.HeatStartM3.Key].Text(); got != "12.500" || len(r.Values) != 2 {
		t.Errorf("start %q, %d values", got, len(r.Values))
	}
}

// Numbers keep the decimals they were entered with, and text that looks like
// HTML stays as it was.
func TestEncodeKeepsEntries(t *testing.T) {
	r := sample(t, "clear-combination-england")
	r.Values.Put(records.ForUser.Field, `5 < 6 & "quoted" </script> é €`)
	r.Values.Put(records.DropMbar.Field, "0.50")
	out := encoded(t, r)
	if !json.Valid(out) || !bytes.Contains(out, []byte(`5 < 6 & \"quoted\" </script> é €`)) ||
		!bytes.Contains(out, []byte(`"drop_mbar":0.50`)) {
		t.Errorf("%s", out)
	}
}

// No condition entries and an empty list are the same report.
func TestEncodeNoEntries(t *testing.T) {
	r := sample(t, "clear-combination-england")
	r.Condition = &records.ConditionReport{Told: "I. Marwood"}
	once := encoded(t, r)
	again, err := records.DecodeRecord(bytes.NewReader(once))
	if err != nil {
		t.Fatal(err)
	}
	if twice := encoded(t, again); !bytes.Equal(once, twice) || r.Condition.Entries != nil {
		t.Errorf("%s\n%s", once, twice)
	}
}
