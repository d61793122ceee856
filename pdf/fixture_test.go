package pdf_test

import (
	"crypto/ed25519"
	"crypto/sha256"
	"strings"
	"testing"
	"time"

	"gaugebook/pdf"
	"gaugebook/records"
	"gaugebook/records/rules"
)

// testKey is made from a fixed text: these tests keep no secret.
func testKey(name string) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte(name))
	return ed25519.NewKeyFromSeed(seed[:])
}

var firmKey = testKey("the firm's key of the tests")

func firmPublic() ed25519.PublicKey { return firmKey.Public().(ed25519.PublicKey) }

const verifyBase = "https://records.example/v/"

// onlyFilled leaves the sections that the fixtures fill, for the length of a
// test, so that what is kept of their pages does not change with every new
// section.
func onlyFilled(tb testing.TB) {
	old := records.Sections
	tb.Cleanup(func() { records.Sections = old })
	records.Sections = []*records.Section{&records.ApplianceSection, &records.Tightness, &records.Pressure,
		&records.HeatInput, &records.Combustion, &records.Flue, &records.Handover}
}

// num points at a number.
func num(v float64) *float64 { return &v }

var (
	maker = records.Source{Document: "Installation and servicing instructions, Brassmere 24c", Edition: "issue 4",
		Clause: "table 7", Confidence: records.Confirmed}
	upOne = records.Source{Document: "IGEM/UP/1B", Edition: "Edition 3", Clause: "section 5",
		Until: records.MustDate("2026-09-30"), Confidence: records.OneSource}
	giur = records.Source{Document: "Gas Safety (Installation and Use) Regulations 1998", Clause: "regulation 26(9)",
		From: records.MustDate("1998-10-31"), Confidence: records.Confirmed}
	habit = records.Source{Document: "What engineers do", Confidence: records.Practice}
)

