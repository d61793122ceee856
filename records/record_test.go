package records_test

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaugebook/records"
)

func TestInstrumentOfTheRecord(t *testing.T) {
	r := &records.Record{Instruments: []records.Instrument{
		{ID: "g", Kind: "gauge", Make: "Whitlow", Model: "DM 9", Serial: "W-9"},
		{ID: "t", Kind: "thermometer", Serial: "T-1"}}}
	for id, want := range map[string]string{"g": "gauge Whitlow DM 9, serial W-9", "t": "thermometer, serial T-1"} {
		if i, ok := r.Instrument(id); !ok || i.Name() != want {
			t.Errorf("%s: %q, want %q", id, i.Name(), want)
		}
	}
	if i, ok := r.Instrument("x"); ok || i.ID != "" {
		t.Errorf("an instrument that is not on the record: %+v", i)
	}
}

// A visit before this one is shown by the readings that are followed, as they
// were entered; what was not read is left out.
func TestEarlierVisitOf(t *testing.T) {
	r := sample(t, "clear-combination-england")
	v := records.EarlierVisitOf("2026-00007", r)
	if v.Number != "2026-00007" || v.WorkDate != r.WorkDate || v.Purpose != r.Purpose {
		t.Errorf("%+v", v)
	}
	for _, f := range records.DriftFields {
		if v.Readings[f.Key] != r.Values[f.Key].Text() || v.Readings[f.Key] == "" {
			t.Errorf("%s: %q, entered %q", f.Key, v.Readings[f.Key], r.Values[f.Key].Text())
		}
	}
	if len(v.Readings) != len(records.DriftFields) {
		t.Errorf("%d readings are followed, not %d", len(v.Readings), len(records.DriftFields))
	}
	delete(r.Values, records.COMinPPM.Key)
	if v = records.EarlierVisitOf("2026-00007", r); len(v.Readings) != len(records.DriftFields)-1 {
		t.Errorf("a reading that was not taken is there: %v", v.Readings)
	}
	if v = records.EarlierVisitOf("1", &records.Record{}); v.Readings == nil || len(v.Readings) != 0 {
		t.Errorf("%v", v.Readings)
	}
}

// Refused rows are kept as one text that reads as the same rows again.
func TestEntryOfRows(t *testing.T) {
	rows := []map[string]string{{"pipe": "lead", "length_m": "<long> & \"wide\""}, {}, {"pipe": ""}}
	entry := records.EntryOfRows(rows)
	var back []map[string]string
	if err := json.Unmarshal([]byte(entry), &back); err != nil || !slices.EqualFunc(back, rows, maps.Equal) {
		t.Errorf("%s reads as %v, %v", entry, back, err)
	}
	if strings.Contains(entry, `\u003c`) {
		t.Errorf("what was typed is not shown as typed: %s", entry)
	}
}

func TestEvaluationOf(t *testing.T) {
	for want, outcomes := range map[records.Standing][]records.Outcome{
		records.Clear: {records.Inside, records.Exempt}, records.Open: {records.Inside, records.Missing},
		records.Adverse: {records.Missing, records.Outside}} {
		if got := records.EvaluationOf(findings(outcomes...)); got.Standing != want || len(got.Findings) != 2 {
			t.Errorf("%v: %s, %d findings", outcomes, got.Standing, len(got.Findings))
		}
	}
	out, err := json.Marshal(records.EvaluationOf(nil))
	if err != nil || string(out) != `{"standing":"open","findings":[]}` {
		t.Errorf("nothing judged is given as %s, %v", out, err)
	}
}

// Two values are equal when they were entered alike: a program must not take
// 0.5 for 0.50, since the second was read finer.
func TestValueEqual(t *testing.T) {
	of := func(f *records.Field, entry string) records.Value {
		v, err := f.Parse(entry)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	rows := func(in ...map[string]string) records.Value {
		v, errs := records.FlueBends.ParseRows(in)
		if errs != nil {
			t.Fatal(errs)
		}
		return v
	}
	drop, make := records.DropMbar.Field, records.ApplianceMake.Field
	for _, c := range []struct {
		name string
		a, b records.Value
		want bool
	}{
		{"the same", of(drop, "0.5"), of(drop, "0.5"), true},
		{"zeros in front", of(drop, "00.5"), of(drop, ".5"), true},
		{"finer", of(drop, "0.5"), of(drop, "0.50"), false},
		{"absent", records.Value{}, records.Value{}, true},
		{"absent and zero", records.Value{}, of(drop, "0"), false},
		{"number and text", of(drop, "5"), of(make, "5"), false},
		{"the same rows", rows(map[string]string{"count": "1"}), rows(map[string]string{"count": "1"}), true},
		{"another cell", rows(map[string]string{"count": "1"}), rows(map[string]string{"count": "2"}), false},
		{"a column more", rows(map[string]string{"count": "1"}), rows(map[string]string{"count": "1",
			"angle_deg": "90"}), false},
		{"a row more", rows(map[string]string{"count": "1"}), rows(map[string]string{"count": "1"},
			map[string]string{"count": "1"}), false},
		{"another column", rows(map[string]string{"count": "5"}), rows(map[string]string{"angle_deg": "5"}), false},
	} {
		if c.a.Equal(c.b) != c.want || c.b.Equal(c.a) != c.want {
			t.Errorf("%s: equal %v", c.name, c.a.Equal(c.b))
		}
	}
}

// Values written in code that no field takes are a fault of the program and
// show at once.
func TestPutPanics(t *testing.T) {
	for name, put := range map[string]func(records.Values){
		"number": func(vs records.Values) { vs.Put(records.DropMbar.Field, "40 mbar") },
		"choice": func(vs records.Values) { vs.Put(records.ApplianceFuel.Field, "coal") },
		"rows":   func(vs records.Values) { vs.PutRows(records.FlueBends, map[string]string{"angle_deg": "wide"}) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: a wrong value in code goes unnoticed", name)
				}
			}()
			put(records.Values{})
		}()
	}
	vs := records.Values{}
	vs.PutRows(records.FlueBends, map[string]string{"angle_deg": "90", "count": "2"})
	if rows := vs.Rows(records.FlueBends); len(rows) != 1 || rows[0].Float("count") != 2 {
		t.Errorf("%v", rows)
	}
}

