package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

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

func (e tightness) dropRule() records.Finding {
	if f, ok := e.need(records.TightnessSupply.Field, records.ApplianceFuel.Field, records.DropMbar.Field); !ok {
		return f
	}
	drop, _ := e.Values.Number(records.DropMbar)
	f := e.judgeDrop(e.read(records.DropMbar))
	f.Reading = e.entered(records.DropMbar.Field)
	if f.Outcome == records.Outside {
		f.Suggested = records.Immediate
	}
	f.Working = append(f.Working, e.dropNotes(drop)...)
	return f
}

func (e tightness) judgeDrop(drop measured) records.Finding {
	if kind := e.special(); kind != "" {
		return e.statedDrop(drop, kind)
	}
	if f, ok := e.need(records.TightnessSituation.Field, records.TightnessGaugeHow.Field); !ok {
		return f
	}
	p, problem := e.procedure()
	if problem != "" {
		return missing(problem)
	}
	seen := e.movement()
	if !above(drop.value, *seen.High) {
		return e.verdict(drop, seen, records.Immediate, "No perceptible movement.", "")
	}
	if e.Values.Choice(records.TightnessSituation) != records.SituationConnected {
		return e.verdict(drop, seen, records.Immediate, "",
			"There is movement, and with no appliance connected none is allowed: find the leak.")
	}
	if p.OwnerDrops != nil {
		return e.dropByVolume(p, drop)
	}
	return e.dropByMeter(p, drop)
}

// statedDrop judges against the figure that the engineer gives for a supply
// without general figures on file.
func (e tightness) statedDrop(drop measured, kind string) records.Finding {
	most1, ok := e.Values.Float(records.StatedDropMbar)
	source := e.Values.Text(records.StatedDropSource)
	if !ok || source == "" {
		return missing("No general figure for " + kind +
			" is on file: enter the permissible drop you used and where it comes from.")
	}
	l := most(most1, "mbar", records.ByStandard, records.Source{Document: source, Clause: "as entered by the engineer",
		Confidence: records.OneSource})
	f := e.verdict(drop, l, records.Immediate, "The drop is within the figure stated for "+kind+".",
		"The drop is more than the figure stated for "+kind+": find the leak.")
	return e.asStated(f, nil, records.StatedDropMbar)
}

// dropByMeter goes by the meter and the largest pipe.
func (e tightness) dropByMeter(p *procedure, drop measured) records.Finding {
	if f, ok := e.need(records.TightnessMeter.Field); !ok {
		return f
	}
	rs, problem := e.runs()
	if problem != "" {
		return missing(problem)
	}
	size, meter := largestPipeMM(rs), e.Values.Choice(records.TightnessMeter)
	for i, d := range p.Drops {
		if d.Meter == meter && size > d.OverMM && size <= d.UpToMM {
			f := e.verdict(drop, p.drops[i], records.Immediate,
				"The drop is within the permissible one for this meter and largest pipe, if there is no smell of gas.",
				"The drop is more than the permissible one for this meter and largest pipe: find the leak.")
			f.Working = []string{line("Largest pipe %s mm, meter %s: at most %s mbar.", show(size, 0),
				e.entered(records.TightnessMeter.Field), show(d.Mbar, 1))}
			return f
		}
	}
	return missing(line("%s gives no figure for pipe of %s mm.", capital(p.Name), show(size, 0)))
}

