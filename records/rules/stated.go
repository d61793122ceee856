package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

// direction is which way a stated figure makes its limit easier to keep.
type direction int

const (
	higherIsLooser direction = iota
	lowerIsLooser
)

// statedFigure is a field of the kind "the manufacturer states". Inside its
// envelope the figure counts; looser than the general limit it counts and the
// finding says so; beyond the envelope nothing that is typed makes a record
// clear.
type statedFigure struct {
	field  *records.Field
	rows   *records.RowsField // the list that the field is a column of
	looser direction
	bounds []envelope
}

// envelope is how far the figure may go, for some fuels, kinds of appliance or
// flues; none named means all.
type envelope struct {
	fuel       string
	kinds      []string
	flues      []string
	condensing bool    // of condensing appliances only
	system     string  // of flue
	figure     float64 // in the field's unit, or
	share      float64 // of the general limit, where there is one
	source     records.Source
}

// The documents of the envelopes.
var (
	secondFamily = clause(en437, "test pressures of the second family, 17 (G20) to 30 mbar (G25), and 2 mbar for the "+
		"inlet connection")
	thirdFamily = clause(en437, "test pressures of the third family, 25 to 57.5 mbar")
	inputSpread = clause(sure(practice, records.Unconfirmed), "heat input +5 %, −10 % of the data plate")
	actionLevel = records.Source{Document: ratioInUse.Source.Document, Clause: "level of overhaul, 0.008",
		Confidence: records.OneSource}
	coAtAction = clause(physics, "CO at the level of overhaul, 0.008, where the CO₂ is 8.75 % as both limits of Technical "+
		"Bulletin 143 imply")
	longestFlue = records.Source{Document: "Manuals of several boiler manufacturers",
		Clause: "longest routes printed, up to 30 m of concentric and 60 m of twin pipe", Confidence: records.Unconfirmed}
	leastFall   = clause(manuals, "least fall printed, 1.5°, 26 mm per metre")
	condensates = clause(bs6798, "6.3.7.1.3 asks for 19 mm; a pipe of 22 mm outside has 16 mm at least")
	bs1362      = records.Source{Document: "BS 1362", Clause: "largest rating of a cartridge fuse",
		Confidence: records.Unconfirmed}
	edition3Drop = records.Source{Document: "IGEM/UP/1B", Edition: "Edition 3",
		Clause: "largest permissible drop of any meter and pipe", Confidence: records.Confirmed}
	doses    = clause(sure(practice, records.Unconfirmed), "concentrates of inhibitor, at most 600 l to the litre")
	halfVent = clause(physics, "half the area asked for takes four times the suction; our own margin")
	noVent   = records.Source{Document: "BS 5440-2", Edition: "2000 to 2009",
		Clause: "smallest opening asked for with a flueless appliance, 50 cm²", Confidence: records.OneSource}
	halfOutput = clause(practice, "hot-water output, at least half of the rated output")
	tables     = clause(manuals, "tables of vessels differ by up to a third")
)

// leastOxygenPct is the oxygen below which no burner at full rate is believed
// to burn completely, whatever is stated of it.
const leastOxygenPct = 2.0

// boilers are the kinds with a published level.
var boilers = []string{records.KindCombination, records.KindSystem, records.KindRegular}

