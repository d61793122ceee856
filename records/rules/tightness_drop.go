package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

// perceptible is the largest movement that counts as none, by kind of gauge:
// electronic first, water gauge second.
var perceptible = []records.Limit{
	most(0.2, "mbar", records.ByStandard, records.Source{Document: "IGEM/UP/1B",
		Clause: "no perceptible movement, electronic gauge", Confidence: records.Unconfirmed}),
	most(0.25, "mbar", records.ByStandard, records.Source{Document: "IGEM/UP/1B",
		Clause: "no perceptible movement, water gauge", Confidence: records.Unconfirmed}),
}

func (v *visit) perceptible() records.Limit {
	if v.Values.Choice(records.TightnessGaugeHow) == records.GaugeWater {
		return perceptible[1]
	}
	return perceptible[0]
}

// tableDrop is one row of edition 3's table for connected appliances and no
// smell, natural gas, by meter and largest pipe.
type tableDrop struct {
	meter    string
	overMM   float64
	upToMM   float64
	dropMbar float64
	sure     records.Confidence
}

var edition3Drops = []tableDrop{
	{meter: "none", overMM: 0, upToMM: 28, dropMbar: 8, sure: records.Confirmed},
	{meter: "e6", overMM: 0, upToMM: 28, dropMbar: 8, sure: records.Confirmed},
	{meter: "g4", overMM: 0, upToMM: 28, dropMbar: 4, sure: records.Confirmed},
	{meter: "g10", overMM: 0, upToMM: 28, dropMbar: 1, sure: records.Confirmed},
	{meter: "none", overMM: 28, upToMM: 35, dropMbar: 4, sure: records.Unconfirmed},
	{meter: "e6", overMM: 28, upToMM: 35, dropMbar: 4, sure: records.Unconfirmed},
	{meter: "g4", overMM: 28, upToMM: 35, dropMbar: 2.5, sure: records.Unconfirmed},
	{meter: "g10", overMM: 28, upToMM: 35, dropMbar: 1, sure: records.Unconfirmed},
}

func (d tableDrop) limit() records.Limit {
	size := line("pipe up to %s mm", show(d.upToMM, 0))
	if d.overMM > 0 {
		size = line("pipe over %s to %s mm", show(d.overMM, 0), show(d.upToMM, 0))
	}
	meter := d.meter
	if m, ok := gas.MeterByCode(d.meter); ok {
		meter = m.Label
	}
	return most(d.dropMbar, "mbar", records.ByStandard, clause(sure(tightness3, d.sure), "permissible drop: "+meter+
		", "+size))
}

// insideEveryBand is the drop below which edition 4 asks for no volume.
var insideEveryBand = func() records.Limit {
	l := words("under 1 mbar: inside every band, pipework alone still to be tested", records.ByStandard,
		sure(clause(tightness4, "permissible drop, natural gas"), records.OneSource))
	high := 1.0
	l.High, l.Unit = &high, "mbar"
	return l
}()

func dropLimits() []records.Limit {
	out := append([]records.Limit(nil), perceptible...)
	for _, d := range edition3Drops {
		out = append(out, d.limit())
	}
	return append(out, insideEveryBand)
}

func dropReads() []*records.Field {
	return []*records.Field{
		records.DropMbar.Field, records.TightnessSupply.Field, records.ApplianceFuel.Field,
		records.TightnessSituation.Field,
		records.TightnessEdition.Field, records.TightnessGaugeHow.Field, records.TightnessMeter.Field,
		records.TightnessRuns.Field,
		records.TestMinutes.Field, records.StatedDropMbar.Field, records.StatedDropSource.Field,
		records.BeforeDropMbar.Field,
		records.BeforeSmell.Field,
	}
}

func dropRule(v *visit) records.Finding {
	if f, ok := v.need(records.TightnessSupply.Field, records.ApplianceFuel.Field, records.DropMbar.Field); !ok {
		return f
	}
	drop, _ := v.Values.Number(records.DropMbar)
	f := v.judgeDrop(drop.Value)
	f.Reading = v.entered(records.DropMbar.Field)
	if f.Outcome == records.Outside {
		f.Suggested = records.Immediate
	}
	f.Working = append(f.Working, v.dropNotes(drop)...)
	return f
}

