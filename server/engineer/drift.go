package engineer

import (
	"context"
	"html/template"
	"strconv"

	"gaugebook/records"
	"gaugebook/records/gas"
	"gaugebook/server/chart"
)

// drift is how an appliance's readings went over its visits.
type drift struct {
	Ratio, Pressure template.HTML // blank where nothing was read
	Rows            []driftRow
}

type driftRow struct {
	Date                             records.Date
	Number                           string
	Purpose                          records.Purpose
	PressureMbar, MaxRatio, MinRatio string
}

// driftVisits is how many visits are followed.
const driftVisits = 12

// drift draws what was read on the visits whose records are in force. One
// visit alone shows no drift.
func (ap Appliances) drift(ctx context.Context, applianceID string) (drift, error) {
	visits, err := ap.Store.Register.Followed(ctx, applianceID, driftVisits)
	if err != nil || len(visits) < 2 {
		return drift{}, err
	}
	return driftOf(visits), nil
}

func driftOf(visits []records.EarlierVisit) (d drift) {
	first, last := visits[0].WorkDate, visits[len(visits)-1].WorkDate
	pressure, most, least := chart.Line{}, chart.Line{Name: "maximum rate"},
		chart.Line{Name: "minimum rate", Disc: true}
	for _, v := range visits {
		row := driftRow{Date: v.WorkDate, Number: v.Number, Purpose: v.Purpose,
			PressureMbar: v.Readings[records.ApplianceMbar.Key]}
		day := float64(v.WorkDate.DaysSince(first))
		if p, ok := followedNumber(v, records.ApplianceMbar); ok {
			pressure.Points = append(pressure.Points, chart.Point{Day: day, Value: p})
		}
		row.MaxRatio = addRatio(&most, v, day, records.COMaxPPM, records.CO2MaxPct)
		row.MinRatio = addRatio(&least, v, day, records.COMinPPM, records.CO2MinPct)
		d.Rows = append(d.Rows, row)
	}
	if len(most.Points)+len(least.Points) > 0 {
		d.Ratio = chart.Drift("ratio", "CO/CO₂ ratio over the visits", first, last, []chart.Line{most, least})
	}
	if len(pressure.Points) > 0 {
		d.Pressure = chart.Drift("pressure", "Working pressure at the appliance over the visits, in mbar", first, last,
			[]chart.Line{pressure})
	}
	return d
}

// addRatio adds the ratio of a visit to the line and writes it; blank where it
// was not read.
func addRatio(l *chart.Line, v records.EarlierVisit, day float64, co, co2 records.NumberField) string {
	a, okCO := followedNumber(v, co)
	b, okCO2 := followedNumber(v, co2)
	if !okCO || !okCO2 {
		return ""
	}
	ratio, err := gas.RatioCOToCO2(a, b)
	if err != nil {
		return ""
	}
	l.Points = append(l.Points, chart.Point{Day: day, Value: ratio})
	return records.FormatNumber(ratio, 4)
}

func followedNumber(v records.EarlierVisit, f records.NumberField) (float64, bool) {
	x, err := strconv.ParseFloat(v.Readings[f.Key], 64)
	return x, err == nil
}
