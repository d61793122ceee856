package records_test

import (
	"math"
	"testing"

	"gaugebook/records"
)

func TestShown(t *testing.T) {
	vs := records.Values{}
	fall := records.FlueFallMM.Field
	if vs.Shown(fall) || !vs.Shown(records.FlueLengthM.Field) {
		t.Error("a field that depends on another is shown before that is answered")
	}
	vs.Put(records.FlueTerminal.Field, records.TerminalRoof)
	if vs.Shown(fall) {
		t.Error("shown for another code")
	}
	vs.Put(records.FlueTerminal.Field, records.TerminalWall)
	if !vs.Shown(fall) {
		t.Error("not shown for its code")
	}
	vs.Put(records.FlueLow.Field, "yes")
	if !vs.Shown(records.FlueGuard.Field) {
		t.Error("not shown by a flag")
	}
}

func TestCloneSharesNothing(t *testing.T) {
	vs := sample(t, "clear-combination-england").Values
	c := vs.Clone()
	for key, v := range vs {
		if !c[key].Equal(v) {
			t.Fatalf("%s differs", key)
		}
	}
	rows := c.Rows(records.TightnessRuns)
	delete(rows[0], "pipe")
	c.Put(records.ApplianceMake.Field, "Other")
	if vs.Rows(records.TightnessRuns)[0].Text("pipe") == "" || vs.Text(records.ApplianceMake) == "Other" {
		t.Error("a change of the clone changes the original")
	}
	if c[records.TightnessRuns.Key].Equal(vs[records.TightnessRuns.Key]) {
		t.Error("a row with a column less is equal")
	}
}

func TestProgress(t *testing.T) {
	r := &records.Record{Values: records.Values{}}
	if filled, shown := r.Progress(&records.HeatInput); filled != 0 || shown != 5 {
		t.Errorf("blank: %d of %d", filled, shown)
	}
	r.Values.Put(records.HeatMeter.Field, records.MeterImperial)
	r.Values.Put(records.HeatStartM3.Field, "5") // not shown for an imperial meter
	if filled, shown := r.Progress(&records.HeatInput); filled != 1 || shown != 7 {
		t.Errorf("imperial: %d of %d", filled, shown)
	}
}

func TestFormatNumber(t *testing.T) {
	for _, c := range []struct {
		v        float64
		decimals int
		want     string
	}{
		{1.005, 2, "1.00"}, {2.5, -1, "2.5"}, {-0.001, 2, "0.00"}, {-1, 0, "-1"}, {1e6, -1, "1000000"}, {0, 1, "0.0"},
		{math.NaN(), 2, "–"}, {math.Inf(1), 2, "–"}, {math.Inf(-1), -1, "–"}, {math.Copysign(0, -1), 1, "0.0"},
	} {
		if got := records.FormatNumber(c.v, c.decimals); got != c.want {
			t.Errorf("%v with %d: %q, want %q", c.v, c.decimals, got, c.want)
		}
	}
}

func TestApplianceName(t *testing.T) {
	vs := records.Values{}
	if got := vs.ApplianceName(); got != "appliance without a name" {
		t.Errorf("%q", got)
	}
	vs.Put(records.ApplianceModel.Field, "Tarn 27")
	if got := vs.ApplianceName(); got != "Tarn 27" {
		t.Errorf("%q", got)
	}
	vs.Put(records.ApplianceMake.Field, "Tarnholm")
	if got := vs.ApplianceName(); got != "Tarnholm Tarn 27" {
		t.Errorf("%q", got)
	}
}