func (v *visit) judgeDrop(drop float64) records.Finding {
	if kind := v.special(); kind != "" {
		return v.statedDrop(drop, kind)
	}
	if f, ok := v.need(records.TightnessSituation.Field, records.TightnessGaugeHow.Field); !ok {
		return f
	}
	code, problem := v.edition()
	if problem != "" {
		return missing(problem)
	}
	seen := v.perceptible()
	if !above(drop, *seen.High) {
		return verdict(drop, seen, "", records.Immediate, "No perceptible movement.", "")
	}
	if v.Values.Choice(records.TightnessSituation) != records.SituationConnected {
		return verdict(drop, seen, "", records.Immediate, "",
			"There is movement, and with no appliance connected none is allowed: find the leak.")
	}
	if code == records.Edition3 {
		return v.edition3Drop(drop)
	}
	return v.edition4Drop(drop)
}

// statedDrop judges against the figure that the engineer gives for a supply
// without general ones on file.
func (v *visit) statedDrop(drop float64, kind string) records.Finding {
	most1, ok := v.Values.Float(records.StatedDropMbar)
	source := v.Values.Text(records.StatedDropSource)
	if !ok || source == "" {
		return missing("No general figure for " + kind +
			" is on file: enter the permissible drop that you hold and where it comes from.")
	}
	l := most(most1, "mbar", records.ByStandard, records.Source{Document: source, Clause: "as entered by the engineer",
		Confidence: records.OneSource})
	return verdict(drop, l, "", records.Immediate, "The drop is within the figure stated for "+kind+".",
		"The drop is more than the figure stated for "+kind+": find the leak.")
}

func (v *visit) edition3Drop(drop float64) records.Finding {
	if f, ok := v.need(records.TightnessMeter.Field); !ok {
		return f
	}
	rs, problem := v.runs()
	if problem != "" {
		return missing(problem)
	}
	size, meter := largestPipeMM(rs), v.Values.Choice(records.TightnessMeter)
	for _, d := range edition3Drops {
		if d.meter == meter && size > d.overMM && size <= d.upToMM {
			f := verdict(drop, d.limit(), "", records.Immediate,
				"The drop is within the permissible one for this meter and largest pipe, if there is no smell of gas.",
				"The drop is more than the permissible one for this meter and largest pipe: find the leak.")
			f.Working = []string{line("Largest pipe %s mm, meter %s: at most %s mbar.", show(size, 0),
				v.entered(records.TightnessMeter.Field), show(d.dropMbar, 1))}
			return f
		}
	}
	return missing(line("Edition 3 gives no figure for pipe of %s mm.", show(size, 0)))
}

// edition4Drop goes by installation volume, with the bands that the owner
// entered from the firm's copy. Without them a drop from 1 mbar up is never
// inside.
func (v *visit) edition4Drop(drop float64) records.Finding {
	vol, working, bad := v.volume()
	bands, problem := v.bands()
	if bands == nil && below(drop, 1) {
		f := records.Finding{Outcome: records.Inside,
			Reason: "Within the limit of every installation volume; the pipework alone must still be tested."}
		l := insideEveryBand
		f.Limit, f.Working = &l, working
		return f
	}
	if bad != nil {
		return *bad
	}
	if problem != "" {
		f := missing(problem)
		f.Working = working
		return f
	}
	l, ok := bandLimit(*bands, vol.TotalM3)
	if !ok {
		f := missing("The permissible drops on file do not reach this installation volume.")
		f.Working = working
		return f
	}
	f := verdict(drop, l, "", records.Immediate,
		"The drop is within the permissible one for this installation volume; the pipework alone must still be tested.",
		"The drop is more than the permissible one for this installation volume: find the leak.")
	f.Working = working
	if other, ok := bandLimit(*bands, vol.BoreTotalM3); !ok || hold(drop, other).Outcome != f.Outcome {
		f.Outcome, f.Suggested, f.AtLimit = records.Doubtful, "", false
		f.Reason = "The installation volume lies at the edge of two bands: the tabulated pipe volumes and those " +
			"from the bores fall on either side of it."
	}
	return f
}

