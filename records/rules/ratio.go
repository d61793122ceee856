package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// ratioFirst is the CO/CO2 ratio at which a condensing boiler may be put into
// use. It is not the level in use, and the two are never swapped.
var ratioFirst = most(0.004, "", records.ByStandard,
	clause(tb143, "CO/CO₂, either rate, where the instructions state none"))

// ratioInUse is the level at which a boiler in use passes, up to 0.004, and
// that of action, above 0.008. Between the two it needs attention.
var ratioInUse = func() records.Limit {
	l := most(0.008, "", records.ByPractice, records.Source{
		Document:   "A boiler manufacturer's servicing manual and an analyser manufacturer's page",
		Clause:     "ratio in use: below 0.004 no further action, 0.004 to 0.008 cleaning, above 0.008 overhaul",
		Confidence: records.OneSource})
	pass := 0.004
	l.Attention = &pass
	l.Text += "; above 0.004 it needs attention"
	return l
}()

// recalled is the level of action of appliances for which no published one is
// on file. It was looked for and not found, so it is shown and never decides.
type recalled struct {
	kinds []string
	what  string
	ratio float64
}

var recalledRatios = []recalled{
	{[]string{records.KindWarmAir}, "a warm-air unit", 0.008},
	{[]string{records.KindWaterHeater}, "an instantaneous water heater", 0.02},
	{[]string{records.KindFire}, "a gas fire", 0.02},
	{[]string{records.KindRange}, "a range cooker", 0.02},
	{[]string{records.KindCooker}, "a cooker's oven", 0.008},
	{[]string{records.KindSpaceHeater}, "a flueless space heater", 0.001},
}

func recalledFor(kind string) (recalled, bool) {
	for _, r := range recalledRatios {
		if oneOf(kind, r.kinds) {
			return r, true
		}
	}
	return recalled{}, false
}

func (r recalled) limit() records.Limit {
	l := most(r.ratio, "", records.ByPractice,
		clause(sure(practice, records.Unconfirmed), "level of action in use, "+r.what+": shown, never decides"))
	l.Text += ", from memory"
	return l
}

func ratioLimits() []records.Limit {
	out := []records.Limit{ratioFirst, ratioInUse}
	for _, r := range recalledRatios {
		out = append(out, r.limit())
	}
	return out
}

// generalRatio is the limit where the manufacturer states none: a published
// one, else the owner's. ok is false where there is neither.
func (e *entries) generalRatio() (l records.Limit, ok bool) {
	switch kind := e.Values.Choice(records.ApplianceKind); {
	case e.firstFiring():
		return ratioFirst, true
	case e.boiler():
		return ratioInUse, true
	default:
		return e.ownersLimit(records.OwnersRatio, kind)
	}
}

// ratio is the ratio of the point's readings with its uncertainty: of CO and,
// where the analyser works CO2 out of oxygen, of oxygen.
func (p point) ratio(e *entries) (m measured, working string, ok bool) {
	co, co2 := e.read(p.co), e.read(p.co2)
	ratio, err := gas.RatioCOToCO2(co.value, co2.value)
	if err != nil {
		return m, "", false
	}
	m = ruled(ratio, "")
	m.coarse, m.settle = co.coarse, co.settle
	uCO2 := co2.u
	if e.Values.Choice(records.CO2Method) == "from-o2" {
		if fuel, known := e.fuel(); known {
			o2, _ := e.Values.Float(p.o2)
			uO2, _ := e.uncertaintyOf(p.o2.Key, o2)
			uCO2 = uO2 * fuel.PublishedCO2MaxHighPercent / gas.InstrumentO2Percent
		}
	} else if m.coarse == "" {
		m.coarse, m.settle = co2.coarse, co2.settle
	}
	if co.u > 0 && uCO2 > 0 {
		// in the ratio's own unit; a CO of 0 has an uncertainty too
		u, err := gas.RootSumOfSquares(co.u/(co2.value*10000), ratio*uCO2/co2.value)
		if err == nil {
			m.u = u
		}
	}
	return m, line("%s ppm ÷ (%s %% × 10 000) = %s, compared unrounded.", show(co.value, 0), show(co2.value, 2),
		show(ratio, 7)), true
}

func (p point) judgeRatio(e *entries) records.Finding {
	if f, ok := e.need(records.ApplianceKind.Field, p.co.Field, p.co2.Field); !ok {
		return f
	}
	m, working, ok := p.ratio(e)
	if !ok {
		return doubtful(e.entered(p.co.Field)+", "+e.entered(p.co2.Field),
			"There is no ratio without CO₂: the probe was in fresh air, or the burner was off.")
	}
	general, known := e.generalRatio()
	limit := general
	stated, has := e.Values.Float(records.StatedRatioMax)
	if has {
		limit = most(stated, "", records.ByManufacturer, e.stated())
	}
	if !has && !known {
		return p.noLevel(e, m, working)
	}
	m.text = apart(m.value, 4, limit)
	f := e.verdict(m, limit, records.AtRisk,
		"The ratio is within the limit at "+p.name+".", "The ratio is too high at "+p.name+
			": do not leave it running; ask the manufacturer.")
	if f.Outcome == records.Attention {
		f.Reason = "The boiler burns less cleanly than it should at " + p.name + ", though not so badly that it must " +
			"be turned off: it needs to be cleaned and set by a registered, competent person soon."
	}
	f.Working = append([]string{working}, p.airLines(e)...)
	if !known {
		return e.asStated(f, nil, records.StatedRatioMax)
	}
	return e.asStated(f, &general, records.StatedRatioMax)
}

// noLevel is the finding where no level is on file that may decide.
func (p point) noLevel(e *entries, m measured, working string) records.Finding {
	r, ok := recalledFor(e.Values.Choice(records.ApplianceKind))
	if !ok {
		return missing("No level is on file for this kind of appliance: enter what its manufacturer states.")
	}
	f := missing("No published level for " + r.what + " is on file: enter the manufacturer's figure, or have the owner " +
		"enter one with its document.")
	f.Reading = apart(m.value, 4, r.limit())
	side := "would be within it"
	if above(m.value, r.ratio) {
		side = "would be above it: do not leave the appliance running until you know"
		f.Suggested = records.AtRisk
	}
	f.Working = []string{working, line("From memory, unconfirmed: %s, the level of action for %s; %s %s.",
		show(r.ratio, 4), r.what, f.Reading, side)}
	return f
}

// airLines shows excess air and air-free CO by the oxygen of the same reading.
func (p point) airLines(e *entries) []string {
	o2, ok := e.Values.Float(p.o2)
	co, _ := e.Values.Float(p.co)
	excess, err := gas.ExcessAirInstrumentPercent(o2)
	free, err2 := gas.COAirFreePPM(co, math.Min(o2, 20.8))
	if !ok || err != nil || err2 != nil {
		return nil
	}
	return []string{line("At %s %% oxygen: excess air %s %% as analysers show it, air-free CO %s ppm.",
		show(o2, 2), show(excess, 1), show(free, 0))}
}
