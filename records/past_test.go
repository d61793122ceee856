package records

import (
	"bytes"
	"crypto/ed25519"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func sealedSample(tb testing.TB) []byte {
	tb.Helper()
	data, err := os.ReadFile("../testdata/records/clear-combination-england.json")
	if err != nil {
		tb.Fatal(err)
	}
	r, err := DecodeRecord(bytes.NewReader(data))
	if err != nil {
		tb.Fatal(err)
	}
	out, err := Issued{Number: "2026-00001", IssuedAt: time.Date(2026, 11, 25, 15, 0, 0, 0, time.UTC), Record: r,
		Standing: Clear, Findings: []Finding{{Rule: "heat.input", Section: "heat", Title: "Heat input",
			Outcome: Inside, Fields: []string{"heat.seconds", "heat.start_m3"}}},
		Earlier: []EarlierVisit{{Number: "2025-00001", WorkDate: MustDate("2025-11-25"), Purpose: Service,
			Readings: map[string]string{"combustion.max_co_ppm": "88", "heat.seconds": "60.2"}}},
	}.Canonical()
	if err != nil {
		tb.Fatal(err)
	}
	return out
}

// A record that was issued before a field was narrowed, retired, renamed or
// forgotten still decodes, keeps its bytes and its seal, and shows what it
// says.
func TestFieldsChangeAfterIssue(t *testing.T) {
	t.Parallel()
	text := sealedSample(t)
	key := ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))
	seal := SealOf(text, key)
	v := vary()
	v.narrow("tightness.test_pressure_mbar", 0, 1)
	v.narrow("flue.length_m", 0, 0.1)
	v.retire("heat.start_m3")
	v.rename("heat.seconds", "heat.time_s")
	v.rename("combustion.max_co_ppm", "combustion.full_rate_co_ppm")
	v.retireChoice("heat.meter", "metric")
	v.forget("appliance.serial")
	runs := v.field("tightness.runs")
	v.section("tightness.runs").Past["tightness.runs"] = Past{Columns: []*Field{runs.Column("length_m")}}
	runs.Columns = slices.DeleteFunc(runs.Columns, func(c *Field) bool { return c.Key == "length_m" })
	runs.Column("pipe").Key = "tube"
	v.section("tightness.runs").Past["tightness.runs.tube"] = Past{Keys: []string{"pipe"}}
	table := v.table()

	i, err := table.decodeIssued(text)
	if err != nil {
		t.Fatal(err)
	}
	again, err := i.Canonical()
	if err != nil || !bytes.Equal(again, text) || !seal.Holds(again, key.Public().(ed25519.PublicKey)) {
		t.Fatalf("written again as\n%s\n%v", again, err)
	}
	was, err := DecodeIssued(text)
	if err != nil {
		t.Fatal(err)
	}
	old := was.Record.Values
	for now, before := range map[string]string{"tightness.test_pressure_mbar": "tightness.test_pressure_mbar",
		"flue.length_m": "flue.length_m", "heat.start_m3": "heat.start_m3", "heat.time_s": "heat.seconds",
		"combustion.full_rate_co_ppm": "combustion.max_co_ppm", "heat.meter": "heat.meter",
		"appliance.serial": "appliance.serial"} {
		if got := i.Record.Values[now]; got.Text() != old[before].Text() || got.Text() == "" {
			t.Errorf("%s is %q, was %q", now, got.Text(), old[before].Text())
		}
	}
	if got := v.field("heat.meter").ChoiceLabel("metric"); got != "Cubic metres" {
		t.Errorf("a code no longer offered is shown as %q", got)
	}
	row := i.Record.Values["tightness.runs"].Rows()[0]
	if row.Text("tube") != old["tightness.runs"].Rows()[0].Text("pipe") || row.Float("length_m") == 0 {
		t.Errorf("row %v", row)
	}
	var columns []string
	for _, c := range runs.ColumnsIn(i.Record.Values["tightness.runs"].Rows()) {
		columns = append(columns, c.Key)
	}
	if columns[0] != "tube" || columns[len(columns)-1] != "length_m" {
		t.Errorf("columns %q", columns)
	}
	if got := i.Findings[0].Fields; !slices.Equal(got, []string{"heat.time_s", "heat.start_m3"}) {
		t.Errorf("the finding reads %q", got)
	}
	if got := i.Earlier[0].Readings["combustion.full_rate_co_ppm"]; got != "88" {
		t.Errorf("the reading of an earlier visit is %q", got)
	}
	var kept []string
	for _, k := range i.Record.oldBeside(v.sections) {
		kept = append(kept, k.Field.Label+": "+k.Value.Text())
	}
	if !slices.Equal(kept, []string{"Serial: " + old["appliance.serial"].Text(),
		"Reading at the start: " + old["heat.start_m3"].Text()}) {
		t.Errorf("kept %q", kept)
	}
}

