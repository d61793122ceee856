package rules

import (
	"math"
	"strings"

	"gaugebook/records"
	"gaugebook/records/gas"
)

var (
	agreeLimits = []records.Limit{
		most(0.1, "% CO₂ apart", records.ByPhysics, clause(physics, "CO₂ calculated from oxygen: rounding only")),
		most(0.6, "% CO₂ apart", records.ByPhysics,
			clause(physics, "CO₂ measured: errors of both sensors and spread of the fuel's CO₂ added up")),
	}
	warmerLimit = words("flue gas warmer than the air by more than the probes can differ, 2 K", records.ByPhysics,
		clause(physics, "combustion gives off heat"))
	copiedLimit = words("not all the same as on the earlier record", records.ByPractice,
		clause(practice, "readings are never all the same to the last decimal place"))
)

// plain is the fuel's name inside a sentence.
func plain(f gas.Fuel) string { return strings.ToLower(f.Label) }

// leastO2Pct is the oxygen below which the setting of any boiler is questioned
// when its manufacturer states no range.
const leastO2Pct = 3.0

func extremeLimits() []records.Limit {
	var out []records.Limit
	for _, f := range gas.Fuels() {
		if l, ok := extremeLimit(f); ok {
			out = append(out, l)
		}
	}
	return out
}

// extremeLimit is the CO2 at which the setting is questioned: the one at 3 %
// oxygen, 10 % for natural gas.
func extremeLimit(f gas.Fuel) (records.Limit, bool) {
	co2, err := gas.CO2FromO2Percent(leastO2Pct, f.PublishedCO2MaxLowPercent)
	if err != nil {
		return records.Limit{}, false
	}
	l := most(roundTo(co2, 1), "%", records.ByPractice,
		clause(practice, "plausible CO₂, "+plain(f)+", spread of manufacturers' settings"))
	l.Text = "below " + withUnit(show(*l.High, 1), "%") + ", oxygen at least 3 %"
	return l, true
}

func (p point) judgeCO2(e *entries) records.Finding {
	if f, ok := e.need(records.ApplianceFuel.Field, p.co2.Field); !ok {
		return f
	}
	x, _ := e.Values.Float(p.co2)
	reading := e.entered(p.co2.Field)
	fuel, _ := e.fuel()
	top := fuel.PublishedCO2MaxHighPercent
	if above(x, top) {
		l := most(top, "%", records.ByPhysics, clause(physics, "CO₂ of "+plain(fuel)+" burnt without excess air"))
		f := doubtful(reading, "No flame of "+plain(fuel)+
			" can give that much CO₂: wrong fuel set on the analyser, or a misreading.")
		f.Limit = &l
		return f
	}
	co2 := e.read(p.co2)
	low, hasLow := e.Values.Float(p.statedCO2Low)
	high, hasHigh := e.Values.Float(p.statedCO2Highest)
	const in = "CO₂ is in the range the manufacturer states."
	const out = "CO₂ is outside the range the manufacturer states: set it only as the instructions allow."
	s := e.stated()
	var own records.Limit
	switch {
	case hasLow && hasHigh:
		own = span(low, high, "%", records.ByManufacturer, s)
	case hasLow:
		own = least(low, "%", records.ByManufacturer, s)
	case hasHigh:
		own = most(high, "%", records.ByManufacturer, s)
	default:
		return p.plausible(e, fuel, x, reading)
	}
	f := e.verdict(co2, own, records.AtRisk, in, out)
	general, _ := extremeLimit(fuel)
	return e.asStated(f, &general, p.statedCO2Low, p.statedCO2Highest)
}

func (p point) plausible(e *entries, fuel gas.Fuel, co2 float64, reading string) records.Finding {
	f := inside(reading, "The manufacturer states no range; the value is nothing unusual.")
	l, ok := extremeLimit(fuel)
	if !ok {
		return f
	}
	f.Limit = &l
	o2, hasO2 := e.Values.Float(p.o2)
	if !below(co2, *l.High) || hasO2 && below(o2, leastO2Pct) {
		f.Outcome = records.Doubtful
		f.Reason = "Very little air for " + plain(fuel) +
			": check the fuel set on the analyser, the gas setting and the air supply."
	}
	return f
}

// judgeAgreement compares CO2 with the one that belongs to the oxygen.
func (p point) judgeAgreement(e *entries) records.Finding {
	if f, ok := e.need(records.ApplianceFuel.Field, p.co2.Field, p.o2.Field, records.CO2Method.Field); !ok {
		return f
	}
	fuel, _ := e.fuel()
	co2, _ := e.Values.Float(p.co2)
	o2, _ := e.Values.Float(p.o2)
	reading := e.entered(p.o2.Field) + " O₂, " + e.entered(p.co2.Field) + " CO₂"
	low, err := gas.CO2FromO2Percent(o2, fuel.PublishedCO2MaxLowPercent)
	if err != nil {
		return doubtful(reading, "There is more oxygen than in fresh air: zero the analyser again.")
	}
	high, _ := gas.CO2FromO2Percent(o2, fuel.PublishedCO2MaxHighPercent)
	working := line("%s, CO₂max %s to %s %%: at %s %% O₂ expect %s to %s %% CO₂.", fuel.Label,
		show(fuel.PublishedCO2MaxLowPercent, 1), show(fuel.PublishedCO2MaxHighPercent, 1), show(o2, 2), show(low, 2),
		show(high, 2))
	l, apart := agreeLimits[1], math.Abs(co2-float64((low+high)/2))
	if e.Values.Choice(records.CO2Method) == "from-o2" {
		l, apart = agreeLimits[0], max(low-co2, co2-high, 0)
	}
	f := hold(apart, l)
	f.Reading = reading
	f.Reason = "Oxygen and CO₂ agree for " + plain(fuel) + "."
	f.Working = []string{working, line("Read %s %%: %s %% apart.", show(co2, 2), show(apart, 2))}
	switch {
	case f.Outcome == records.Outside:
		f.Outcome = records.Doubtful
		f.Reason = "Oxygen and CO₂ cannot both be right for " + plain(fuel) +
			": check the fuel setting, the hose and the entries."
	case above(apart, 0.4):
		f.Reason = "Oxygen and CO₂ are further apart than usual for " + plain(fuel) +
			", but within the sensors' accuracy: check them."
	}
	return f
}

