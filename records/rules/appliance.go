package rules

import (
	"gaugebook/records"
	"gaugebook/records/gas"
)

func applianceRules() []Rule {
	id := records.ApplianceSection.ID
	return []Rule{
		{
			ID: "appliance.identified", Title: "Appliance identified", Section: id,
			Reads: identifying(),
			Explains: "Kind, make, model, serial number, location, fuel and kind of flue are needed: they decide " +
				"which limits apply and which appliance the record is for.",
			eval: identified,
		},
		{
			ID: "appliance.rated_input", Title: "Rated heat input, net or gross", Section: id,
			Reads: []*records.Field{records.RatedInputKW.Field, records.RatedInputBasis.Field,
				records.RatedOutputKW.Field, records.ApplianceFuel.Field},
			Limits: []records.Limit{outputLimit},
			Explains: "The data plate states heat input as net or gross; the two differ by about a tenth, so the " +
				"record must say which. No appliance gives out more heat than its gross heat input.",
			eval: ratedInput,
		},
		{
			ID: "appliance.stated_limits", Title: "Source of the manufacturer's limits", Section: id,
			Reads:    append(statedFields(), records.StatedDocument.Field),
			Explains: "A manufacturer's limit outranks a general one, so the record must say where it was read.",
			eval:     statedLimits,
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

func statedFields() []*records.Field {
	var out []*records.Field
	for _, f := range []records.NumberField{
		records.StatedInletMinMbar, records.StatedInletMaxMbar, records.StatedInputMinusPct, records.StatedInputPlusPct,
		records.StatedCOMaxPPM, records.StatedRatioMax, records.StatedCO2MaxRateLow, records.StatedCO2MaxRateHigh,
		records.StatedCO2MinRateLow, records.StatedCO2MinRateHigh, records.StatedFlueLengthMaxM,
		records.StatedFlueFallMinMM,
	} {
		out = append(out, f.Field)
	}
	return out
}

func identified(e *entries) records.Finding {
	if f, ok := e.need(identifying()...); !ok {
		return f
	}
	reading := e.Values.ApplianceName() + ", serial " + e.Values.Text(records.ApplianceSerial)
	return inside(reading, "The appliance is identified.")
}

var outputLimit = words("output not above gross input", records.ByPhysics, clause(physics, "conservation of energy"))

func ratedInput(e *entries) records.Finding {
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
	return f
}

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

func statedLimits(e *entries) records.Finding {
	var given []string
	for _, f := range statedFields() {
		if e.Values[f.Key].Present() {
			given = append(given, f.Label+": "+e.entered(f)+".")
		}
	}
	if given == nil {
		return exempt("no manufacturer's limit is on the record; the general limits are used")
	}
	reading := e.Values.Text(records.StatedDocument)
	for _, p := range [][2]records.NumberField{
		{records.StatedInletMinMbar, records.StatedInletMaxMbar},
		{records.StatedCO2MaxRateLow, records.StatedCO2MaxRateHigh},
		{records.StatedCO2MinRateLow, records.StatedCO2MinRateHigh},
	} {
		low, lok := e.Values.Float(p[0])
		high, hok := e.Values.Float(p[1])
		if lok && hok && above(low, high) {
			f := doubtful(reading, p[0].Label+" is above "+p[1].Label+": read the instructions again.")
			f.Working = given
			return f
		}
	}
	if reading == "" {
		f := doubtful("", "Limits are stated, but not which instructions they were read from.")
		f.Working = given
		return f
	}
	f := inside(reading, "The instructions that the stated limits come from are named.")
	f.Working = given
	return f
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
