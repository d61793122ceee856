package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

// terminalLetters maps our position codes to the letters of the published
// table that package gas holds.
var terminalLetters = map[string]string{
	"below-opening": "A", "above-opening": "B", "beside-opening": "C", "below-gutter": "D", "below-eaves": "E",
	"below-balcony": "F", "beside-drain": "G", "corner-or-boundary": "H", "above-ground": "I", "facing-surface": "J",
	"facing-terminal": "K", "car-port-opening": "L", "vertical-terminal": "M", "beside-terminal": "N",
	"from-own-wall": "O", "roof-structure": "P", "above-roof": "Q",
}

// roofLetters are the rows that stand in for a terminal above the roof. An
// opening beside it is taken as one in a wall, which asks for more than one
// in the roof.
var roofLetters = map[string]string{
	"facing-terminal": "KV", "beside-terminal": "KV", "roof-structure": "R", "beside-opening": "S",
	"below-opening": "U",
}

func terminalReads() []*records.Field {
	return []*records.Field{records.FlueDistances.Field, records.FlueTerminal.Field, records.ApplianceFlue.Field,
		records.ApplianceFuel.Field,
		records.RatedInputKW.Field, records.RatedInputBasis.Field, records.StatedDocument.Field}
}

var terminalConfidence = map[string]records.Confidence{"H": records.Confirmed, "M": records.OneSource,
	"L": records.Unconfirmed}

// clearanceLimit is the table's row as a limit; ok is false where the table
// states nothing.
func clearanceLimit(c gas.Clearance) (l records.Limit, ok bool) {
	if !c.Stated {
		return l, false
	}
	where := c.Position.Letter + ", " + string(c.Kind)
	if c.AboveNetKW > 0 {
		where += line(", over %s to %s kW net", show(c.AboveNetKW, 0), show(c.UpToNetKW, 0))
	}
	return least(c.MinimumMM, "mm", records.ByStandard, records.Source{Document: c.Source, Clause: where,
		Confidence: terminalConfidence[c.Confidence]}), true
}

func terminalLimits() []records.Limit {
	var out []records.Limit
	for _, c := range gas.TerminalClearances() {
		if l, ok := clearanceLimit(c); ok {
			l.Text = c.Position.Name + ": " + l.Text
			out = append(out, l)
		}
	}
	return out
}

func (e flue) terminal() records.Finding {
	if f, ok := e.need(records.ApplianceFlue.Field, records.FlueTerminal.Field); !ok {
		return f
	}
	wall := e.Values.Choice(records.FlueTerminal) == records.TerminalWall
	if wall && e.Values.Choice(records.ApplianceFlue) == records.FlueOpenNatural {
		f := outside(records.AtRisk, "wall", "A natural-draught open flue must not end at a wall.")
		l := words("no wall terminal for a natural-draught open flue", records.ByStandard, bs5440)
		f.Limit = &l
		return f
	}
	rows := e.Values.Rows(records.FlueDistances)
	if len(rows) == 0 {
		if !e.commissioning() {
			return exempt("distances are measured when the flue is fitted; none were measured at this visit")
		}
		return missing("No terminal distance was measured.")
	}
	var worst records.Finding
	var working []string
	margin := 0.0
	for i, row := range rows {
		f, spare := e.distance(i, row, wall)
		working = append(working, f.Working...)
		if i == 0 || graver(f.Outcome, worst.Outcome) || f.Outcome == worst.Outcome && spare < margin {
			worst, margin = f, spare
		}
	}
	worst.Working = working
	if reduced := e.reducedPlaces(rows, wall); reduced > 1 {
		worst = beyondBelief(worst, line("A distance reduced by the manufacturer is stated for %d places, and %s.", reduced,
			"may be used at one only"))
	}
	return worst
}

// anyLooserDistance reports whether a least distance is stated that is below
// the general one.
func (e *entries) anyLooserDistance() bool {
	wall := e.Values.Choice(records.FlueTerminal) == records.TerminalWall
	for _, row := range e.Values.Rows(records.FlueDistances) {
		stated, ok := row.Number("stated_mm")
		if !ok {
			continue
		}
		general, _ := e.generalDistance(row.Text("position"), wall)
		if general != nil && below(stated.Value, *general.Low) {
			return true
		}
	}
	return false
}

// reducedPlaces counts the places at which the manufacturer's figure is below
// the general one and may be at one place only.
func (e *entries) reducedPlaces(rows []records.Row, wall bool) int {
	n := 0
	for _, row := range rows {
		stated, ok := row.Number("stated_mm")
		general, _ := e.generalDistance(row.Text("position"), wall)
		if ok && general != nil && oneOf(row.Text("position"), reducible) && below(stated.Value, *general.Low) {
			n++
		}
	}
	return n
}

// graver orders the outcomes of single places: outside first, then doubtful, then missing.
func graver(a, b records.Outcome) bool {
	weight := map[records.Outcome]int{records.Outside: 3, records.Doubtful: 2, records.Missing: 1}
	return weight[a] > weight[b]
}

// distance judges one row; spare is the distance over the least one.
func (e *entries) distance(i int, row records.Row, wall bool) (f records.Finding, spare float64) {
	place := row.Text("position")
	mm, ok := row.Number("distance_mm")
	if place == "" || !ok {
		return missing(line("Distance row %d needs its position and its distance.", i+1)), 0
	}
	label := records.FlueDistances.Column("position").ChoiceLabel(place)
	general, note := e.generalDistance(place, wall)
	limit := general
	if stated, ok := row.Number("stated_mm"); ok {
		l := least(stated.Value, "mm", records.ByManufacturer, e.stated())
		limit = &l
	}
	reading := label + ": " + withUnit(show(mm.Value, 0), "mm")
	if limit == nil {
		f = missing(label + ": " + note + "; enter the manufacturer's figure.")
		f.Reading = reading
		f.Working = []string{reading + "; no figure to compare it with."}
		return f, 0
	}
	f = e.verdict(ruled(mm.Value, reading), *limit, records.AtRisk,
		"Every distance measured is large enough; this one has the least to spare.",
		label+": the terminal is too close.")
	if stated, ok := row.Number("stated_mm"); ok {
		kind, _ := e.flueKind()
		b, bounded := distanceBound(place, kind, general)
		f = e.stateOne(f, general, statedByKey[records.FlueDistances.Key+".stated_mm"], stated.Value, b, bounded)
	}
	f.Working = []string{line("%s; %s (%s).", reading, limit.Text, limit.Source)}
	return f, mm.Value - *limit.Low
}

// generalDistance is the table's limit for a place, or nil and why none.
func (e *entries) generalDistance(place string, wall bool) (*records.Limit, string) {
	const none = "no general figure for this kind of flue"
	kind, ok := e.flueKind()
	if !ok {
		return nil, none
	}
	net, _, ok := e.ratedKW()
	if !ok {
		return nil, "the figure depends on the rated heat input, which is not on the record as net or gross"
	}
	letter := terminalLetters[place]
	if roof, ok := roofLetters[place]; ok && !wall && kind == gas.BalancedFanned {
		letter = roof
	}
	c, err := gas.TerminalClearanceOf(letter, kind, net)
	if err != nil {
		return nil, "the table only goes up to 70 kW net"
	}
	l, ok := clearanceLimit(c)
	if !ok {
		return nil, none
	}
	return &l, ""
}