// leastFlueRiseK is what flue gas is at least warmer than the air by.
const leastFlueRiseK = 2.0

// Air that appliances are fed with, -20 to 45 °C.
const coldestAirC, hottestAirC = 20.0, 45.0

func (p point) judgeTemperature(e *entries) records.Finding {
	if f, ok := e.need(p.temp.Field, records.AirTempC.Field); !ok {
		return f
	}
	flue, _ := e.Values.Float(p.temp)
	air, _ := e.Values.Float(records.AirTempC)
	l := warmerLimit
	reading := e.entered(p.temp.Field) + ", air " + e.entered(records.AirTempC.Field)
	f := inside(reading, "The flue gas is warmer than the air.")
	switch {
	case below(air, -coldestAirC) || above(air, hottestAirC):
		f = doubtful(reading, "The combustion air is hardly ever that cold or warm: read it again.")
	case below(flue, air):
		f = doubtful(reading, "The flue gas is entered as colder than the air, which is impossible with the burner on.")
	case below(flue, air+leastFlueRiseK):
		f = doubtful(reading, "The flue gas is entered as no warmer than the air: both probes were in the same air, or "+
			"the burner was off.")
	}
	f.Limit = &l
	return f
}

func inletReads(f records.NumberField) []*records.Field {
	return []*records.Field{f.Field, records.FlueSystem.Field, records.ApplianceFlue.Field}
}

// inletRule makes a rule of the air inlet, which only concentric flues have.
func inletRule(field records.NumberField,
	judge func(*entries, measured) records.Finding) func(*entries) records.Finding {
	return func(e *entries) records.Finding {
		k, system := e.Values.Choice(records.ApplianceFlue), e.Values.Choice(records.FlueSystem)
		_, entered := e.Values.Float(field)
		switch {
		case entered:
			f := judge(e, e.read(field))
			if sealed := k == records.FlueSealedFanned || k == records.FlueSealedNatural; sealed && system == "" &&
				f.Outcome == records.Inside {
				return missing("Not entered: " + nameOf(records.FlueSystem.Field) + ".")
			}
			return f
		case k == records.FlueNone || e.Values.OpenFlued():
			return exempt("the appliance takes its air from the room")
		case system == "":
			return missing("Not entered: " + nameOf(records.FlueSystem.Field) + ".")
		case system != records.FlueConcentric:
			return exempt("the air duct does not surround the flue")
		case !e.commissioning():
			return exempt("needed when a boiler is commissioned; not taken at this visit")
		}
		return missing("Not entered: " + nameOf(field.Field) + ".")
	}
}

const productsInInlet = "Combustion products are getting into the air inlet: check the flue, seals and terminal, " +
	"then test again."

func judgeInletO2(e *entries, m measured) records.Finding {
	return e.verdict(m, inletO2, records.AtRisk, "The air inlet is drawing fresh air.", productsInInlet)
}

// judgeInletCO2 takes the edge itself as outside: the limit is "below".
func judgeInletCO2(e *entries, m measured) records.Finding {
	f := e.verdict(m, inletCO2, records.AtRisk, "The air inlet is drawing fresh air.", productsInInlet)
	if f.AtLimit {
		f.Outcome, f.AtLimit, f.Reason, f.Suggested = records.Outside, false, productsInInlet, records.AtRisk
	}
	return f
}

// combustionNumbers are the readings that two visits cannot share.
func combustionNumbers() []*records.Field {
	var out []*records.Field
	for _, f := range records.Combustion.Fields() {
		if f.Kind == records.NumberKind && f.Decimals > 0 && f != records.SettleMinutes.Field {
			out = append(out, f)
		}
	}
	return out
}

// fewestAlike is the number of decimal readings that have to be there, and
// all be equal, before copying is suspected.
const fewestAlike = 4

func (e combustion) copied() records.Finding {
	if len(e.facts.Earlier) == 0 {
		return exempt("there is no earlier record of the appliance to compare with")
	}
	shared, alike := e.equalShare(combustionNumbers())
	if shared < fewestAlike {
		return exempt("too few readings in common with the earlier record to compare")
	}
	l := copiedLimit
	reading := line("%d of %d readings the same", alike, shared)
	f := inside(reading, "The readings differ from those of the earlier record.")
	if alike == shared {
		f = doubtful(reading,
			"Every combustion reading is the same as on the earlier record, to the last decimal place: were they "+
				"really taken at this visit?")
	}
	f.Limit = &l
	return f
}
