package records_test

import (
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
)

// The number of Great Britain is the one that the Health and Safety Executive
// publishes under Gas safety, emergency contacts. That of Northern Ireland is
// from memory, unconfirmed: the note must say to compare it.
func TestEmergency(t *testing.T) {
	for _, nation := range records.Nations {
		for _, fuel := range []string{records.FuelNatural, records.FuelPropane, records.FuelButane, ""} {
			e := records.Emergency(nation, fuel)
			lpg := fuel == records.FuelPropane || fuel == records.FuelButane
			want := "0800 111 999"
			switch {
			case lpg:
				want = ""
			case nation == records.NorthernIreland:
				want = "0800 002 001"
			}
			if e.Number != want || e.Tel != strings.ReplaceAll(want, " ", "") {
				t.Errorf("%s, %q: number %q, tel %q", nation, fuel, e.Number, e.Tel)
			}
			if want != "" && !slices.Contains(records.EmergencyNumbers, want) {
				t.Errorf("%s is not among the numbers", want)
			}
			if e.Call() == "" || len(e.Do) != 4 || e.Note == "" || (e.Instead == "") == lpg {
				t.Errorf("%s, %q: %+v", nation, fuel, e)
			}
			if nation == records.NorthernIreland && (strings.Contains(e.Note, "111 999") || !lpg &&
				!strings.Contains(e.Note, "Compare this number with your gas supplier’s")) {
				t.Errorf("%s, %q: note %q", nation, fuel, e.Note)
			}
			if fuel == "" != strings.Contains(e.Note, "If you burn LPG") {
				t.Errorf("%s, %q: note %q", nation, fuel, e.Note)
			}
			if lpg != strings.Contains(e.Do[0], "vessel or cylinders") {
				t.Errorf("%s, %q: %q", nation, fuel, e.Do[0])
			}
			for _, s := range append(e.Do, e.Note) {
				if !strings.HasSuffix(s, ".") {
					t.Errorf("%q is no sentence", s)
				}
			}
		}
	}
}
