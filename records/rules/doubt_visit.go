package rules

import (
	"strings"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// postcodeNations are the nations that a postcode area lies in. Areas that are
// not listed say nothing: those of the Crown dependencies, and letters that are
// not assigned.
var postcodeNations = func() map[string][]records.Nation {
	out := map[string][]records.Nation{}
	for _, of := range []struct {
		areas   string
		nations []records.Nation
	}{
		{"AL B BA BB BD BH BL BN BR BS CB CM CO CR CT CV CW DA DE DH DL DN DT DY E EC EN EX FY GU HA HD HG HP HU HX IG " +
			"IP KT L LA LE LN LS LU M ME MK N NG NN NR NW OL OX PE PL PO PR RG RH RM S SE SG SK SL SM SN SO SP SR SS ST " +
			"SW TA TF TN TQ TR TS TW UB W WA WC WD WF WN WR WS WV YO", []records.Nation{records.England}},
		{"CA NE", []records.Nation{records.England, records.Scotland}},
		{"AB DD EH FK G HS IV KA KW KY ML PA PH ZE", []records.Nation{records.Scotland}},
		{"DG TD", []records.Nation{records.Scotland, records.England}},
		{"CF SA", []records.Nation{records.Wales}},
		{"LD LL NP GL CH HR SY", []records.Nation{records.Wales, records.England}},
		{"BT", []records.Nation{records.NorthernIreland}},
	} {
		for _, area := range strings.Fields(of.areas) {
			out[area] = of.nations
		}
	}
	return out
}()

var (
	postcodeLimit = words("the postcode area lies in the nation", records.ByPractice, records.Source{
		Document: "Postcode areas of the United Kingdom", Clause: "those on a border count for both nations",
		Confidence: records.Unconfirmed})
	noCOLimit = words("not nothing at both rates", records.ByPractice,
		clause(practice, "a burner gives a little CO at one rate at least, and an analyser that shows none may be blocked"))
	airLimit = least(leastOxygenPct, "% O₂", records.ByPractice,
		clause(sure(practice, records.Unconfirmed), "oxygen at full rate for complete combustion, whatever is stated"))
	efficiencyLimit = words("a flue loss that a working appliance can have", records.ByPhysics,
		sure(clause(physics, "Siegert loss; net efficiency from 50 % to that of full condensation"), records.Practice))
)

func visitDoubts() []Rule {
	id := records.Combustion.ID
	fuel, kind := records.ApplianceFuel.Field, records.ApplianceKind.Field
	return []Rule{
		{ID: "appliance.nation", Title: "Postcode and nation agree", Section: records.ApplianceSection.ID,
			Limits: []records.Limit{postcodeLimit},
			Explains: "The nation decides which law applies. A postcode area that lies in another one means that one of " +
				"the two was entered wrong.",
			eval: on(appliance.postcodeAgrees)},
		{ID: "combustion.no_co", Title: "CO is read at all", Section: id,
			Reads:  []*records.Field{records.COMaxPPM.Field, records.COMinPPM.Field},
			Limits: []records.Limit{noCOLimit},
			Explains: "No CO at either rate means more often that the probe, pump or sensor did not work than that the " +
				"flame is perfect.",
			eval: on(combustion.someCO)},
		{ID: "combustion.enough_air", Title: "Enough oxygen at full rate", Section: id,
			Reads:  []*records.Field{records.O2MaxPct.Field, records.CO2MaxPct.Field, fuel},
			Limits: []records.Limit{airLimit},
			Explains: "With hardly any oxygen left a flame burns incompletely, whatever setting is stated. CO₂ tells the " +
				"same where oxygen was not read.",
			eval: on(combustion.enoughAir)},
		{ID: "combustion.efficiency", Title: "Efficiency by the flue loss", Section: id,
			Reads: []*records.Field{records.O2MaxPct.Field, records.FlueTempMaxC.Field, records.AirTempC.Field, fuel,
				kind},
			Limits: []records.Limit{efficiencyLimit},
			Explains: "What goes up the flue is lost. Shown on net and on gross calorific value, with the excess air and " +
				"the dew point behind it; judged only where no appliance could have such a loss.",
			eval: on(combustion.efficiency)},
	}
}

// postcodeArea is the letters that a postcode begins with.
func postcodeArea(postcode string) string {
	end := strings.IndexFunc(postcode, func(r rune) bool { return r < 'A' || r > 'Z' })
	if end < 0 {
		return ""
	}
	return postcode[:end]
}

func (e appliance) postcodeAgrees() records.Finding {
	nations, known := postcodeNations[postcodeArea(e.Property.Postcode)]
	if !known || e.Property.Nation == "" {
		return exempt("the postcode area says nothing of the nation")
	}
	reading := e.Property.Postcode + ", " + string(e.Property.Nation)
	for _, n := range nations {
		if n == e.Property.Nation {
			return sound(reading, "The postcode area lies in the nation.", postcodeLimit)
		}
	}
	return odd(reading, "The postcode area lies in "+string(nations[0])+", yet the nation is entered as "+
		string(e.Property.Nation)+": its law and limits would be the wrong ones.", postcodeLimit)
}

func (e combustion) someCO() records.Finding {
	rs, ok := e.all(records.COMaxPPM, records.COMinPPM)
	if !ok {
		return notThere("CO was not read at both rates")
	}
	reading := show(rs[0].Value, 0) + " and " + e.entered(records.COMinPPM.Field)
	if equal(rs[0].Value, 0) && equal(rs[1].Value, 0) {
		return odd(reading, "No CO at either rate: was the probe in the flue, the pump running and the sensor awake? "+
			"Check the analyser and read again.", noCOLimit)
	}
	return sound(reading, "CO was read at one rate at least.", noCOLimit)
}

func (e combustion) enoughAir() records.Finding {
	fuel, known := e.fuel()
	o2, has := e.Values.Float(records.O2MaxPct)
	co2, hasCO2 := e.Values.Float(records.CO2MaxPct)
	if !known || !has && !hasCO2 {
		return notThere("fuel, and oxygen or CO₂ at full rate, are not entered")
	}
	const starved = "There is hardly any oxygen left, so the gas cannot burn completely, whatever setting is stated: turn " +
		"the appliance off until the reading is explained."
	if has && below(o2, leastOxygenPct) {
		f := odd(e.entered(records.O2MaxPct.Field)+" O₂", starved, airLimit)
		f.Suggested = records.AtRisk
		return f
	}
	most, err := gas.CO2FromO2Percent(leastOxygenPct, fuel.PublishedCO2MaxHighPercent)
	if hasCO2 && err == nil && above(co2, most) {
		f := odd(e.entered(records.CO2MaxPct.Field)+" CO₂", starved, airLimit)
		f.Suggested = records.AtRisk
		f.Working = []string{line("At %s %% oxygen %s gives %s %% CO₂.", show(leastOxygenPct, 1), plain(fuel),
			show(most, 2))}
		return f
	}
	reading := e.entered(records.CO2MaxPct.Field) + " CO₂"
	if has {
		reading = e.entered(records.O2MaxPct.Field) + " O₂"
	}
	return sound(reading, "There is air left over for the gas to burn completely.", airLimit)
}

// leastNetPct is the net efficiency below which a reading is not believed.
const leastNetPct = 50.0

func (e combustion) efficiency() records.Finding {
	rs, ok := e.all(records.O2MaxPct, records.FlueTempMaxC, records.AirTempC)
	fuel, known := e.fuel()
	if !ok || !known {
		return notThere("fuel, oxygen and both temperatures are not all entered")
	}
	o2, flue, air := rs[0].Value, rs[1].Value, rs[2].Value
	loss, err := fuel.Siegert.LossFromO2Percent(o2, flue, air, gas.SiegertO2Percent)
	c, err2 := fuel.CondensationAt(o2, flue)
	excess, err3 := fuel.Stoichiometry.ExcessAirPercent(o2)
	if err != nil || err2 != nil || err3 != nil {
		return exempt("the readings give no flue loss; each is judged by itself")
	}
	net := 100 - loss
	best := net + c.GainNetPercent
	reading := line("net %s %%, gross %s %%", show(net, 1), show(net/fuel.GrossNetRatio, 1))
	f := sound(reading, "The flue loss is one that a working appliance can have.", efficiencyLimit)
	if below(net, leastNetPct) {
		f = odd(reading, "More than half of the heat would go up the flue: read oxygen and temperatures again.",
			efficiencyLimit)
	}
	f.Working = []string{
		line("Flue loss %s %% of the net heat input at %s %% oxygen, flue gas %s °C, air %s °C.", show(loss, 1),
			show(o2, 2), show(flue, 1), show(air, 1)),
		line("Excess air %s %%; dew point of the flue gas %s °C.", show(excess, 0), show(c.DewPointC, 1)),
	}
	if c.GainNetPercent > 0 {
		f.Working = append(f.Working, line("Below the dew point up to %s %% net, %s %% gross, where all that can condense "+
			"does.", show(best, 1), show(best/fuel.GrossNetRatio, 1)))
	}
	return f
}
