package rules_test

import (
	"strings"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// A slip spoils a record the way people do. It tells which field it touched,
// "" when there was nothing it could do, and whether the entry was refused.
type slip struct {
	name, what string
	floorPct   float64 // least share that must be noticed in the quick run
	spoil      func(d draw, r *records.Record, f records.Facts, s site) (touched string, refused bool)
}

var slips = []slip{
	{"transposed", "two neighbouring digits of one reading changed over", 60, oneReading(transpose)},
	{"ten times", "decimal point of one reading one place to the right", 88, oneReading(func(d draw, t string) string {
		return shift(t, 1)
	})},
	{"a tenth", "decimal point of one reading one place to the left", 84, oneReading(func(d draw, t string) string {
		return shift(t, -1)
	})},
	{"neighbour", "one reading entered in the next field of its section too", 82, neighbour},
	{"swapped", "two readings of a pair changed over", 80, swapped},
	{"wrong fuel", "another fuel stated than was burnt", 98, wrongFuel},
	{"fuel set", "analyser that works CO₂ out set to another fuel", 98, wrongSetting},
	{"earlier combustion", "combustion copied from the earlier record", 99, copyEarlier(&records.Combustion)},
	{"earlier pressures", "tightness test and pressures copied from the earlier record", 99,
		copyEarlier(&records.Tightness, &records.Pressure)},
	{"one rate", "readings at maximum rate entered for minimum rate too", 99, copyRate},
}

// slipFields are the readings that a single slip may hit.
var slipFields = []records.NumberField{
	records.RatedInputKW, records.RatedOutputKW, records.LetByPressureMbar, records.TestPressureMbar, records.DropMbar,
	records.StandingMbar, records.MeterMbar, records.ApplianceMbar, records.HeatStartM3, records.HeatEndM3,
	records.HeatSeconds, records.HeatCV,
	records.InletO2Pct, records.COMaxPPM, records.CO2MaxPct, records.O2MaxPct, records.FlueTempMaxC, records.AirTempC,
	records.COMinPPM, records.CO2MinPct, records.O2MinPct, records.FlueTempMinC,
	records.FlowC, records.ReturnC, records.HeatingFlowL, records.HotFlowL, records.HotInC, records.HotOutC,
}

// enter puts an entry as a form would; one that is refused changes nothing.
func enter(r *records.Record, f *records.Field, entry string) (refused bool) {
	v, err := f.Parse(entry)
	if err == nil {
		r.Values[f.Key] = v
	}
	return err != nil
}

func oneReading(change func(draw, string) string) func(draw, *records.Record, records.Facts, site) (string, bool) {
	return func(d draw, r *records.Record, _ records.Facts, _ site) (string, bool) {
		for range 40 {
			f := pick(d, slipFields...)
			was := r.Values[f.Key].Text()
			if now := change(d, was); was != "" && now != "" && differs(was, now) {
				return f.Key, enter(r, f.Field, now)
			}
		}
		return "", false
	}
}

func differs(a, b string) bool {
	trim := func(s string) string {
		if strings.Contains(s, ".") {
			s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
		}
		return strings.TrimLeft(s, "0")
	}
	return trim(a) != trim(b)
}

func transpose(d draw, text string) string {
	var at []int
	for i, c := range text {
		if c != '.' {
			at = append(at, i)
		}
	}
	if len(at) < 2 {
		return ""
	}
	i := d.IntN(len(at) - 1)
	b := []byte(text)
	b[at[i]], b[at[i+1]] = b[at[i+1]], b[at[i]]
	return string(b)
}

// shift moves the decimal point of a plain decimal.
func shift(text string, places int) string {
	whole, frac, _ := strings.Cut(text, ".")
	switch {
	case text == "":
		return ""
	case places > 0 && frac == "":
		whole += "0"
	case places > 0:
		whole, frac = whole+frac[:1], frac[1:]
	default:
		if whole == "" {
			whole = "0"
		}
		whole, frac = whole[:len(whole)-1], whole[len(whole)-1:]+frac
	}
	if whole = strings.TrimLeft(whole, "0"); whole == "" {
		whole = "0"
	}
	if frac = strings.TrimRight(frac, "0"); frac == "" {
		return whole
	}
	return whole + "." + frac
}

func neighbour(d draw, r *records.Record, _ records.Facts, _ site) (string, bool) {
	for range 40 {
		i := d.IntN(len(slipFields) - 1)
		from, to := slipFields[i], slipFields[i+1]
		a, b := r.Values[from.Key].Text(), r.Values[to.Key].Text()
		if from.Section() == to.Section() && a != "" && b != "" && differs(a, b) {
			return to.Key, enter(r, to.Field, a)
		}
	}
	return "", false
}

func swapped(d draw, r *records.Record, _ records.Facts, _ site) (string, bool) {
	for range 40 {
		p := pick(d, [][2]records.NumberField{
			{records.StandingMbar, records.MeterMbar}, {records.MeterMbar, records.ApplianceMbar},
			{records.HeatStartM3, records.HeatEndM3},
			{records.CO2MaxPct, records.O2MaxPct}, {records.FlueTempMaxC, records.AirTempC},
			{records.FlueTempMaxC, records.FlueTempMinC},
			{records.FlowC, records.ReturnC}, {records.HotInC, records.HotOutC},
			{records.LetByPressureMbar, records.TestPressureMbar},
			{records.CO2MaxPct, records.CO2MinPct}, {records.RatedInputKW, records.RatedOutputKW},
		}...)
		a, b := r.Values[p[0].Key].Text(), r.Values[p[1].Key].Text()
		if a != "" && b != "" && differs(a, b) {
			return p[0].Key, enter(r, p[0].Field, b) || enter(r, p[1].Field, a)
		}
	}
	return "", false
}

func wrongFuel(d draw, r *records.Record, _ records.Facts, s site) (string, bool) {
	for {
		if other := pick(d, gas.Fuels()...); (other.Code == gas.NaturalGas) != (s.fuel.Code == gas.NaturalGas) {
			return records.ApplianceFuel.Key, enter(r, records.ApplianceFuel.Field, string(other.Code))
		}
	}
}

func wrongSetting(d draw, r *records.Record, _ records.Facts, s site) (string, bool) {
	if s.direct {
		return "", false
	}
	set := gas.Fuels()[1]
	if s.fuel.Code != gas.NaturalGas {
		set = gas.Fuels()[0]
	}
	for _, p := range [][2]records.NumberField{{records.O2MaxPct, records.CO2MaxPct},
		{records.O2MinPct, records.CO2MinPct}} {
		if o2, ok := r.Values.Float(p[0]); ok {
			r.Values.Put(p[1].Field, records.FormatNumber(must(gas.CO2FromO2Percent(min(o2, 20.9),
				set.PublishedCO2MaxLowPercent)), 1))
		}
	}
	return records.CO2MaxPct.Key, false
}

func copyEarlier(sections ...*records.Section) func(draw, *records.Record, records.Facts, site) (string, bool) {
	return func(_ draw, r *records.Record, f records.Facts, _ site) (string, bool) {
		for _, s := range sections {
			for _, field := range s.Fields() {
				if v := f.Earlier[field.Key]; field.Kind == records.NumberKind && v.Present() {
					r.Values[field.Key] = v
				}
			}
		}
		return string(sections[0].ID) + ", all of it", false
	}
}

func copyRate(_ draw, r *records.Record, _ records.Facts, s site) (string, bool) {
	if !s.minTaken {
		return "", false
	}
	for from, to := range map[records.NumberField]records.NumberField{records.COMaxPPM: records.COMinPPM,
		records.CO2MaxPct: records.CO2MinPct,
		records.O2MaxPct:  records.O2MinPct, records.FlueTempMaxC: records.FlueTempMinC} {
		r.Values[to.Key] = r.Values[from.Key]
	}
	return "minimum rate", false
}