// dropByVolume goes by installation volume, with the bands that the owner
// entered from the firm's copy. Without them a drop is inside only below the
// figure that holds for every volume.
func (e tightness) dropByVolume(p *procedure, drop measured) records.Finding {
	vol, working, bad := e.volume()
	bands, problem := e.bands(p.Code)
	then := ""
	if p.PipeworkAlone != "" {
		then = "; the pipework alone must still be tested"
	}
	if bands == nil && below(drop.value, p.AnyVolumeMbar) {
		f := records.Finding{Outcome: records.Inside, Reason: "Within the limit of every installation volume" + then +
			"."}
		l := p.anyVolume
		f.Limit, f.Working, f.Measured = &l, working, measurement(drop, l)
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
	l, ok := bandLimit(p, *bands, vol.TotalM3)
	if !ok {
		f := missing("The permissible drops on file do not go up to this installation volume.")
		f.Working = working
		return f
	}
	f := e.verdict(drop, l, records.Immediate,
		"The drop is within the permissible one for this installation volume"+then+".",
		"The drop is more than the permissible one for this installation volume: find the leak.")
	f.Working = working
	if other, ok := bandLimit(p, *bands, vol.BoreTotalM3); f.Outcome != records.Close &&
		(!ok || hold(drop.value, other).Outcome != f.Outcome) {
		f.Outcome, f.Suggested, f.AtLimit = records.Doubtful, "", false
		f.Reason = "The installation volume is at the edge of two bands: the tabulated pipe volumes and those from " +
			"the bores fall on either side of it."
	}
	return f
}

// bands finds the owner's table for the edition and the fuel, the one entered
// last where there are several.
func (e *entries) bands(edition string) (found *records.DropBands, problem string) {
	for i := range e.facts.DropBands {
		b := &e.facts.DropBands[i]
		if b.Edition != edition || b.Fuel != e.Values.Choice(records.ApplianceFuel) || len(b.Bands) == 0 {
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

func bandLimit(p *procedure, b records.DropBands, volumeM3 float64) (records.Limit, bool) {
	for _, band := range b.Bands {
		if !above(volumeM3, band.UpToM3) {
			where := line("%s, installation volume up to %s m³; entered by %s", b.Clause, show(band.UpToM3, 4),
				b.EnteredBy)
			if !b.EnteredOn.IsZero() {
				where += " on " + b.EnteredOn.Long()
			}
			return most(band.DropMbar, "mbar", records.ByStandard, sure(clause(p.Source, where), records.OneSource)),
				true
		}
	}
	return records.Limit{}, false
}

// dropNotes adds what the drop would mean as a leak, and how it compares with
// the test before the work. It changes no outcome.
func (e tightness) dropNotes(drop records.Reading) []string {
	var notes []string
	vol, _, bad := e.volume()
	minutes, ok := e.Values.Float(records.TestMinutes)
	if bad == nil && ok {
		if q, err := gas.LeakRateM3PerHour(vol.TotalM3, drop.Value, minutes*60); err == nil {
			notes = append(notes, line("As a leak: %s m³ × %s mbar ÷ 1013.25 mbar in %s min = %s m³/h.",
				show(vol.TotalM3, 6), show(drop.Value, 2), show(minutes, 1), show(q, 5)))
		}
	}
	if before, ok := e.Values.Number(records.BeforeDropMbar); ok {
		switch d := difference(drop, before); {
		case d > 0:
			notes = append(notes, line("Before the work the drop was %s mbar: it is now %s mbar larger.",
				show(before.Value, 2), show(d, 2)))
		default:
			notes = append(notes, line("Before the work the drop was %s mbar.", show(before.Value, 2)))
		}
	}
	if yes, _ := e.Values.Flag(records.BeforeSmell); yes {
		notes = append(notes, "There was a smell of gas before the work.")
	}
	return notes
}

func (e tightness) pipework() records.Finding {
	if f, ok := e.need(records.TightnessSupply.Field, records.ApplianceFuel.Field, records.TightnessSituation.Field,
		records.DropMbar.Field, records.TightnessGaugeHow.Field); !ok {
		return f
	}
	p, problem := e.procedure()
	there := e.anyOf(records.PipeworkDropMbar.Field)
	switch {
	case there && problem != "":
		return missing(problem)
	case there: // judged whatever was connected
	case e.special() != "":
		return exempt("judged to the procedure stated for " + e.special())
	case e.Values.Choice(records.TightnessSituation) != records.SituationConnected:
		return exempt("no appliance was connected: the test was of the pipework alone")
	case problem != "":
		return missing(problem)
	case p.PipeworkAlone == "":
		return exempt(p.Name + " does not ask for it")
	}
	seen := e.movement()
	whole, _ := e.Values.Float(records.DropMbar)
	alone, ok := e.Values.Float(records.PipeworkDropMbar)
	switch {
	case !ok && !above(whole, *seen.High):
		return exempt("no perceptible movement with appliances connected")
	case !ok:
		return missing("There was movement with appliances connected: isolate them and test the pipework alone.")
	case above(alone-whole, *seen.High):
		f := doubtful(e.entered(records.PipeworkDropMbar.Field),
			"The pipework alone dropped more than with the appliances connected: repeat the test.")
		f.Limit = &seen
		return f
	}
	l := seen
	l.Source = clause(sure(p.Source, p.PipeworkAlone), "movement shown not to come from the pipework; "+
		seen.Source.Clause+" "+string(seen.Source.Confidence))
	return e.verdict(e.read(records.PipeworkDropMbar), l, records.Immediate,
		"No perceptible movement with the pipework alone.", "The pipework itself leaks: find the leak.")
}
