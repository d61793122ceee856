package records_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
)

// What every entry of the list must hold, the next one included.
func TestEditionsAreWhole(t *testing.T) {
	codes, names, labels := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, e := range records.TightnessEditions {
		if codes[e.Code] || names[e.Name] || labels[e.Label] || e.Code == "" || e.Name == "" || e.Label == "" {
			t.Errorf("%q: code, name and label must be there and be its own", e.Code)
		}
		codes[e.Code], names[e.Name], labels[e.Label] = true, true, true
		if !strings.HasPrefix(strings.ToLower(e.Label), e.Name) {
			t.Errorf("%s: the label %q does not begin with the name %q", e.Code, e.Label, e.Name)
		}
		if e.Source.Document == "" || e.Source.Edition == "" || e.Source.Confidence == "" {
			t.Errorf("%s: no source: %+v", e.Code, e.Source)
		}
		for name, low := range map[string]float64{"volume": e.MostVolumeM3, "let-by time": e.LetByLeastMin,
			"let-by": e.LetByMbar[0], "test pressure": e.TestMbar[0], "time to stabilise": e.StabiliseLeastMin,
			"time of the test": e.TestLeastMin, "purge volumes": e.PurgeVolumes} {
			if !(low > 0) {
				t.Errorf("%s: %s is %v", e.Code, name, low)
			}
		}
		if e.LetByMbar[0] >= e.LetByMbar[1] || e.LetByMbar[1] >= e.TestMbar[0] || e.TestMbar[0] >= e.TestMbar[1] {
			t.Errorf("%s: let-by %v and test pressure %v are out of order", e.Code, e.LetByMbar, e.TestMbar)
		}
		if e.ReducedTestMbar < 0 || e.ReducedTestMbar >= e.TestMbar[0] {
			t.Errorf("%s: reduced test pressure %v", e.Code, e.ReducedTestMbar)
		}
		if e.PurgeSource == "" {
			t.Errorf("%s: how sure the purge volume is, is not said", e.Code)
		}
	}
}

// Without a figure for each kind of gauge, or for each meter, a test could not
// be judged.
func TestEditionsCoverGaugesAndMeters(t *testing.T) {
	for _, e := range records.TightnessEditions {
		gauges := map[string]bool{}
		for _, m := range e.Movement {
			if m.Mbar <= 0 || m.Confidence == "" || gauges[m.Gauge] {
				t.Errorf("%s: movement %+v", e.Code, m)
			}
			gauges[m.Gauge] = true
		}
		for _, c := range records.TightnessGaugeHow.Choices {
			if !gauges[c.Code] {
				t.Errorf("%s: no movement for the gauge %s", e.Code, c.Code)
			}
		}
		if (e.OwnerDrops != nil) == (e.Drops != nil) {
			t.Errorf("%s: permissible drops are either listed or the owner's", e.Code)
		}
		if e.AnyVolumeMbar > 0 && (e.OwnerDrops == nil || e.AnyVolumeSource == "") {
			t.Errorf("%s: a drop for any volume belongs to the owner's table, with a source", e.Code)
		}
		if e.Drops != nil {
			coverMeters(t, e)
		}
	}
}

// coverMeters wants the bands of each meter to follow one another from 0, and
// a larger pipe never to allow more.
func coverMeters(t *testing.T, e records.ProcedureEdition) {
	t.Helper()
	reached, allowed := map[string]float64{}, map[string]float64{}
	for _, d := range e.Drops {
		if d.OverMM != reached[d.Meter] || d.UpToMM <= d.OverMM || d.Mbar <= 0 || d.Confidence == "" {
			t.Errorf("%s: drop %+v after %v mm", e.Code, d, reached[d.Meter])
		}
		if was, ok := allowed[d.Meter]; ok && d.Mbar > was {
			t.Errorf("%s: %s allows %v mbar with larger pipe, %v before", e.Code, d.Meter, d.Mbar, was)
		}
		reached[d.Meter], allowed[d.Meter] = d.UpToMM, d.Mbar
	}
	for _, c := range records.TightnessMeter.Choices {
		if reached[c.Code] == 0 {
			t.Errorf("%s: no drop for the meter %s", e.Code, c.Code)
		}
	}
}