// values fills in every section.
func values() records.Values {
	vs := records.Values{}
	for _, e := range []struct {
		f     *records.Field
		entry string
	}{
		{records.ApplianceKind.Field, records.KindCombination}, {records.ApplianceMake.Field, "Harrowgate"},
		{records.ApplianceModel.Field, "Brassmere 24c"}, {records.ApplianceSerial.Field, "HG-24C-0091-7734"},
		{records.ApplianceLocation.Field, "Kitchen, north wall"}, {records.ApplianceFuel.Field, records.FuelNatural},
		{records.ApplianceCondensing.Field, "yes"}, {records.ApplianceFlue.Field, records.FlueSealedFanned},
		{records.ApplianceInstalled.Field, "replacement"}, {records.RatedInputKW.Field, "24.3"},
		{records.RatedInputBasis.Field, "net"}, {records.RatedOutputKW.Field, "23.8"},
		{records.StatedDocument.Field, "Installation and servicing instructions, issue 4"},
		{records.StatedInletMinMbar.Field, "17"}, {records.StatedInletMaxMbar.Field, "25"},
		{records.StatedRatioMax.Field, "0.0040"},
		{records.StatedCO2MaxRateLow.Field, "8.80"}, {records.StatedCO2MaxRateHigh.Field, "9.80"},
		{records.TightnessSupply.Field, records.SupplyLow}, {records.TightnessSituation.Field,
			records.SituationConnected},
		{records.TightnessGauge.Field, "g1"}, {records.TightnessGaugeHow.Field, records.GaugeElectronic},
		{records.TightnessTime.Field, "09:40"}, {records.TightnessMeter.Field, "e6"},
		{records.LetByPressureMbar.Field, "10.0"}, {records.LetByMinutes.Field, "1"},
		{records.LetByRiseMbar.Field, "0.0"},
		{records.TestPressureMbar.Field, "20.0"}, {records.StabiliseMin.Field, "1"}, {records.TestMinutes.Field, "2"},
		{records.DropMbar.Field, "0.4"}, {records.PipeworkDropMbar.Field, "0.0"}, {records.SmellOfGas.Field, "no"},
		{records.PurgeDone.Field, "yes"},
		{records.Examined.Field, records.ExaminedBoth}, {records.PressureGauge.Field, "g1"},
		{records.PressureTime.Field, "10:55"},
		{records.StandingMbar.Field, "22.7"}, {records.PressureLoad.Field, "alone"}, {records.MeterMbar.Field, "20.9"},
		{records.ApplianceMbar.Field, "20.1"},
		{records.HeatMeter.Field, records.MeterMetric}, {records.HeatOthersOff.Field, "yes"},
		{records.HeatTime.Field, "11:02"},
		{records.HeatStartM3.Field, "4127.310"}, {records.HeatEndM3.Field, "4127.357"},
		{records.HeatSeconds.Field, "65.2"}, {records.HeatCV.Field, "39.40"},
		{records.Analyser.Field, "a1"}, {records.AnalyserZeroed.Field, "yes"}, {records.CO2Method.Field, "from-o2"},
		{records.CombustionTime.Field, "11:15"}, {records.SettleMinutes.Field, "12"}, {records.AmbientCOPPM.Field, "0"},
		{records.InletO2Pct.Field, "20.90"}, {records.InletCO2Pct.Field, "0.00"},
		{records.COMaxPPM.Field, "86"}, {records.CO2MaxPct.Field, "9.30"}, {records.O2MaxPct.Field, "4.50"},
		{records.FlueTempMaxC.Field, "68.4"},
		{records.AirTempC.Field, "14.0"}, {records.MinRate.Field, "taken"}, {records.COMinPPM.Field, "9"},
		{records.CO2MinPct.Field, "8.70"}, {records.O2MinPct.Field, "5.60"},
		{records.FlueSystem.Field, records.FlueConcentric}, {records.FlueTerminal.Field, records.TerminalWall},
		{records.FlueLengthM.Field, "2.40"},
		{records.FlueFallMM.Field, "45"}, {records.FlueJoints.Field, "yes"}, {records.FlueSupport.Field, "yes"},
		{records.FlueSeen.Field, "all"},
		{records.FlueMakerParts.Field, "yes"}, {records.FlueLow.Field, "no"}, {records.FluePlume.Field, "no"},
		{records.SafetyDevices.Field, "yes"}, {records.ControlsShown.Field, "yes"},
		{records.ShutOffShown.Field, "yes"}, {records.InstructionsLeft.Field, "yes"},
		{records.Notifiable.Field, "yes"}, {records.ServiceMonths.Field, "12"},
		{records.ForUser.Field,
			"The filling loop is under the appliance.\nTop up to 1.2 bar with the system cold, then close both valves."},
		{records.EngineerName.Field, "Ifor Wynne-Jones"},
		{records.EngineerSignature.Field, "M10,60 L25,20 L40,62 L52,34 L66,60 L90,25 L101,58 L140,40 M60,75 L150,70"},
		{records.Declared.Field, "yes"}, {records.ReceivedBy.Field, "Małgorzata Żółkiewska"},
		{records.ReceivedSignature.Field, "M5,50 L20,10 L35,50 L50,20 L80,50 L120,45"},
	} {
		vs.Put(e.f, e.entry)
	}
	vs.PutRows(records.TightnessRuns,
		map[string]string{"pipe": "copper-28", "length_m": "4.20", "feeds": "yes", "elbows": "3", "tees": "1"},
		map[string]string{"pipe": "copper-22", "length_m": "6.50", "feeds": "yes", "elbows": "4"},
		map[string]string{"pipe": "copper-15", "length_m": "2.00", "feeds": "no"})
	vs.PutRows(records.FlueBends, map[string]string{"angle_deg": "90", "count": "1", "equivalent_m": "1.00"})
	vs.PutRows(records.FlueDistances,
		map[string]string{"position": "beside-opening", "distance_mm": "640", "stated_mm": "300"},
		map[string]string{"position": "above-ground", "distance_mm": "2350"})
	return vs
}

// record is a commissioning visit in an invented street.
func record() *records.Record {
	return &records.Record{
		Purpose: records.Commissioning, WorkDate: records.MustDate("2026-03-04"), Stage: records.StageIssued,
		Property: records.Property{Line1: "14 Tallow Row", Town: "Emberwick", Postcode: "EM4 7QT",
			Nation: records.England},
		Contact: records.Contact{Name: "Małgorzata Żółkiewska", Email: "m.zolkiewska@home.example",
			Phone: "01632 960118", Tenure: records.OwnerOccupier},
		Engineer: records.Engineer{Name: "Ifor Wynne-Jones", Licence: "LIC-448120",
			CompetenceUntil: records.MustDate("2028-05-31")},
		Firm: records.Firm{Name: "Copperlea Heating", Address: "Unit 3, Kiln Yard, Emberwick EM1 2AB",
			Phone: "01632 960045", Email: "office@copperlea.example", Registration: "REG-120774"},
		Instruments: []records.Instrument{
			{ID: "g1", Kind: "gauge", Make: "Larkfield", Model: "P200", Serial: "LP-33107",
				CalibratedOn: records.MustDate("2025-09-12"), CalibrationDue: records.MustDate("2026-09-12")},
			{ID: "a1", Kind: "analyser", Make: "Larkfield", Model: "F7", Serial: "LF-90254",
				CalibratedOn: records.MustDate("2025-11-03"), CalibrationDue: records.MustDate("2026-11-03")},
		},
		Values: values(),
	}
}

// keys names the fields that a finding reads.
func keys(fs ...*records.Field) []string {
	out := make([]string, len(fs))
	for i, f := range fs {
		out[i] = f.Key
	}
	return out
}