// Which sections an appliance does not have, and why: a section that does not
// apply says so, and no other is left out.
func TestSectionsThatDoNotApply(t *testing.T) {
	set := func(pairs ...string) records.Values {
		vs := records.Values{}
		for i := 0; i < len(pairs); i += 2 {
			vs.Put(records.FieldByKey(pairs[i]), pairs[i+1])
		}
		return vs
	}
	kind, flue, examined := records.ApplianceKind.Key, records.ApplianceFlue.Key, records.Examined.Key
	for _, c := range []struct {
		name   string
		vs     records.Values
		exempt string // sections, in order
		says   string // of the first
	}{
		{"nothing entered", set(), "", ""},
		{"combination boiler", set(kind, records.KindCombination, flue, records.FlueSealedFanned), "", ""},
		{"system boiler", set(kind, records.KindSystem), "", ""},
		{"water heater", set(kind, records.KindWaterHeater), "", ""},
		{"warm air", set(kind, records.KindWarmAir), "water delivery", "heats air, not water"},
		{"fire", set(kind, records.KindFire), "water delivery", "heats the room, not water"},
		{"range cooker", set(kind, records.KindRange), "water delivery", "a boiler in it is an appliance of its own"},
		{"cooker", set(kind, records.KindCooker), "combustion water delivery", "judged by its flame picture"},
		{"flueless heater", set(kind, records.KindSpaceHeater, flue, records.FlueNone),
			"combustion flue water delivery", "no flue to sample"},
		{"flueless water heater", set(kind, records.KindWaterHeater, flue, records.FlueNone), "flue", "has no flue"},
		{"pressure examined", set(examined, records.ExaminedPressure), "heat", "operating pressure was examined"},
		{"input examined", set(examined, records.ExaminedInput), "", ""},
		{"both examined", set(examined, records.ExaminedBoth), "", ""},
		{"neither", set(examined, records.ExaminedNeither), "heat", "combustion was examined instead"},
		{"neither, cooker", set(examined, records.ExaminedNeither, kind, records.KindCooker), "heat water delivery",
			"combustion was examined instead"},
	} {
		var got []string
		first := ""
		for _, s := range records.Sections {
			if why := s.ExemptReason(c.vs); why != "" {
				got = append(got, string(s.ID))
				if first == "" {
					first = why
				}
			}
		}
		if strings.Join(got, " ") != c.exempt || !strings.Contains(first, c.says) {
			t.Errorf("%s: %q, %q; want %q", c.name, got, first, c.exempt)
		}
	}
}

func TestFuelAndFlueOfTheAppliance(t *testing.T) {
	for _, c := range records.ApplianceFuel.Choices {
		vs := records.Values{}
		vs.Put(records.ApplianceFuel.Field, c.Code)
		if want := c.Code == records.FuelPropane || c.Code == records.FuelButane; vs.LPG() != want {
			t.Errorf("%s: LPG %v", c.Code, vs.LPG())
		}
	}
	for _, c := range records.ApplianceFlue.Choices {
		vs := records.Values{}
		vs.Put(records.ApplianceFlue.Field, c.Code)
		if want := c.Code == records.FlueOpenFanned || c.Code == records.FlueOpenNatural; vs.OpenFlued() != want {
			t.Errorf("%s: open flued %v", c.Code, vs.OpenFlued())
		}
	}
	if (records.Values{}).LPG() || (records.Values{}).OpenFlued() {
		t.Error("nothing entered is LPG, or open flued")
	}
}