// A record that holds both names of a field says under the name of today what
// it says there, whichever comes first; the other is shown beside it.
func TestBothNamesOfAField(t *testing.T) {
	t.Parallel()
	v := vary()
	v.rename("heat.seconds", "heat.time_s")
	for _, doc := range []string{`{"sections":{"heat":{"seconds":60,"time_s":61}}}`,
		`{"sections":{"heat":{"time_s":61,"seconds":60}}}`} {
		r, err := v.table().decodeStored([]byte(doc))
		if err != nil || r.Values["heat.time_s"].Text() != "61" || r.Values["heat.seconds"].Text() != "60" {
			t.Errorf("%s: %v, %v", doc, r.Values, err)
		}
		if kept := r.oldBeside(v.sections); len(kept) != 1 || kept[0].Value.Text() != "60" {
			t.Errorf("%s: beside it %v", doc, kept)
		}
		if out, err := EncodeRecord(r); err != nil || string(out) != doc {
			t.Errorf("%s is written as %s, %v", doc, out, err)
		}
	}
}

// The entry reader takes nothing of the past, and says what became of it.
func TestEntryRefusesThePast(t *testing.T) {
	t.Parallel()
	v := vary()
	v.retire("heat.turns")
	v.rename("heat.seconds", "heat.time_s")
	table := v.table()
	for key, want := range map[string]string{
		"heat.turns":   "Whole turns timed: this is no longer asked for",
		"heat.seconds": "Time between the readings: this field has been renamed: give it as heat.time_s",
		"heat.colour":  "heat.colour: there is no such field",
	} {
		if got := table.goneError(key).Error(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
		if table.current[key] != nil {
			t.Errorf("%s is asked for", key)
		}
	}
}

// A draft of before is set aside by the table of today.
func TestDraftAfterFieldsChanged(t *testing.T) {
	t.Parallel()
	v := vary()
	v.narrow("heat.seconds", 1, 10)
	v.retire("heat.start_m3")
	v.rename("heat.end_m3", "heat.last_m3")
	v.retireChoice("heat.meter", "metric")
	table := v.table()
	i, err := table.decodeIssued(sealedSample(t))
	if err != nil {
		t.Fatal(err)
	}
	r := i.Record
	r.setAsideBy(table)
	for key, says := range map[string]string{"heat.seconds": "from 1 to 10 s",
		"heat.start_m3": "Reading at the start: this is no longer asked for", "heat.meter": "give one of imperial"} {
		if no := r.Rejected[key]; !strings.Contains(no.Message, says) || no.Entry == "" || r.Values[key].Present() {
			t.Errorf("%s: %+v, value %q", key, no, r.Values[key].Text())
		}
	}
	if len(r.Rejected) != 3 || !r.Values["heat.last_m3"].Present() {
		t.Errorf("%v", r.Rejected)
	}
}

// Whatever is changed about fields, no value of an issued record is lost, and
// its bytes stay.
func TestNothingIsLostWhateverChanges(t *testing.T) {
	t.Parallel()
	text := sealedSample(t)
	was, err := DecodeIssued(text)
	if err != nil {
		t.Fatal(err)
	}
	keys := sortedKeys(was.Record.Values)
	rapid.Check(t, func(t *rapid.T) {
		v := vary()
		now := map[string]string{}
		for _, key := range rapid.SliceOfNDistinct(rapid.SampledFrom(keys), 1, 12, rapid.ID).Draw(t, "keys") {
			now[key] = key
			switch rapid.IntRange(0, 5).Draw(t, "change") {
			case 0:
				v.narrow(key, 1e6, 1e6+1)
			case 1:
				v.retire(key)
			case 2:
				v.forget(key)
			case 3:
				now[key] = key + "_now"
				v.rename(key, now[key])
			case 4:
				if f := v.field(key); f.Kind == ChoiceKind {
					v.retireChoice(key, was.Record.Values[key].Text())
				}
			case 5: // another kind under the same key: never to be done, and survived
				v.field(key).Kind = rapid.SampledFrom([]FieldKind{NumberKind, FlagKind, TextKind, RowsKind}).Draw(t,
					"kind")
			}
		}
		table := v.table()
		i, err := table.decodeIssued(text)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := i.Canonical(); err != nil || !bytes.Equal(again, text) {
			t.Fatalf("written again as\n%s\n%v", again, err)
		}
		shown := map[string]Value{}
		for _, k := range i.Record.oldBeside(v.sections) {
			shown[k.Field.Key] = k.Value
		}
		for _, key := range keys {
			want := was.Record.Values[key]
			at := key
			if now[key] != "" {
				at = now[key]
			}
			got, asked := i.Record.Values[at], table.current[at] != nil
			if !asked {
				got = shown[at]
			}
			if got.Text() != want.Text() || len(got.Rows()) != len(want.Rows()) {
				t.Fatalf("%s is %q as %s, was %q", key, got.Text(), at, want.Text())
			}
		}
		i.Record.setAsideBy(table)
		for _, key := range keys {
			at := key
			if now[key] != "" {
				at = now[key]
			}
			if _, waits := i.Record.Rejected[at]; !waits && !i.Record.Values[at].Present() {
				t.Fatalf("%s is neither a value nor a rejected entry", at)
			}
		}
	})
}

// A key, code or column name is never used again for something else: an old
// record would be read as saying what nobody said.
func TestNamesAreNeverUsedAgain(t *testing.T) {
	if faults := reused(Sections); len(faults) > 0 {
		t.Errorf("used twice: %q", faults)
	}
	v := vary()
	v.rename("heat.seconds", "heat.time_s")
	v.retire("heat.turns")
	v.retireChoice("heat.meter", "metric")
	if faults := reused(v.sections); len(faults) > 0 {
		t.Errorf("a right change is called a fault: %q", faults)
	}
	s := v.section("heat.meter")
	s.Groups[0].Fields = append(s.Groups[0].Fields, number("heat.turns", "x", "", 0, 1, 0).Field,
		number("heat.seconds", "x", "", 0, 1, 0).Field)
	f := v.field("heat.meter")
	f.Choices = append(f.Choices, Choice{"metric", "Metres"})
	s.Past["heat.nothing"] = Past{Keys: []string{"heat.some"}}
	want := []string{"code metric of heat.meter", "heat.nothing has a past and is no field", "heat.seconds",
		"heat.turns"}
	if faults := reused(v.sections); !slices.Equal(faults, want) {
		t.Errorf("faults %q, want %q", faults, want)
	}
}

// reused returns what stands twice among the names of now and before.
func reused(sections []*Section) []string {
	count, faults := map[string]int{}, []string{}
	for _, s := range sections {
		known := map[string]bool{}
		names := func(prefix string, fs []*Field) {
			for _, f := range fs {
				at := prefix + f.Key
				known[at] = true
				count[at]++
				for _, was := range s.Past[at].Keys {
					if prefix != "" {
						was = prefix + was
					}
					count[was]++
				}
				for _, c := range append(slices.Clone(f.Choices), s.Past[at].Choices...) {
					count["code "+c.Code+" of "+at]++
				}
			}
		}
		names("", append(s.Fields(), s.Retired...))
		for _, f := range s.Fields() {
			names(f.Key+".", append(slices.Clone(f.Columns), s.Past[f.Key].Columns...))
		}
		for key := range s.Past {
			if !known[key] {
				faults = append(faults, key+" has a past and is no field")
			}
		}
	}
	for name, n := range count {
		if n > 1 {
			faults = append(faults, name)
		}
	}
	slices.Sort(faults)
	return faults
}
