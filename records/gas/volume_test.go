package gas_test

import (
	"testing"

	"gaugebook/records/gas"
)

func (in inputs) installation() (gas.InstallationVolume, error) {
	in.t.Helper()
	m, ok := gas.MeterByCode(in.text("meter"))
	if !ok {
		in.t.Fatalf("no meter %q", in.text("meter"))
	}
	var runs []gas.PipeRun
	for _, name := range in.order {
		if p, ok := gas.PipeByCode(name); ok {
			runs = append(runs, gas.PipeRun{Pipe: p, LengthM: in.num(name)})
		} else if name != "meter" {
			in.t.Fatalf("no pipe %q", name)
		}
	}
	return gas.InstallationVolumeOf(m, runs)
}

func volume(pick func(gas.InstallationVolume) float64) quantity {
	return func(in inputs) (float64, error) {
		v, err := in.installation()
		return pick(v), err
	}
}

func (in inputs) pipe() gas.Pipe {
	in.t.Helper()
	p, ok := gas.PipeByCode(in.text("pipe"))
	if !ok {
		in.t.Fatalf("no pipe %q", in.text("pipe"))
	}
	return p
}

var volumeQuantities = map[string]quantity{
	"installation-volume": volume(func(v gas.InstallationVolume) float64 { return v.TotalM3 }),
	"pipe-volume":         volume(func(v gas.InstallationVolume) float64 { return v.PipeM3 }),
	"fittings-volume":     volume(func(v gas.InstallationVolume) float64 { return v.FittingsM3 }),
	"bore":                func(in inputs) (float64, error) { return in.pipe().BoreMM, nil },
	"roughness":           func(in inputs) (float64, error) { return in.pipe().RoughnessMM, nil },
	"bore-volume":         func(in inputs) (float64, error) { return in.pipe().BoreM3PerM() },
	"leak-rate": func(in inputs) (float64, error) {
		return gas.LeakRateM3PerHour(in.num("iv"), in.num("drop"), in.num("s"))
	},
	"temperature-effect": func(in inputs) (float64, error) {
		return gas.TemperatureEffectMbarPerK(in.num("mbar"), in.num("c"))
	},
	"purge-volume": func(in inputs) (float64, error) { return gas.PurgeVolumeM3(in.num("iv"), in.num("times")) },
}

func TestCorrugatedPipeCountsAtTheMakersVolume(t *testing.T) {
	p, err := gas.CorrugatedPipe(22, 0.0004)
	if err != nil {
		t.Fatal(err)
	}
	v, err := gas.InstallationVolumeOf(gas.Meter{}, []gas.PipeRun{{Pipe: p, LengthM: 10}})
	if err != nil || v.PipeM3 != 0.004 || v.BoreTotalM3 != v.TotalM3 {
		t.Errorf("got %+v (%v)", v, err)
	}
	// Its bore is unknown, so no loss can be predicted.
	g := gas.FlowingGas{DensityKgPerM3: 0.7, ViscosityPaS: 1.1e-5}
	if _, err := gas.RunLossOf(g, []gas.Segment{{Pipe: p, LengthM: 10, FlowM3PerHour: 1}}); err == nil {
		t.Error("a loss came out of a pipe without a bore")
	}
	if _, err := gas.CorrugatedPipe(22, 0); err == nil {
		t.Error("a pipe without a stated volume was accepted")
	}
}

func TestCopper10And12CountFromTheBore(t *testing.T) {
	for _, code := range []string{"copper-10", "copper-12"} {
		p, ok := gas.PipeByCode(code)
		tabulated, err := p.VolumeM3PerM()
		bore, errBore := p.BoreM3PerM()
		if !ok || err != nil || errBore != nil || tabulated != bore || bore <= 0 {
			t.Errorf("%s: %g and %g (%v, %v)", code, tabulated, bore, err, errBore)
		}
	}
	if _, err := (gas.Pipe{}).VolumeM3PerM(); err == nil {
		t.Error("a pipe without bore or volume was accepted")
	}
}

func TestCodesAreUnique(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range gas.Pipes() {
		if seen[p.Code] || p.Label == "" || p.Source == "" || p.Confidence == "" {
			t.Errorf("pipe %+v is repeated or incomplete", p)
		}
		seen[p.Code] = true
	}
	for _, m := range gas.Meters() {
		if seen[m.Code] || m.Label == "" || m.Source == "" || m.Confidence == "" {
			t.Errorf("meter %+v is repeated or incomplete", m)
		}
		seen[m.Code] = true
	}
	if _, ok := gas.PipeByCode("lead-15"); ok {
		t.Error("lead-15 is no pipe of ours")
	}
	if _, ok := gas.MeterByCode(""); ok {
		t.Error("the empty code is no meter")
	}
}