// findings are written by hand, so that this package is tested apart from the
// rules.
func findings() []records.Finding {
	drop := &records.Limit{Text: "at most 1 mbar", High: num(1), Unit: "mbar", Rank: records.ByStandard, Source: upOne}
	return []records.Finding{
		{Rule: "appliance.identity", Section: "appliance", Title: "Appliance identified", Outcome: records.Inside,
			Reading: "Harrowgate Brassmere 24c", Reason: "make, model and serial number are given"},
		{Rule: "tightness.drop", Section: "tightness", Title: "Drop in the tightness test", Outcome: records.Inside,
			Reading: "0.4 mbar",
			Limit: &records.Limit{Text: "at most 4 mbar and no smell of gas", High: num(4), Unit: "mbar",
				Rank: records.ByStandard, Source: upOne},
			Working: []string{"installation volume = 0.0024 + 4.20 × 0.00054 + 6.50 × 0.00032 + 2.00 × 0.00014 = " +
				"0.0070 m³", "0.4 mbar ≤ 4 mbar"}},
		{Rule: "pressure.drop", Section: "pressure", Title: "Drop from meter to appliance", Outcome: records.Inside,
			Reading: "0.8 mbar", Limit: drop,
			Working: []string{"20.9 mbar − 20.1 mbar = 0.8 mbar"}, Fields: keys(records.MeterMbar.Field,
				records.ApplianceMbar.Field)},
		{Rule: "heat.input", Section: "heat", Title: "Heat input against the data plate", Outcome: records.Inside,
			Reading: "25.6 kW net",
			Limit: &records.Limit{Text: "23.1 to 25.6 kW net", Low: num(23.1), High: num(25.6), Unit: "kW",
				Rank: records.ByManufacturer, Source: maker},
			Outranked: &records.Limit{Text: "21.9 to 25.5 kW net", Unit: "kW", Rank: records.ByPractice,
				Source: habit}, AtLimit: true,
			Working: []string{"0.047 m³ in 65.2 s = 2.595 m³/h",
				"2.595 m³/h × 39.40 MJ/m³ ÷ 3.6 = 28.4 kW gross = 25.6 kW net"}},
		{Rule: "combustion.ratio", Section: "combustion", Title: "CO/CO₂ ratio at maximum rate",
			Outcome: records.Inside, Reading: "0.0009",
			Limit: &records.Limit{Text: "at most 0.0040", High: num(0.004), Rank: records.ByManufacturer,
				Source: maker}, Working: []string{"86 ppm ÷ (9.30 % × 10 000) = 0.0009"}},
		{Rule: "combustion.co2", Section: "combustion", Title: "CO₂ at maximum rate", Outcome: records.Inside,
			Reading: "9.30 %",
			Limit: &records.Limit{Text: "8.80 to 9.80 %", Low: num(8.8), High: num(9.8), Unit: "%",
				Rank: records.ByManufacturer, Source: maker}, Fields: keys(records.CO2MaxPct.Field)},
		{Rule: "flue.terminal", Section: "flue", Title: "Distances of the terminal", Outcome: records.Inside,
			Reading: "all 2 as far or farther",
			Limit:   &records.Limit{Text: "the least of each position", Rank: records.ByRegulation, Source: giur}},
		{Rule: "flue.spillage", Section: "flue", Title: "Spillage test", Outcome: records.Exempt,
			Reason: "the appliance is room-sealed"},
	}
}

func dueDates() []records.Duty {
	return []records.Duty{
		{Kind: records.AnnualService, Due: records.MustDate("2027-03-04"),
			Why: "Twelve months after the work, as the instructions state", Source: maker},
		{Kind: records.BuildingNotice, Due: records.MustDate("2026-04-03"),
			Why: "Within 30 days after the work is finished",
			Source: records.Source{Document: "Building Regulations 2010", Clause: "regulation 20",
				Confidence: records.Confirmed}},
	}
}

// issue numbers, judges and seals a record.
func issue(tb testing.TB, r *records.Record, fs []records.Finding) records.Document {
	tb.Helper()
	doc := records.Document{Issued: records.Issued{
		Number: "2026-00042", IssuedAt: time.Date(2026, 3, 4, 12, 40, 0, 0, time.UTC),
		Record: r, Findings: fs, Standing: records.StandingOf(fs), Duties: dueDates(),
	}}
	return sealed(tb, doc)
}

func sealed(tb testing.TB, doc records.Document) records.Document {
	tb.Helper()
	canonical, err := doc.Canonical()
	if err != nil {
		tb.Fatal(err)
	}
	doc.Seal = records.SealOf(canonical, firmKey)
	doc.VerifyURL = verifyBase + doc.Number + "/" + doc.Seal.Code
	return doc
}

// clear is a record with every check inside its limit.
func clear(tb testing.TB) records.Document { return issue(tb, record(), findings()) }

