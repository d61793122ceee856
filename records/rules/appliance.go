package rules

import (
	"strings"

	"gaugebook/records"
	"gaugebook/records/gas"
)

var applianceTopic = topic{
	rules: applianceRules(),
	sample: map[*records.Field]string{
		records.ApplianceKind.Field: records.KindCombination, records.ApplianceMake.Field: "Tarnwick",
		records.ApplianceModel.Field: "TC 24", records.ApplianceSerial.Field: "TC24-0061873",
		records.ApplianceLocation.Field: "Utility room", records.ApplianceFuel.Field: records.FuelNatural,
		records.ApplianceCondensing.Field: "yes", records.ApplianceFlue.Field: records.FlueSealedFanned,
		records.ApplianceInstalled.Field: "replacement", records.RatedInputKW.Field: "24.5",
		records.RatedInputBasis.Field: "net", records.RatedOutputKW.Field: "24.0",
		records.StatedDocument.Field:     "Tarnwick TC 24 installation manual, issue 3, table 7",
		records.StatedInletMinMbar.Field: "18.0", records.StatedInletMaxMbar.Field: "22.5",
		records.StatedCO2MaxRateLow.Field: "8.7", records.StatedCO2MaxRateHigh.Field: "9.5",
		records.StatedCO2MinRateLow.Field: "8.3", records.StatedCO2MinRateHigh.Field: "9.1",
		records.StatedFlueLengthMaxM.Field: "9.0", records.StatedFlueFallMinMM.Field: "44",
	},
}

func applianceRules() []Rule {
	id := records.ApplianceSection.ID
	return []Rule{
		{
			ID: "appliance.identified", Title: "Appliance identified", Section: id,
			Reads: identifying(),
			Explains: "Kind, make, model, serial number, location, fuel and kind of flue are needed: they decide " +
				"which limits apply and which appliance the record is for.",
			eval: on(appliance.identified),
		},
		{
			ID: "appliance.rated_input", Title: "Rated heat input, net or gross", Section: id,
			Reads: []*records.Field{records.RatedInputKW.Field, records.RatedInputBasis.Field,
				records.RatedOutputKW.Field, records.ApplianceFuel.Field, records.ApplianceKind.Field},
			Limits: []records.Limit{outputLimit},
			Explains: "The data plate states heat input as net or gross; the two differ by about a tenth, so the " +
				"record must say which. No appliance gives out more heat than its gross heat input.",
			eval: on(appliance.ratedInput),
		},
		{
			ID: "appliance.stated_limits", Title: "Source of the manufacturer's limits", Section: id,
			Reads: append(fromInstructions(), records.StatedDocument.Field, records.StatedPage.Field,
				records.ApplianceFuel.Field, records.ApplianceKind.Field, records.ApplianceCondensing.Field,
				records.FlueDistances.Field, records.FlueTerminal.Field, records.ApplianceFlue.Field,
				records.RatedInputKW.Field, records.RatedInputBasis.Field),
			Explains: "A manufacturer's limit outranks a general one, so the record must say where it was read.",
			eval:     on(appliance.statedLimits),
		},
	}
}

func identifying() []*records.Field {
	return []*records.Field{
		records.ApplianceKind.Field, records.ApplianceMake.Field, records.ApplianceModel.Field,
		records.ApplianceSerial.Field,
		records.ApplianceLocation.Field, records.ApplianceFuel.Field, records.ApplianceFlue.Field,
	}
}

// statedFields are the fields of what the manufacturer states, of all sections.
func statedFields() []*records.Field {
	var out []*records.Field
	for i := range statedFigures {
		if s := &statedFigures[i]; s.rows != nil {
			out = append(out, s.rows.Field)
		} else {
			out = append(out, s.field)
		}
	}
	return distinct(out)
}

func (e appliance) identified() records.Finding {
	if f, ok := e.need(identifying()...); !ok {
		return f
	}
	reading := e.Values.ApplianceName() + ", serial " + e.Values.Text(records.ApplianceSerial)
	return inside(reading, "The appliance is identified.")
}

var outputLimit = words("output not above gross input, of a boiler or water heater not below half of the net one",
	records.ByPhysics, clause(physics, "conservation of energy"))

func (e appliance) ratedInput() records.Finding {
	if f, ok := e.need(records.RatedInputKW.Field, records.RatedInputBasis.Field); !ok {
		return f
	}
	reading := e.entered(records.RatedInputKW.Field) + " " + e.Values.Choice(records.RatedInputBasis)
	f := inside(reading, "The rated heat input is recorded as net or gross.")
	net, gross, ok := e.ratedKW()
	if !ok {
		return f
	}
	f.Working = []string{line("Rated input: net %s kW, gross %s kW (ratio of the fuel).", show(net, 2), show(gross, 2))}
	output, ok := e.Values.Float(records.RatedOutputKW)
	if ok && above(output, gross) {
		d := doubtful(reading, "The rated output of "+e.entered(records.RatedOutputKW.Field)+
			" is more than the gross heat input: read the data plate again.")
		limit := outputLimit
		d.Limit, d.Working = &limit, f.Working
		return d
	}
	heats := e.boiler() || e.Values.Choice(records.ApplianceKind) == records.KindWaterHeater
	if ok && heats && below(output, float64(leastOutputShare*net)) {
		return odd(reading, "The rated output of "+e.entered(records.RatedOutputKW.Field)+
			" is less than half of the net heat input: read the data plate again.", outputLimit)
	}
	return f
}

