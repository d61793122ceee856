package rules

import (
	"math"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// leanest is the least share of each fuel in air that still burns, percent by
// volume. A premixed flame cannot have more air than that.
var leanest = map[gas.FuelCode]float64{gas.NaturalGas: 4.4, gas.Propane: 1.7, gas.Butane: 1.4}

const mostAirFreePPM = 10000.0

// Flue temperatures that the kind of appliance makes unlikely. The highest for
// a condensing appliance is what its plastic flue and limiter allow.
const hottestCondensingC = 130.0

var (
	leanLimit = words("no more air than the flame can burn with", records.ByPhysics,
		records.Source{Document: "IEC 60079-20-1",
			Clause: "lower flammable limits: methane 4.4 %, propane 1.7 %, butane 1.4 %; 0.3 % oxygen allowed for " +
				"the sensor", Confidence: records.Unconfirmed})
	airFreeLimit = most(mostAirFreePPM, "ppm air-free", records.ByPractice,
		ownBand("one part in a hundred: beyond the range of this kind of analyser"))
	alikeLimit = words("not all the same at the two rates", records.ByPractice,
		clause(practice, "two rates never give the same figures to the last decimal place"))
	hotterLimit = most(flueTempErrorK+warmUpBetweenRates, "K hotter at minimum rate", records.ByPractice,
		ownBand("less gas, cooler flue gas: 5 K for the sensor, 15 K for the water warming up between the readings"))
	rangeLimit = words("condensing: at most 130 °C; not condensing: not below the dew point", records.ByPractice,
		ownBand("temperature limiters of condensing appliances, dew point of the flue gas"))
	fuelLimit = words("oxygen and CO₂ do not match another fuel much better", records.ByPhysics,
		sure(clause(physics, "CO₂max of the fuels: mean of both rates, errors of the sensors"), records.Practice))
	points = []point{maxPoint, minPoint}
)

func burnerDoubts() []Rule {
	id := records.Combustion.ID
	rate, fuel, condensing := records.MinRate.Field, records.ApplianceFuel.Field, records.ApplianceCondensing.Field
	pairs := []*records.Field{records.CO2MaxPct.Field, records.O2MaxPct.Field, records.CO2MinPct.Field,
		records.O2MinPct.Field, rate}
	temps := []*records.Field{records.FlueTempMaxC.Field, records.FlueTempMinC.Field, rate}
	return []Rule{
		{ID: "combustion.lean_limit", Title: "No more air than the flame can burn with", Section: id,
			Reads: []*records.Field{records.O2MaxPct.Field, records.O2MinPct.Field, rate, fuel, condensing,
				records.ApplianceFlue.Field},
			Limits: []records.Limit{leanLimit},
			Explains: "A condensing appliance premixes gas and air, and its flame goes out when there is too much " +
				"air. A higher oxygen reading means that fresh air got into the sample.",
			eval: on(heat.leanFlame)},
		{ID: "combustion.air_free", Title: "Air-free CO is plausible", Section: id,
			Reads: []*records.Field{records.COMaxPPM.Field, records.O2MaxPct.Field, records.COMinPPM.Field,
				records.O2MinPct.Field, rate},
			Limits: []records.Limit{airFreeLimit},
			Explains: "What the CO would be without the excess air. Above one part in a hundred it is a writing " +
				"error or a flooded sensor; until you know, treat it as true and turn the appliance off.",
			eval: on(heat.airFree)},
		{ID: "combustion.rates_alike", Title: "Both rates read", Section: id,
			Reads: with(pairs, records.COMaxPPM.Field, records.COMinPPM.Field, records.FlueTempMaxC.Field,
				records.FlueTempMinC.Field), Limits: []records.Limit{alikeLimit},
			Explains: "If every reading at the minimum rate is the same as at the maximum rate, the appliance did " +
				"not change rate or the readings were copied.",
			eval: on(heat.ratesAlike)},
		{ID: "combustion.rates_temperature", Title: "Flue gas not hotter at minimum rate", Section: id, Reads: temps,
			Limits: []records.Limit{hotterLimit},
			Explains: "Less gas gives cooler flue gas. If it is much hotter at the minimum rate, the two readings " +
				"were swapped.",
			eval: on(heat.ratesTemperature)},
		{ID: "combustion.flue_range", Title: "Flue temperature suits the kind of appliance", Section: id,
			Reads:  with(temps, condensing, records.ApplianceKind.Field, fuel, records.O2MaxPct.Field),
			Limits: []records.Limit{rangeLimit},
			Explains: "A condensing appliance shuts down before its flue gets hot; a non-condensing one never cools " +
				"its flue gas to the dew point at full rate.",
			eval: on(heat.flueRange)},
		{ID: "combustion.fuel_set", Title: "Readings match the fuel stated", Section: id,
			Reads: with(pairs, fuel, records.CO2Method.Field), Limits: []records.Limit{fuelLimit},
			Explains: "Each fuel has its own line of oxygen against CO₂. Readings on another fuel's line show " +
				"which fuel was burnt, or was set on the analyser.",
			eval: on(heat.fuelSet)},
	}
}

func (e heat) leanFlame() records.Finding {
	fuel, known := e.fuel()
	condensing, _ := e.Values.Flag(records.ApplianceCondensing)
	flue := e.Values.Choice(records.ApplianceFlue)
	if !known || !condensing || flue != records.FlueSealedFanned && flue != records.FlueOpenFanned {
		return exempt("the limit is for premixed flames, as in condensing appliances with a fan")
	}
	mostPct := float64(100 * ((100/leanest[fuel.Code]-1)/fuel.Stoichiometry.Air - 1))
	worst, reading := -1.0, ""
	for _, p := range points {
		o2, ok := e.Values.Float(p.o2)
		if !ok {
			continue
		}
		excess, err := fuel.Stoichiometry.ExcessAirPercent(min(max(0, o2-oxygenErrorPct), 20.8))
		if err == nil && excess > worst {
			worst, reading = excess, e.entered(p.o2.Field)
		}
	}
	if reading == "" {
		return notThere("no oxygen reading is entered")
	}
	f := sound(reading, "A flame can burn with that much air.", leanLimit)
	if above(worst, mostPct) {
		f = odd(reading, "No premixed flame of "+plain(fuel)+
			" burns with that much air: check the hose and probe for a leak.", leanLimit)
	}
	f.Working = []string{line("At least %s %% excess air; the flame goes out at %s %%.", show(worst, 0),
		show(mostPct, 0))}
	return f
}

func (e heat) airFree() records.Finding {
	worst, reading := -1.0, ""
	for _, p := range points {
		co, ok := e.Values.Float(p.co)
		o2, ok2 := e.Values.Float(p.o2)
		if !ok || !ok2 {
			continue
		}
		if ppm, err := gas.COAirFreePPM(co, o2); err == nil && ppm > worst {
			worst, reading = ppm, withUnit(show(ppm, 0), "ppm air-free")
		}
	}
	switch {
	case reading == "":
		return notThere("CO and oxygen are not both entered")
	case above(worst, mostAirFreePPM):
		return odd(reading, "Hardly any flame gives that much CO: turn the appliance off until you know whether "+
			"this is a writing error, a flooded sensor or true.", airFreeLimit)
	}
	return sound(reading, "The air-free CO is within the analyser's range.", airFreeLimit)
}

// fewestAtBothRates have to be there, and be equal, before copying is suspected.
const fewestAtBothRates = 3

func (e heat) ratesAlike() records.Finding {
	shared, alike := 0, 0
	for _, pair := range [][2]records.NumberField{
		{maxPoint.co, minPoint.co}, {maxPoint.co2, minPoint.co2}, {maxPoint.o2, minPoint.o2},
		{maxPoint.temp, minPoint.temp},
	} {
		if rs, ok := e.all(pair[:]...); ok {
			shared++
			if equal(rs[0].Value, rs[1].Value) {
				alike++
			}
		}
	}
	if shared < fewestAtBothRates {
		return notThere("too few readings are there at both rates")
	}
	reading := line("%d of %d readings the same", alike, shared)
	if alike == shared {
		return odd(reading,
			"Every reading is the same at both rates: did the appliance change rate, and was each one read?",
			alikeLimit)
	}
	return sound(reading, "The readings at the two rates differ.", alikeLimit)
}

func (e heat) ratesTemperature() records.Finding {
	rs, ok := e.all(minPoint.temp, maxPoint.temp)
	if !ok {
		return notThere("flue temperatures at both rates are not there")
	}
	reading := line("minimum rate %s, maximum rate %s", e.entered(minPoint.temp.Field), e.entered(maxPoint.temp.Field))
	if above(difference(rs[0], rs[1]), *hotterLimit.High) {
		return odd(reading, "The flue gas is much hotter at the minimum rate: were the two readings swapped?",
			hotterLimit)
	}
	return sound(reading, "The flue gas is not hotter at the minimum rate.", hotterLimit)
}

func (e heat) flueRange() records.Finding {
	temp, ok := e.Values.Float(maxPoint.temp)
	condensing, answered := e.Values.Flag(records.ApplianceCondensing)
	if !ok || !answered {
		return notThere("flue temperature and condensing are not both entered")
	}
	reading := e.entered(maxPoint.temp.Field)
	if condensing {
		if low, has := e.Values.Float(minPoint.temp); has && low > temp {
			temp, reading = low, e.entered(minPoint.temp.Field)
		}
		if above(temp, hottestCondensingC) {
			return odd(reading,
				"A condensing appliance would have shut down before that: read it again, or check the kind of "+
					"appliance.",
				rangeLimit)
		}
		return sound(reading, "The flue is no hotter than a condensing appliance can make it.", rangeLimit)
	}
	fuel, known := e.fuel()
	o2, has := e.Values.Float(maxPoint.o2)
	dew, err := fuel.DewPointC(o2)
	if !known || !has || err != nil {
		return notThere("fuel and oxygen are not both entered")
	}
	f := sound(reading, "The flue gas is above its dew point.", rangeLimit)
	if below(temp, dew-flueTempErrorK) {
		f = odd(reading,
			"The flue gas would condense at that temperature, but the appliance is entered as not condensing.",
			rangeLimit)
	}
	f.Working = []string{line("Dew point at %s %% oxygen: %s °C.", show(o2, 2), show(dew, 1))}
	return f
}

// fuels are those that the readings are compared with.
var fuels = gas.Fuels()

// misfit is how far CO2 lies from the fuel's line, mean of the rates.
func (e heat) misfit(f gas.Fuel) (mean float64, rates int) {
	sum := 0.0
	for _, p := range points {
		rs, ok := e.all(p.co2, p.o2)
		if !ok {
			continue
		}
		low, err := gas.CO2FromO2Percent(rs[1].Value, f.PublishedCO2MaxLowPercent)
		high, err2 := gas.CO2FromO2Percent(rs[1].Value, f.PublishedCO2MaxHighPercent)
		if err != nil || err2 != nil {
			continue
		}
		sum += rs[0].Value - float64((low+high)/2)
		rates++
	}
	return sum / math.Max(1, float64(rates)), rates
}

func (e heat) fuelSet() records.Finding {
	stated, known := e.fuel()
	own, rates := e.misfit(stated)
	if !known || rates == 0 || e.Values.Choice(records.CO2Method) == "" {
		return notThere("fuel, oxygen, CO₂ and how the analyser gets CO₂ are not all entered")
	}
	band := 0.5 // √(0.3² + (0.3 × 0.57)² + 0.1²), and a third more
	if e.Values.Choice(records.CO2Method) == "from-o2" {
		band = 0.2 // CO₂max chosen by the instrument, and rounding
	}
	reading := line("%s %% CO₂ from the line of %s", show(own, 2), plain(stated))
	f := sound(reading, "The readings do not match another fuel much better.", fuelLimit)
	for _, other := range fuels {
		theirs, _ := e.misfit(other)
		f.Working = append(f.Working, line("%s: %s %% CO₂ apart over %d rates.", other.Label, show(theirs, 2), rates))
		if f.Outcome == records.Inside && other.Code != stated.Code && above(math.Abs(own), band) &&
			math.Abs(theirs) < math.Abs(own)/2 {
			working := f.Working
			f = odd(reading, "Oxygen and CO₂ match "+plain(other)+", not "+plain(stated)+
				": which fuel was burnt, and which was set on the analyser?", fuelLimit)
			f.Working = working
		}
	}
	return f
}