func inForce(day records.Date) []string {
	var codes []string
	for _, e := range records.TightnessEditions {
		if e.Source.InForce(day) {
			codes = append(codes, e.Code)
		}
	}
	return codes
}

// From the first day to the last there is always an edition in force, and the
// dates run forwards.
func TestEditionsLeaveNoGap(t *testing.T) {
	list := records.TightnessEditions
	if !list[0].Source.From.IsZero() || !list[len(list)-1].Source.Until.IsZero() {
		t.Error("the oldest edition must have no first day, the newest no last")
	}
	for i, e := range list[1:] {
		before := list[i].Source
		if e.Source.From.IsZero() || before.Until.IsZero() || e.Source.From.After(before.Until.AddDays(1)) {
			t.Errorf("%s begins %q, the one before ends %q", e.Code, e.Source.From, before.Until)
		}
		if !before.From.IsZero() && !before.From.Before(e.Source.From) {
			t.Errorf("%s begins before the edition listed before it", e.Code)
		}
	}
	for day := records.MustDate("2024-01-01"); day.Year < 2032; day = day.AddDays(1) {
		if inForce(day) == nil {
			t.Fatalf("no edition on %s", day)
		}
	}
}

// Source: Industry Standard Update 133, second edition, 15 April 2026.
func TestEditionsInForceByDate(t *testing.T) {
	for day, want := range map[string]string{
		"2019-05-01": "edition-3", "2026-02-28": "edition-3", "2026-03-01": "edition-3 edition-4",
		"2026-09-30": "edition-3 edition-4", "2026-10-01": "edition-4",
	} {
		if got := strings.Join(inForce(records.MustDate(day)), " "); got != want {
			t.Errorf("%s: %s, want %s", day, got, want)
		}
	}
}

func TestEditionsAreTheChoices(t *testing.T) {
	field := records.TightnessEdition
	if len(field.Choices) != len(records.TightnessEditions) {
		t.Fatalf("%d choices for %d editions", len(field.Choices), len(records.TightnessEditions))
	}
	for i, e := range records.TightnessEditions {
		if field.Choices[i] != (records.Choice{Code: e.Code, Label: e.Label}) {
			t.Errorf("choice %d is %+v", i, field.Choices[i])
		}
		if v, err := field.Parse(e.Code); err != nil || v.Text() != e.Code {
			t.Errorf("%s is not accepted: %v", e.Code, err)
		}
	}
	if want := "1 March 2026 to 30 September 2026"; !strings.Contains(field.Hint, want) {
		t.Errorf("the hint does not name the days with a choice: %q", field.Hint)
	}
}

// A table of an edition whose drops are not the owner's would never be looked
// at, so it is refused.
func TestDropTablesAreOfEditionsThatTakeThem(t *testing.T) {
	for _, e := range records.TightnessEditions {
		b := records.DropBands{Edition: e.Code, Fuel: records.FuelNatural, Clause: "invented", EnteredBy: "nobody",
			Bands: []records.DropBand{{UpToM3: 0.02, DropMbar: 3}}}
		_, err := b.Checked()
		taken := slices.Contains(records.OwnersTables, records.OwnersTable{Edition: e.Code, Fuel: records.FuelNatural})
		if taken != (e.OwnerDrops != nil) || taken != (err == nil) {
			t.Errorf("%s: taken %v, owner's %v, %v", e.Code, taken, e.OwnerDrops, err)
		}
		var errs records.Errors
		if err != nil && (!errors.As(err, &errs) || errs[0].Field != "edition") {
			t.Errorf("%s: the error is not of the edition: %v", e.Code, err)
		}
	}
}