// adverse has one check outside, one missing and one doubtful.
func adverse(tb testing.TB) records.Document {
	r, fs := record(), findings()
	r.Values.Put(records.COMaxPPM.Field, "612")
	r.Values.Put(records.DropMbar.Field, "5.1")
	fs[1].Outcome, fs[1].Reading, fs[1].Suggested = records.Outside, "5.1 mbar", records.AtRisk
	fs[1].Working[1] = "5.1 mbar > 4 mbar"
	fs[4].Outcome, fs[4].Reading, fs[4].Suggested = records.Outside, "0.0066", records.AtRisk
	fs[3].Outcome, fs[3].Reading, fs[3].Reason, fs[3].AtLimit = records.Missing, "",
		"the time between the readings of the meter is missing", false
	fs[3].Working = nil
	fs[4].Working = []string{"612 ppm ÷ (9.30 % × 10 000) = 0.0066"}
	delete(r.Values, records.HeatSeconds.Key)
	r.Condition = &records.ConditionReport{
		Entries: []records.ConditionEntry{
			{Rule: "tightness.drop", Class: records.AtRisk,
				Found: "The gauge fell by 5.1 mbar in two minutes. Traced to the union below the meter.",
				Done:  "Gas turned off at the emergency control valve and labelled."},
			{Rule: "combustion.ratio", Class: records.Immediate,
				Found: "Carbon monoxide too high for the CO₂ at maximum rate.",
				Done:  "Appliance disconnected and a plug fitted. The maker's service desk has been rung."},
			{Rule: "heat.input", Class: records.Observation, Found: "No reading could be taken with the gas off.",
				Done: "To be taken when the appliance is put right."},
		},
		Told: "Małgorzata Żółkiewska", ToldHow: "in person, with a written notice left in the kitchen", LeftOff: true,
	}
	return issue(tb, r, fs)
}

// lpg burns propane from cylinders in Northern Ireland.
func lpg(tb testing.TB) records.Document {
	r, fs := record(), findings()
	r.Purpose = records.LandlordCheck
	r.Property = records.Property{Line1: "Flat 2, The Old Sail Loft", Line2: "Quay Lane", Town: "Dunmarrow",
		Postcode: "BT99 1AA", Nation: records.NorthernIreland}
	r.Contact = records.Contact{Name: "Síle Ní Dhomhnaill", Tenure: records.Landlord,
		Address: "9 Harbour Rise, Dunmarrow BT99 2BB"}
	r.Values.Put(records.ApplianceFuel.Field, records.FuelPropane)
	r.Values.Put(records.ApplianceKind.Field, records.KindCooker)
	for f, v := range map[*records.Field]string{records.StandingMbar.Field: "39.2", records.MeterMbar.Field: "37.4",
		records.ApplianceMbar.Field: "36.5"} {
		r.Values.Put(f, v)
	}
	for key := range r.Values {
		if strings.HasPrefix(key, "combustion.") {
			delete(r.Values, key)
		}
	}
	var kept []records.Finding
	for _, f := range fs {
		if f.Section != "combustion" {
			kept = append(kept, f)
		}
	}
	return issue(tb, r, kept)
}

// draft is the clear record before it is issued.
func draft(tb testing.TB) records.Document {
	doc := clear(tb)
	doc.Record.Stage = records.Draft
	doc.Number, doc.IssuedAt, doc.Seal, doc.VerifyURL = "", time.Time{}, records.Seal{}, ""
	return doc
}

// sample is the rules' own sample record, as the rules judge it.
func sample(tb testing.TB) records.Document {
	r := rules.Sample()
	return issue(tb, r, rules.Evaluate(r, records.Facts{}))
}

// failing is the sample with readings that the rules find outside, doubtful
// and missing.
func failing(tb testing.TB) records.Document {
	r := rules.Sample()
	r.Values.Put(records.COMaxPPM.Field, "640")
	r.Values.Put(records.ApplianceMbar.Field, "17.2")
	r.Values.Put(records.O2MaxPct.Field, "7.9")
	delete(r.Values, records.TestMinutes.Key)
	fs := rules.Evaluate(r, records.Facts{})
	r.Condition = &records.ConditionReport{Told: "Imogen Farrow", ToldHow: "by telephone, notice left on the appliance"}
	for _, f := range records.Unsettled(fs) {
		r.Condition.Entries = append(r.Condition.Entries, records.ConditionEntry{Rule: f.Rule, Class: records.AtRisk,
			Found: "Seen on the day; the cause has not been found yet.",
			Done:  "Another visit was arranged with the maker's engineer."})
	}
	return issue(tb, r, fs)
}

func render(tb testing.TB, doc records.Document) []byte {
	tb.Helper()
	file, err := pdf.Render(doc)
	if err != nil {
		tb.Fatal(err)
	}
	return file
}
