package rules

import (
	"strings"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// procedure is one edition of the test procedure with its figures as limits.
type procedure struct {
	records.ProcedureEdition

	scope, letByPressure, letByTime, stabilise, duration, smell records.Limit
	testPressure, reducedPressure                               records.Limit

	movement  []records.Limit // beside Movement
	drops     []records.Limit // beside Drops
	anyVolume records.Limit
}

// procedures are the editions in the order of their dates.
var procedures = func() []*procedure {
	out := make([]*procedure, len(records.TightnessEditions))
	for i, e := range records.TightnessEditions {
		out[i] = procedureOf(e)
	}
	return out
}()

func procedureOf(e records.ProcedureEdition) *procedure {
	at := func(where string) records.Source { return clause(e.Source, where) }
	atMost := func(x float64, unit string, s records.Source) records.Limit {
		return most(x, unit, records.ByStandard, s)
	}
	atLeast := func(x float64, unit string, s records.Source) records.Limit {
		return least(x, unit, records.ByStandard, s)
	}
	p := &procedure{ProcedureEdition: e,
		scope:         atMost(e.MostVolumeM3, "m³", at("scope")),
		letByPressure: span(e.LetByMbar[0], e.LetByMbar[1], "mbar", records.ByStandard, at("let-by test")),
		letByTime:     atLeast(e.LetByLeastMin, "min", at("let-by test")),
		stabilise:     atLeast(e.StabiliseLeastMin, "min", at("stabilisation")),
		duration:      atLeast(e.TestLeastMin, "min", at("tightness test")),
		smell:         words("no smell of gas", records.ByStandard, at("tightness test")),
		testPressure:  span(e.TestMbar[0], e.TestMbar[1], "mbar", records.ByStandard, at("tightness test")),
		reducedPressure: span(e.ReducedTestMbar, e.TestMbar[1], "mbar", records.ByStandard,
			at("tightness test where "+show(e.TestMbar[0], 2)+" mbar cannot be reached")),
		anyVolume: anyVolumeLimit(e),
	}
	for _, m := range e.Movement {
		p.movement = append(p.movement, atMost(m.Mbar, "mbar",
			sure(at("no perceptible movement, "+gaugeNames[m.Gauge]), m.Confidence)))
	}
	for _, d := range e.Drops {
		p.drops = append(p.drops, atMost(d.Mbar, "mbar", sure(at("permissible drop: "+meterAndPipe(d)), d.Confidence)))
	}
	return p
}

var gaugeNames = map[string]string{records.GaugeElectronic: "electronic gauge", records.GaugeWater: "water gauge"}

func meterAndPipe(d records.MeterDrop) string {
	meter := d.Meter
	if m, ok := gas.MeterByCode(d.Meter); ok {
		meter = m.Label
	}
	if d.OverMM > 0 {
		return line("%s, pipe over %s to %s mm", meter, show(d.OverMM, 0), show(d.UpToMM, 0))
	}
	return line("%s, pipe up to %s mm", meter, show(d.UpToMM, 0))
}

// anyVolumeLimit is the drop below which the volume need not be known.
func anyVolumeLimit(e records.ProcedureEdition) records.Limit {
	text := "under " + show(e.AnyVolumeMbar, 2) + " mbar: inside every band"
	if e.PipeworkAlone != "" {
		text += ", pipework alone still to be tested"
	}
	l := words(text, records.ByStandard, sure(clause(e.Source, "permissible drop, natural gas"), e.AnyVolumeSource))
	high := e.AnyVolumeMbar
	l.High, l.Unit = &high, "mbar"
	return l
}

// ofEach lists one limit of every edition.
func ofEach(limit func(*procedure) records.Limit) []records.Limit {
	out := make([]records.Limit, len(procedures))
	for i, p := range procedures {
		out[i] = limit(p)
	}
	return out
}

func scopeOf(p *procedure) records.Limit         { return p.scope }
func letByPressureOf(p *procedure) records.Limit { return p.letByPressure }
func letByTimeOf(p *procedure) records.Limit     { return p.letByTime }
func stabiliseOf(p *procedure) records.Limit     { return p.stabilise }
func durationOf(p *procedure) records.Limit      { return p.duration }
func smellOf(p *procedure) records.Limit         { return p.smell }

// movementLimits, testPressureLimits and dropLimits list what every edition
// holds a reading against.
func movementLimits() []records.Limit {
	var out []records.Limit
	for _, p := range procedures {
		out = append(out, p.movement...)
	}
	return out
}

func testPressureLimits() []records.Limit {
	var out []records.Limit
	for _, p := range procedures {
		out = append(out, p.testPressure)
		if p.ReducedTestMbar > 0 {
			out = append(out, p.reducedPressure)
		}
	}
	return out
}

func dropLimits() []records.Limit {
	out := movementLimits()
	for _, p := range procedures {
		out = append(out, p.drops...)
		if p.AnyVolumeMbar > 0 {
			out = append(out, p.anyVolume)
		}
	}
	return out
}

// procedure returns the edition that judges the test. Where it cannot be
// known, problem says why, and the edition is the newest that could apply: for
// what every edition asks alike.
func (e tightness) procedure() (p *procedure, problem string) {
	if e.foundProcedure == nil {
		e.foundProcedure, e.procedureProblem = procedureFor(e.WorkDate, e.Values.Choice(records.TightnessEdition))
	}
	return e.foundProcedure, e.procedureProblem
}

// procedureFor picks the edition in force on a day; said, the edition that the
// engineer followed, decides between several.
func procedureFor(day records.Date, said string) (p *procedure, problem string) {
	newest := procedures[len(procedures)-1]
	if day.IsZero() {
		return newest, "Not entered: date of the work, which decides the edition."
	}
	possible := inForceOn(day)
	switch len(possible) {
	case 0:
		return newest, "No edition of the procedure on file was in force on " + day.Long() + "."
	case 1:
		return possible[0], ""
	}
	for _, p := range possible {
		if p.Code == said {
			return p, ""
		}
	}
	return possible[len(possible)-1], "On this date " + either(possible) + " could be used: say which was followed."
}

func inForceOn(day records.Date) []*procedure {
	var out []*procedure
	for _, p := range procedures {
		if p.Source.InForce(day) {
			out = append(out, p)
		}
	}
	return out
}

// either names editions as alternatives.
func either(ps []*procedure) string {
	names := make([]string, len(ps))
	for i, p := range ps {
		names[i] = p.Name
	}
	last := len(names) - 1
	if last == 0 {
		return names[0]
	}
	return strings.Join(names[:last], ", ") + " or " + names[last]
}

func (e tightness) editionRule() records.Finding {
	p, problem := e.procedure()
	if problem != "" {
		return missing(problem)
	}
	possible := inForceOn(e.WorkDate)
	text := either(possible)
	if len(possible) == 1 {
		text += " only"
	}
	l := words(text, records.ByStandard, possible[len(possible)-1].Source)
	said := e.Values.Choice(records.TightnessEdition)
	f := inside(records.TightnessEdition.ChoiceLabel(p.Code), "Limits of this edition are used.")
	if said != "" && said != p.Code {
		f = outside(records.Observation, records.TightnessEdition.ChoiceLabel(said),
			"That edition was not in force on "+e.WorkDate.Long()+".")
	}
	f.Limit = &l
	return f
}

// movement is the largest movement of the gauge used that counts as none; an
// electronic gauge, the stricter, where the kind is not entered.
func (e tightness) movement() records.Limit {
	p, _ := e.procedure()
	gauge := e.Values.Choice(records.TightnessGaugeHow)
	for i, m := range p.Movement {
		if m.Gauge == gauge {
			return p.movement[i]
		}
	}
	return p.movement[0]
}