// DecodeStrict reads the documents of the API: one value, known names, once.
func TestDecodeStrict(t *testing.T) {
	type inner struct {
		Due records.Date `json:"due"`
		N   int          `json:"n"`
	}
	type outer struct {
		Name string  `json:"name"`
		List []inner `json:"list"`
		Yes  bool    `json:"yes"`
	}
	var got outer
	if err := records.DecodeStrict([]byte(`{"name":"a","list":[{"due":"2026-11-25","n":2}],"yes":true}`),
		&got); err != nil ||
		got.List[0].N != 2 || got.List[0].Due != records.MustDate("2026-11-25") || !got.Yes {
		t.Errorf("%+v, %v", got, err)
	}
	for name, c := range map[string]struct{ doc, field, says string }{
		"unknown name":     {`{"colour":1}`, "colour", "there is no such field"},
		"deep unknown":     {`{"list":[{"colour":1}]}`, "colour", "there is no such field"},
		"twice":            {`{"name":"a","name":"b"}`, "name", "given twice"},
		"twice in a list":  {`{"list":[{"n":1},{"n":1,"n":2}]}`, "list[1].n", "given twice"},
		"capitals":         {`{"Name":"a"}`, "Name", "small letters"},
		"text for number":  {`{"list":[{"n":"2"}]}`, "list.n", "a number without quotes"},
		"number for text":  {`{"name":2}`, "name", "text in quotes"},
		"object for list":  {`{"list":{}}`, "list", "a list in [ ]"},
		"text for yes":     {`{"yes":"yes"}`, "yes", "true or false"},
		"no such day":      {`{"list":[{"due":"2026-11-25"},{"due":"2026-02-30"}]}`, "list[1].due", "“2026-02-30”"},
		"two values":       {`{}{}`, "record", "something after its end"},
		"cut off":          {`{"name":`, "record", "ends too early"},
		"empty":            {``, "record", "it is empty"},
		"not UTF-8":        {"{\"name\":\"\xff\"}", "record", "not UTF-8"},
		"fraction":         {`{"list":[{"n":1.5}]}`, "list.n", "a number without quotes"},
		"far out of range": {`{"list":[{"n":99999999999999999999}]}`, "list.n", "a number without quotes"},
	} {
		err := records.DecodeStrict([]byte(c.doc), new(outer))
		if got := fieldsOf(err); len(got) != 1 || got[0] != c.field || !strings.Contains(err.Error(), c.says) ||
			records.KindOf(err) != records.Invalid {
			t.Errorf("%s: about %q: %v", name, got, err)
		}
	}
}

// Values of stored appliances: those of today and of before, and the same
// bytes again.
func TestDecodeStoredValues(t *testing.T) {
	doc := `{"appliance":{"fuel":"town-gas","make":"Emberline","old_plate":"A1"},"heat":{"seconds":61.10}}`
	vs, err := records.DecodeStoredValues([]byte(doc))
	if err != nil {
		t.Fatal(err)
	}
	if vs.Choice(records.ApplianceFuel) != "town-gas" || vs.Text(records.ApplianceMake) != "Emberline" ||
		vs["appliance.old_plate"].Text() != "A1" || vs.LPG() {
		t.Errorf("%v", vs)
	}
	if out, err := json.Marshal(vs); err != nil || string(out) != doc {
		t.Errorf("written again as %s, %v", out, err)
	}
	var strict records.Values
	if err := strict.UnmarshalJSON([]byte(doc)); len(fieldsOf(err)) != 3 || strict != nil {
		t.Errorf("entry takes them: %v", err)
	}
}

// A number written in plain decimal is the number that was meant, at the
// decimals asked for, and never minus zero.
func TestFormatNumberReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-1e9, 1e9).Draw(t, "x")
		decimals := rapid.IntRange(0, 6).Draw(t, "decimals")
		s := records.FormatNumber(x, decimals)
		whole, frac, _ := strings.Cut(strings.TrimPrefix(s, "-"), ".")
		if len(frac) != decimals || whole == "" || strings.ContainsAny(s, "eE+") ||
			strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
			t.Fatalf("%v with %d decimals is %s", x, decimals, s)
		}
		// More than half a unit of the last decimal away would be another number.
		got, off := exact(s), exact("1")
		for range decimals {
			off.Quo(off, exact("10"))
		}
		got.Sub(got, exact(records.FormatNumber(x, -1)))
		if got.Abs(got).Cmp(off.Quo(off, exact("2"))) > 0 {
			t.Fatalf("%v with %d decimals is %s", x, decimals, s)
		}
	})
}

// The emergency number is the same on every page of every record: it follows
// from nation and fuel alone and none of it is left to a template.
func TestEmergencyIsComplete(t *testing.T) {
	for _, nation := range append(slices.Clone(records.Nations), "") {
		e := records.Emergency(nation, records.FuelNatural)
		if e.Call() != e.Number || e.Instead != "" || !strings.HasPrefix(e.Tel, "0800") {
			t.Errorf("%q: %+v", nation, e)
		}
		lpg := records.Emergency(nation, records.FuelPropane)
		if lpg.Call() != lpg.Instead || lpg.Number != "" || lpg.Tel != "" || lpg.Do[0] == e.Do[0] {
			t.Errorf("%q, LPG: %+v", nation, lpg)
		}
		if !slices.Equal(lpg.Do[1:], e.Do[1:]) {
			t.Errorf("%q: LPG is told something else to do: %q", nation, lpg.Do[1:])
		}
	}
}
