package records_test

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
)

// A draft of before is read as it was stored; what today's fields do not
// accept waits among the rejected entries, named, with what was entered.
func TestSetAside(t *testing.T) {
	for _, c := range []struct {
		name, sections string
		key            string // set aside; "" for nothing
		entry, says    string
	}{
		{"all of it fits", `{"heat":{"seconds":61.1,"meter":"metric"}}`, "", "", ""},
		{"spaces that are trimmed", `{"appliance":{"make":" A "}}`, "", "", ""},
		{"out of range", `{"heat":{"seconds":4000}}`, "heat.seconds", "4000",
			"Time between the readings: out of range: “4000” is not accepted: give a number from 1 to 3600 s"},
		{"too many decimals", `{"heat":{"seconds":61.123}}`, "heat.seconds", "61.123", "too many decimals"},
		{"a code not offered", `{"heat":{"meter":"gallons"}}`, "heat.meter", "gallons", "give one of metric, imperial"},
		{"too long", `{"appliance":{"make":"` + strings.Repeat("x", 61) + `"}}`, "appliance.make",
			strings.Repeat("x", 61), "61 characters are too many"},
		{"a shape that changed", `{"heat":{"time":"9.05"}}`, "heat.time", "9.05", "HH:MM"},
		{"another kind", `{"tightness":{"smell":"slight"}}`, "tightness.smell", "slight", "give yes or no"},
		{"a number for text", `{"appliance":{"make":7}}`, "appliance.make", "7", "“7” is not accepted"},
		{"an unknown field", `{"heat":{"old_dial":4}}`, "heat.old_dial", "4",
			"Heat: old dial: this is no longer asked for"},
		{"an unknown section", `{"chimney":{"height_m":6}}`, "chimney.height_m", "6",
			"Chimney: height m: this is no longer asked for"},
		{"a cell out of range", `{"flue":{"bends":[{"angle_deg":90},{"angle_deg":200}]}}`, "flue.bends",
			`[{"angle_deg":"90"},{"angle_deg":"200"}]`, "row 2, Angle: out of range"},
		{"an unknown column", `{"flue":{"bends":[{"angle_deg":90,"wrapped":"felt"}]}}`, "flue.bends",
			`[{"angle_deg":"90","wrapped":"felt"}]`, "“wrapped” is not accepted: give a column"},
		{"rows that were text", `{"flue":{"bends":"two"}}`, "flue.bends", "two", "at most 20 rows"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := readBack(t, strings.Replace(least, `"customer":`, `"sections":`+c.sections+`,"customer":`, 1))
			before := len(r.Values)
			r.SetAside()
			if c.key == "" {
				if len(r.Rejected) > 0 || len(r.Values) != before {
					t.Errorf("rejected %v", r.Rejected)
				}
				return
			}
			no, ok := r.Rejected[c.key]
			if !ok || no.Entry != c.entry || !strings.Contains(no.Message, c.says) || len(r.Rejected) != 1 {
				t.Errorf("%+v, want %q: %s", r.Rejected, c.entry, c.says)
			}
			if r.Values[c.key].Present() {
				t.Error("the value still stands: a rule would judge it")
			}
			if _, err := records.DecodeRecord(strings.NewReader(string(encoded(t, r)))); err != nil {
				t.Errorf("what is left is not as if entered today: %v", err)
			}
		})
	}
}

// What stood outside the sections is set aside too, and only once.
func TestSetAsideOutsideTheSections(t *testing.T) {
	r := readBack(t, strings.Replace(least, `"customer":`, `"weather":"dry","customer":`, 1))
	r.SetAside()
	want := records.Rejection{Entry: "dry", Message: "Weather: this is no longer asked for"}
	if r.Rejected["weather"] != want || len(r.OldEntries()) != 0 {
		t.Errorf("%v, kept %v", r.Rejected, r.OldEntries())
	}
	if out := encoded(t, r); bytes.Contains(out, []byte("weather")) {
		t.Errorf("set aside, it is still written: %s", out)
	}
	delete(r.Rejected, "weather")
	if r.SetAside(); len(r.Rejected) != 0 {
		t.Errorf("left out, it came back: %v", r.Rejected)
	}
}

// An entry that was refused later than the value was saved stays, and the
// value is not lost beside it.
func TestSetAsideKeepsTheLaterEntry(t *testing.T) {
	r := readBack(t, strings.Replace(least, `"customer":`, `"sections":{"heat":{"seconds":4000}},"customer":`, 1))
	r.Rejected = map[string]records.Rejection{"heat.seconds": {Entry: "61,1", Message: "write a decimal point"}}
	r.SetAside()
	if no := r.Rejected["heat.seconds"]; no.Entry != "61,1" ||
		no.Message != "write a decimal point. Saved before: “4000”" {
		t.Errorf("%+v", no)
	}
	r.Rejected["heat.turns"] = records.Rejection{Entry: "x", Message: "y"}
	if r.SetAside(); len(r.Rejected) != 2 {
		t.Errorf("%v", r.Rejected)
	}
}

// A record cannot be issued while entries wait; each is named with what was
// entered, those of the form in its order and those of no form last.
func TestNotAccepted(t *testing.T) {
	r := &records.Record{}
	if err := r.NotAccepted(); err != nil {
		t.Errorf("nothing waits, yet %v", err)
	}
	r.Rejected = map[string]records.Rejection{"weather": {Entry: "dry"}, "heat.seconds": {Entry: "4000"},
		"appliance.make": {Entry: "x"}, "chimney.height_m": {Entry: "6"}}
	if got := r.RejectedKeys(); !slices.Equal(got, []string{"appliance.make", "heat.seconds", "chimney.height_m",
		"weather"}) {
		t.Errorf("order %q", got)
	}
	err := r.NotAccepted()
	var es records.Errors
	if !errors.As(err, &es) || len(es) != 4 || records.KindOf(err) != records.NotReady {
		t.Fatalf("%v", err)
	}
	for i, want := range []string{"Make: “x” was not accepted", "Time between the readings: “4000” was not accepted",
		"Chimney: height m: “6” was not accepted", "Weather: “dry” was not accepted: put it right or leave it out"} {
		if !strings.HasPrefix(es[i].Error(), want) {
			t.Errorf("%q, want %q", es[i], want)
		}
	}
}
