package records

import "strings"

// ProcedureEdition is one dated edition of the procedure for testing a small
// installation for tightness, natural gas at low pressure. It is data: the
// next edition is one more entry of TightnessEditions, with its rows in
// testdata/rules/tightness.csv. Choices, limits, dates and the list of sources
// follow from it.
type ProcedureEdition struct {
	Code  string // as a record stores it
	Name  string // inside a sentence
	Label string // in the list of choices
	// Source is the document and the days it is in force. Its confidence holds
	// for every figure that has none of its own.
	Source Source

	MostVolumeM3      float64 // largest installation in scope
	LetByMbar         [2]float64
	LetByLeastMin     float64
	TestMbar          [2]float64
	ReducedTestMbar   float64 // least test pressure where TestMbar cannot be reached; 0: not allowed
	StabiliseLeastMin float64
	TestLeastMin      float64

	Movement []GaugeMovement

	// What may be lost with appliances connected and no smell of gas: by meter
	// and largest pipe from Drops, or, for the fuels of OwnerDrops, by
	// installation volume from the table that the owner enters. A drop below
	// AnyVolumeMbar then needs no table; 0: every drop needs one.
	Drops           []MeterDrop
	OwnerDrops      []string
	AnyVolumeMbar   float64
	AnyVolumeSource Confidence

	// PipeworkAlone is how sure it is that a movement with appliances connected
	// must be shown not to come from the pipework; "" where that is not asked.
	PipeworkAlone Confidence

	PurgeVolumes float64 // gas to pass in purging, in installation volumes
	PurgeSource  Confidence
}

// GaugeMovement is the largest movement of a kind of gauge that counts as none.
type GaugeMovement struct {
	Gauge      string // code of TightnessGaugeHow
	Mbar       float64
	Confidence Confidence
}

// MeterDrop is the permissible drop of a meter with pipe of more than OverMM
// and at most UpToMM, nominal.
type MeterDrop struct {
	Meter          string // code of TightnessMeter
	OverMM, UpToMM float64
	Mbar           float64
	Confidence     Confidence
}

// Codes of the editions.
const (
	Edition3 = "edition-3"
	Edition4 = "edition-4"
)

// TightnessEditions lists the editions of IGEM/UP/1B, oldest first.
//
// Sources: Industry Standard Update 133 (25 March 2026; second edition 15
// April 2026) for the dates, the let-by figures and the test pressures;
// trade-exam cards and a pocket guide for edition 3. Where a figure is less
// sure, it says so.
var TightnessEditions = []ProcedureEdition{
	{
		Code: Edition3, Name: "edition 3", Label: "Edition 3 (until 30 September 2026)",
		Source: Source{Document: "IGEM/UP/1B", Edition: "Edition 3 with amendments October 2012",
			Until: MustDate("2026-09-30"), Confidence: Confirmed},
		MostVolumeM3: 0.035,
		LetByMbar:    [2]float64{7, 10}, LetByLeastMin: 1,
		TestMbar: [2]float64{20, 21}, StabiliseLeastMin: 1, TestLeastMin: 2,
		Movement: []GaugeMovement{{GaugeElectronic, 0.2, Unconfirmed}, {GaugeWater, 0.25, Unconfirmed}},
		Drops: []MeterDrop{
			{Meter: "none", OverMM: 0, UpToMM: 28, Mbar: 8, Confidence: Confirmed},
			{Meter: "e6", OverMM: 0, UpToMM: 28, Mbar: 8, Confidence: Confirmed},
			{Meter: "g4", OverMM: 0, UpToMM: 28, Mbar: 4, Confidence: Confirmed},
			{Meter: "g10", OverMM: 0, UpToMM: 28, Mbar: 1, Confidence: Confirmed},
			{Meter: "none", OverMM: 28, UpToMM: 35, Mbar: 4, Confidence: Unconfirmed},
			{Meter: "e6", OverMM: 28, UpToMM: 35, Mbar: 4, Confidence: Unconfirmed},
			{Meter: "g4", OverMM: 28, UpToMM: 35, Mbar: 2.5, Confidence: Unconfirmed},
			{Meter: "g10", OverMM: 28, UpToMM: 35, Mbar: 1, Confidence: Unconfirmed},
		},
		PurgeVolumes: 1.5, PurgeSource: OneSource,
	},
	{
		Code: Edition4, Name: "edition 4", Label: "Edition 4 (from March 2026)",
		Source: Source{Document: "IGEM/UP/1B", Edition: "Edition 4",
			From: MustDate("2026-03-01"), Confidence: Confirmed},
		MostVolumeM3: 0.035,
		LetByMbar:    [2]float64{7, 10}, LetByLeastMin: 1,
		TestMbar: [2]float64{20, 21}, ReducedTestMbar: 18, StabiliseLeastMin: 1, TestLeastMin: 2,
		Movement:   []GaugeMovement{{GaugeElectronic, 0.2, Unconfirmed}, {GaugeWater, 0.25, Unconfirmed}},
		OwnerDrops: []string{FuelNatural}, AnyVolumeMbar: 1, AnyVolumeSource: OneSource,
		PipeworkAlone: OneSource,
		PurgeVolumes:  1.5, PurgeSource: Unconfirmed,
	},
}

func editionChoices() []Choice {
	out := make([]Choice, len(TightnessEditions))
	for i, e := range TightnessEditions {
		out[i] = Choice{e.Code, e.Label}
	}
	return out
}

// editionHint names the days on which a choice has to be made.
func editionHint() string {
	var days []string
	for i, e := range TightnessEditions {
		for _, later := range TightnessEditions[i+1:] {
			if from, until := later.Source.From, e.Source.Until; !until.IsZero() && !until.Before(from) {
				days = append(days, from.Long()+" to "+until.Long())
			}
		}
	}
	return "Needed only while two editions could be used: " + strings.Join(days, "; ") + "."
}
