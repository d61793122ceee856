package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

// run is one row of the pipe runs as the physics takes it.
type run struct {
	gas.PipeRun
	feeds               bool
	elbows, bends, tees float64
	hasBore             bool
}

// runs reads the pipe runs; problem says what one of them lacks.
func (e *entries) runs() (rs []run, problem string) {
	rows := e.Values.Rows(records.TightnessRuns)
	if len(rows) == 0 {
		return nil, "Not entered: " + nameOf(records.TightnessRuns.Field) + "."
	}
	for i, row := range rows {
		r := run{
			feeds:  row.Text("feeds") == "yes",
			elbows: row.Float("elbows"), bends: row.Float("bends"), tees: row.Float("tees"),
		}
		code := row.Text("pipe")
		length, ok := row.Number("length_m")
		if code == "" || !ok {
			return nil, line("Pipe run %d needs its pipe and its length.", i+1)
		}
		r.LengthM = length.Value
		if code == records.PipeCorrugated {
			bore, hasBore := row.Number("bore_mm")
			litres, hasVolume := row.Number("litres_per_m")
			if !hasBore || !hasVolume {
				return nil, line("Pipe run %d is corrugated: give its bore and the manufacturer's volume.", i+1)
			}
			p, err := gas.CorrugatedPipe(bore.Value, litres.Value/1000)
			if err != nil {
				return nil, line("Pipe run %d: %s.", i+1, err)
			}
			r.Pipe = p
		} else if r.Pipe, ok = gas.PipeByCode(code); !ok {
			return nil, line("Pipe run %d: no volume is on file for %s.", i+1, code)
		}
		r.hasBore = r.Pipe.BoreMM > 0
		rs = append(rs, r)
	}
	return rs, ""
}

// volumeResult is the installation volume with its working, or the missing
// finding when something for it is not there.
type volumeResult struct {
	volume  gas.InstallationVolume
	working []string
	bad     *records.Finding
}

// volume returns the installation volume; bad is not nil when it is not known.
func (e tightness) volume() (vol gas.InstallationVolume, working []string, bad *records.Finding) {
	if !e.volumeSought {
		e.volumeSought = true
		e.foundVolume = e.workOutVolume()
	}
	found := e.foundVolume
	return found.volume, append([]string(nil), found.working...), found.bad
}

func (e tightness) workOutVolume() volumeResult {
	fail := func(reason string) volumeResult {
		f := missing(reason)
		return volumeResult{bad: &f}
	}
	if f, ok := e.need(records.TightnessMeter.Field); !ok {
		return volumeResult{bad: &f}
	}
	meter, ok := gas.MeterByCode(e.Values.Choice(records.TightnessMeter))
	if !ok {
		return fail("No volume is on file for this meter.")
	}
	rs, problem := e.runs()
	if problem != "" {
		return fail(problem)
	}
	working := []string{line("Meter: %s m³ (%s).", show(meter.M3, 4), meter.Label)}
	pipes := make([]gas.PipeRun, len(rs))
	for i, r := range rs {
		pipes[i] = r.PipeRun
		perM, err := r.Pipe.VolumeM3PerM()
		if err != nil {
			return fail("Pipe volume: " + err.Error() + ".")
		}
		working = append(working, line("%s: %s m × %s m³/m = %s m³.", r.Pipe.Label, show(r.LengthM, 2), show(perM, 7),
			show(r.LengthM*perM, 6)))
	}
	vol, err := gas.InstallationVolumeOf(meter, pipes)
	if err != nil {
		return fail("Installation volume: " + err.Error() + ".")
	}
	working = append(working,
		line("Fittings: 10 %% of %s m³ = %s m³.", show(vol.PipeM3, 6), show(vol.FittingsM3, 6)),
		line("Total: %s m³ (from the bores: %s m³).", show(vol.TotalM3, 6), show(vol.BoreTotalM3, 6)))
	return volumeResult{volume: vol, working: working}
}

// largestPipeMM is the nominal size of the largest pipe.
func largestPipeMM(rs []run) float64 {
	size := 0.0
	for _, r := range rs {
		size = max(size, r.Pipe.NominalMM)
	}
	return size
}