// statedFigures lists them in the order of the form.
var statedFigures = []statedFigure{
	{field: records.StatedInletMinMbar.Field, looser: lowerIsLooser, bounds: inletBounds(15, 25)},
	{field: records.StatedInletMaxMbar.Field, looser: higherIsLooser, bounds: inletBounds(30, 57.5)},
	{field: records.StatedInputMinusPct.Field, looser: higherIsLooser, bounds: []envelope{{figure: 10,
		source: inputSpread}}},
	{field: records.StatedInputPlusPct.Field, looser: higherIsLooser, bounds: []envelope{{figure: 10,
		source: inputSpread}}},
	{field: records.StatedCOMaxPPM.Field, looser: higherIsLooser, bounds: []envelope{{figure: 700,
		source: coAtAction}}},
	{field: records.StatedRatioMax.Field, looser: higherIsLooser, bounds: ratioBounds()},
	{field: records.StatedCO2MaxRateLow.Field, looser: lowerIsLooser, bounds: co2Bounds(10, true)},
	{field: records.StatedCO2MaxRateHigh.Field, looser: higherIsLooser, bounds: co2Bounds(leastOxygenPct, false)},
	{field: records.StatedCO2MinRateLow.Field, looser: lowerIsLooser, bounds: co2Bounds(10, true)},
	{field: records.StatedCO2MinRateHigh.Field, looser: higherIsLooser, bounds: co2Bounds(leastOxygenPct, false)},
	{field: records.StatedFlueLengthMaxM.Field, looser: higherIsLooser, bounds: []envelope{
		{system: records.FlueConcentric, figure: 30, source: longestFlue}, {figure: 60, source: longestFlue}}},
	{field: records.StatedFlueFallMinMM.Field, looser: lowerIsLooser, bounds: []envelope{{condensing: true, figure: 25,
		source: leastFall}}},
	{field: records.StatedDropMbar.Field, looser: higherIsLooser, bounds: []envelope{{figure: 8,
		source: edition3Drop}}},
	{field: records.FlueBends.Column("equivalent_m"), rows: &records.FlueBends, looser: lowerIsLooser},
	{field: records.FlueDistances.Column("stated_mm"), rows: &records.FlueDistances, looser: lowerIsLooser},
	{field: records.VentStatedHighCm2.Field, looser: lowerIsLooser, bounds: ventBounds},
	{field: records.VentStatedLowCm2.Field, looser: lowerIsLooser, bounds: ventBounds},
	{field: records.InhibitorTreatsL.Field, looser: higherIsLooser, bounds: []envelope{{figure: 600, source: doses}}},
	{field: records.VesselStatedLitres.Field, looser: lowerIsLooser, bounds: []envelope{
		{share: vesselSpare, source: tables}, {figure: 2, source: clause(sure(practice, records.Unconfirmed),
			"smallest vessel of a domestic boiler")}}},
	{field: records.CondensateStatedMM.Field, looser: lowerIsLooser, bounds: []envelope{{figure: 16,
		source: condensates}}},
	{field: records.CondensateStatedFall.Field, looser: lowerIsLooser, bounds: []envelope{{figure: 25,
		source: leastFall}}},
	{field: records.HotRatedKW.Field, looser: lowerIsLooser, bounds: []envelope{{share: 0.5, source: halfOutput}}},
	{field: records.FuseStatedA.Field, looser: higherIsLooser, bounds: []envelope{{figure: 13, source: bs1362}}},
}

var ventBounds = []envelope{
	{flues: []string{records.FlueOpenFanned, records.FlueOpenNatural}, share: 0.5, source: halfVent},
	{flues: []string{records.FlueNone}, kinds: []string{records.KindSpaceHeater, records.KindWaterHeater}, figure: 50,
		source: noVent},
}

func inletBounds(natural, lpg float64) []envelope {
	return []envelope{{fuel: records.FuelNatural, figure: natural, source: secondFamily},
		{fuel: records.FuelPropane, figure: lpg, source: thirdFamily},
		{fuel: records.FuelButane, figure: lpg, source: thirdFamily}}
}

func ratioBounds() []envelope {
	out := []envelope{{kinds: boilers, figure: *ratioInUse.High, source: actionLevel}}
	for _, r := range recalledRatios {
		out = append(out, envelope{kinds: r.kinds, figure: r.ratio, source: r.limit().Source})
	}
	return out
}

// co2Bounds is the CO2 that goes with an oxygen, for each fuel.
func co2Bounds(o2 float64, condensing bool) []envelope {
	var out []envelope
	for _, f := range gas.Fuels() {
		if co2, err := gas.CO2FromO2Percent(o2, f.PublishedCO2MaxHighPercent); err == nil {
			out = append(out, envelope{fuel: string(f.Code), condensing: condensing, figure: roundTo(co2, 1),
				source: clause(physics, "CO₂ of "+plain(f)+line(" at %s %% oxygen", show(o2, 0)))})
		}
	}
	return out
}