// bands finds the owner's table for the edition and the fuel, the one entered
// last where there are several.
func (v *visit) bands() (found *records.DropBands, problem string) {
	for i := range v.facts.DropBands {
		b := &v.facts.DropBands[i]
		if b.Edition != records.Edition4 || b.Fuel != v.Values.Choice(records.ApplianceFuel) || len(b.Bands) == 0 {
			continue
		}
		if found == nil || b.EnteredOn.After(found.EnteredOn) {
			found = b
		}
	}
	if found == nil {
		return nil, "The permissible drop for this edition is not on file: the owner enters it from the firm's copy " +
			"of the standard."
	}
	if _, err := found.Checked(); err != nil {
		return found, "The permissible drops on file for this edition cannot be used: " + err.Error() +
			". The owner must put them right."
	}
	return found, ""
}

func bandLimit(b records.DropBands, volumeM3 float64) (records.Limit, bool) {
	for _, band := range b.Bands {
		if !above(volumeM3, band.UpToM3) {
			where := line("%s, installation volume up to %s m³; entered by %s", b.Clause, show(band.UpToM3, 4),
				b.EnteredBy)
			if !b.EnteredOn.IsZero() {
				where += " on " + b.EnteredOn.Long()
			}
			return most(band.DropMbar, "mbar", records.ByStandard, sure(clause(tightness4, where), records.OneSource)),
				true
		}
	}
	return records.Limit{}, false
}

// dropNotes adds what the drop would mean as a leak, and how it compares with
// the test before the work. It changes no outcome.
func (v *visit) dropNotes(drop records.Reading) []string {
	var notes []string
	vol, _, bad := v.volume()
	minutes, ok := v.Values.Float(records.TestMinutes)
	if bad == nil && ok {
		if q, err := gas.LeakRateM3PerHour(vol.TotalM3, drop.Value, minutes*60); err == nil {
			notes = append(notes, line("As a leak: %s m³ × %s mbar ÷ 1013.25 mbar in %s min = %s m³/h.",
				show(vol.TotalM3, 6), show(drop.Value, 2), show(minutes, 1), show(q, 5)))
		}
	}
	if before, ok := v.Values.Number(records.BeforeDropMbar); ok {
		switch d := difference(drop, before); {
		case d > 0:
			notes = append(notes, line("Before the work the drop was %s mbar: it is now %s mbar larger.",
				show(before.Value, 2), show(d, 2)))
		default:
			notes = append(notes, line("Before the work the drop was %s mbar.", show(before.Value, 2)))
		}
	}
	if yes, _ := v.Values.Flag(records.BeforeSmell); yes {
		notes = append(notes, "There was a smell of gas before the work.")
	}
	return notes
}

func pipework(v *visit) records.Finding {
	if f, ok := v.need(records.TightnessSupply.Field, records.ApplianceFuel.Field, records.TightnessSituation.Field,
		records.DropMbar.Field, records.TightnessGaugeHow.Field); !ok {
		return f
	}
	code, problem := v.edition()
	switch {
	case v.special() != "":
		return exempt("judged by the procedure stated for " + v.special())
	case v.Values.Choice(records.TightnessSituation) != records.SituationConnected:
		return exempt("no appliance was connected: the test was of the pipework alone")
	case problem != "":
		return missing(problem)
	case code == records.Edition3:
		return exempt("edition 3 does not ask for it")
	}
	seen := v.perceptible()
	whole, _ := v.Values.Float(records.DropMbar)
	alone, ok := v.Values.Float(records.PipeworkDropMbar)
	switch {
	case !ok && !above(whole, *seen.High):
		return exempt("no perceptible movement with appliances connected")
	case !ok:
		return missing("There was movement with appliances connected: isolate them and test the pipework alone.")
	case above(alone-whole, *seen.High):
		f := doubtful(v.entered(records.PipeworkDropMbar.Field),
			"The pipework alone dropped further than with the appliances connected: repeat the test.")
		f.Limit = &seen
		return f
	}
	l := seen
	l.Source = clause(sure(tightness4, records.OneSource), "movement shown not to come from the pipework; "+
		seen.Source.Clause+" "+string(seen.Source.Confidence))
	return verdict(alone, l, v.entered(records.PipeworkDropMbar.Field), records.Immediate,
		"No perceptible movement of the pipework alone.", "The pipework itself leaks: find it.")
}