// leastOutputShare is the share of its net heat input that any boiler or water
// heater gives out.
const leastOutputShare = 0.5

// ratedKW returns the rated heat input on both bases.
func (e *entries) ratedKW() (net, gross float64, ok bool) {
	kw, has := e.Values.Float(records.RatedInputKW)
	fuel, known := e.fuel()
	if !has || !known {
		return 0, 0, false
	}
	var err error
	switch e.Values.Choice(records.RatedInputBasis) {
	case "net":
		net = kw
		gross, err = fuel.GrossFromNetKW(kw)
	case "gross":
		gross = kw
		net, err = fuel.NetFromGrossKW(kw)
	default:
		return 0, 0, false
	}
	return net, gross, err == nil
}

// fromInstructions are those of them whose page is named once.
func fromInstructions() []*records.Field {
	var out []*records.Field
	for _, f := range statedFields() {
		if onStatedPage(f) {
			out = append(out, f)
		}
	}
	return out
}

// onStatedPage are the figures that come from the instructions which are named
// once, in the Appliance section.
func onStatedPage(f *records.Field) bool {
	switch f {
	case records.CondensateStatedMM.Field, records.CondensateStatedFall.Field, records.FuseStatedA.Field:
		return true
	}
	return f.Section() == records.ApplianceSection.ID
}

func (e appliance) statedLimits() records.Finding {
	var given, beyond []string
	looser := false
	for i := range statedFigures {
		s := &statedFigures[i]
		x, has := e.Values[s.field.Key].Reading()
		if s.rows != nil || !has || !onStatedPage(s.field) {
			continue
		}
		given = append(given, s.field.Label+": "+e.entered(s.field)+".")
		general := e.generalFor(s.field)
		if b, bounded := s.bound(e.entries, general); bounded {
			if why := s.beyond(x.Value, b); why != "" {
				beyond = append(beyond, why)
			}
		}
		looser = looser || s.looserThan(x.Value, general) != ""
	}
	if e.anyLooserDistance() {
		given, looser = append(given, "Distances of the terminal below the general ones."), true
	}
	if given == nil {
		return exempt("no manufacturer's limit is on the record; the general limits are used")
	}
	f := e.statedFrom(looser, beyond)
	f.Working = given
	return f
}

// statedFrom judges where the stated limits come from and what they are.
func (e *entries) statedFrom(looser bool, beyond []string) records.Finding {
	document, page := e.Values.Text(records.StatedDocument), e.Values.Text(records.StatedPage)
	reading := document
	if page != "" {
		reading += ", " + page
	}
	for _, p := range [][2]records.NumberField{
		{records.StatedInletMinMbar, records.StatedInletMaxMbar},
		{records.StatedCO2MaxRateLow, records.StatedCO2MaxRateHigh},
		{records.StatedCO2MinRateLow, records.StatedCO2MinRateHigh},
	} {
		low, lok := e.Values.Float(p[0])
		high, hok := e.Values.Float(p[1])
		if lok && hok && above(low, high) {
			return doubtful(reading, p[0].Label+" is above "+p[1].Label+": read the instructions again.")
		}
	}
	switch {
	case beyond != nil:
		return doubtful(reading, strings.Join(beyond, " "))
	case document == "":
		return doubtful("", "Limits are stated, but not which instructions they were read from.")
	case looser && page == "":
		return doubtful(reading,
			"A limit looser than the general one is stated: name the page or table that it is on, under “"+
				nameOf(records.StatedPage.Field)+"”.")
	case looser:
		return inside(reading, "Instructions and page of the stated limits are named; some are looser than the "+
			"general ones, which the findings say.")
	}
	return inside(reading, "The instructions that the stated limits come from are named.")
}

// generalFor is the general limit that a stated figure would replace, nil where
// there is none.
func (e *entries) generalFor(f *records.Field) *records.Limit {
	switch f {
	case records.StatedInletMinMbar.Field, records.StatedInletMaxMbar.Field:
		if l, ok := inletRanges[e.Values.Choice(records.ApplianceFuel)]; ok {
			return &l
		}
	case records.StatedInputMinusPct.Field, records.StatedInputPlusPct.Field:
		l := most(generalInputPct, "%", inputLimit.Rank, inputLimit.Source)
		return &l
	case records.StatedCOMaxPPM.Field:
		if e.firstFiring() {
			return copyOf(coLimit)
		}
	case records.CondensateStatedMM.Field:
		return copyOf(condensateIn)
	case records.CondensateStatedFall.Field:
		return copyOf(condensateFall)
	case records.FuseStatedA.Field:
		return copyOf(fuseLimit)
	case records.StatedRatioMax.Field:
		if l, ok := e.generalRatio(); ok {
			return &l
		}
	case records.StatedCO2MaxRateHigh.Field, records.StatedCO2MinRateHigh.Field:
		if fuel, ok := e.fuel(); ok {
			if l, ok := extremeLimit(fuel); ok {
				return &l
			}
		}
	}
	return nil
}

// flueKind maps the record's kind of flue to the terminal table's.
func (e *entries) flueKind() (gas.FlueKind, bool) {
	switch e.Values.Choice(records.ApplianceFlue) {
	case records.FlueSealedFanned:
		return gas.BalancedFanned, true
	case records.FlueSealedNatural:
		return gas.BalancedNatural, true
	case records.FlueOpenFanned:
		return gas.OpenFanned, true
	}
	return "", false
}