var statedByKey = func() map[string]*statedFigure {
	out := map[string]*statedFigure{}
	for i := range statedFigures {
		s := &statedFigures[i]
		key := s.field.Key
		if s.rows != nil {
			key = s.rows.Key + "." + key
		}
		out[key] = s
	}
	return out
}()

// bound is the envelope of the figure on this record.
func (s *statedFigure) bound(e *entries, general *records.Limit) (envelope, bool) {
	for _, b := range s.bounds {
		if b.fuel != "" && b.fuel != e.Values.Choice(records.ApplianceFuel) ||
			b.kinds != nil && !oneOf(e.Values.Choice(records.ApplianceKind), b.kinds) ||
			b.flues != nil && !oneOf(e.Values.Choice(records.ApplianceFlue), b.flues) ||
			b.system != "" && b.system != e.Values.Choice(records.FlueSystem) ||
			b.condensing && !e.condensing() {
			continue
		}
		if b.share > 0 {
			edge := generalEdge(s, general)
			if edge == nil {
				continue
			}
			b.figure = roundTo(b.share**edge, 2)
		}
		return b, true
	}
	return envelope{}, false
}

func (s *statedFigure) further(x, than float64) bool {
	if s.looser == higherIsLooser {
		return above(x, than)
	}
	return below(x, than)
}

// beyond says that a figure is beyond anything published or possible, or "".
func (s *statedFigure) beyond(x float64, b envelope) string {
	if !s.further(x, b.figure) {
		return ""
	}
	word := "at most"
	if s.looser == lowerIsLooser {
		word = "at least"
	}
	figure := withUnit(show(x, 5), s.field.Unit)
	return line("“%s”, %s, is beyond anything that may be stated, %s %s (%s): read the instructions again.",
		s.field.Label, figure, word, withUnit(show(b.figure, 5), s.field.Unit), b.source)
}

// looserThan says that a figure is looser than the general limit, or "".
func (s *statedFigure) looserThan(x float64, general *records.Limit) string {
	edge := generalEdge(s, general)
	if edge == nil || !s.further(x, *edge) {
		return ""
	}
	return line("The manufacturer's instructions allow %s where %s is general.", withUnit(show(x, 5), s.field.Unit),
		withUnit(show(*edge, 5), s.field.Unit))
}

func generalEdge(s *statedFigure, general *records.Limit) *float64 {
	switch {
	case general == nil || general.Unit != s.field.Unit:
		return nil
	case s.looser == higherIsLooser && general.Attention != nil:
		return general.Attention
	case s.looser == higherIsLooser:
		return general.High
	}
	return general.Low
}

// asStated finishes the finding of a limit for which figures may be stated.
// Beyond its envelope no figure decides: what is outside stays outside, all
// else is doubtful.
func (e *entries) asStated(f records.Finding, general *records.Limit, fields ...records.NumberField) records.Finding {
	for _, field := range fields {
		x, has := e.Values.Float(field)
		if !has {
			continue
		}
		s := statedByKey[field.Key]
		b, bounded := s.bound(e, general)
		f = e.stateOne(f, general, s, x, b, bounded)
	}
	return f
}

func (e *entries) stateOne(f records.Finding, general *records.Limit, s *statedFigure, x float64, b envelope,
	bounded bool) records.Finding {
	if general != nil && f.Limit != nil && f.Limit.Rank == records.ByManufacturer {
		f.Outranked = general
	}
	if bounded {
		if why := s.beyond(x, b); why != "" {
			return beyondBelief(f, why)
		}
	}
	switch f.Outcome {
	case records.Inside, records.Attention, records.Close:
		if says := s.looserThan(x, general); says != "" {
			f.Looser, f.Reason = true, joined(f.Reason, says)
		}
	}
	return f
}

// beyondBelief makes a finding doubtful because of the figure that decides it.
func beyondBelief(f records.Finding, why string) records.Finding {
	switch f.Outcome {
	case records.Outside, records.Doubtful:
		f.Reason = joined(f.Reason, why)
	case records.Inside, records.Attention, records.Close:
		f.Outcome, f.AtLimit, f.Reason = records.Doubtful, false, why
	}
	return f
}
