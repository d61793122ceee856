package records

// Codes of the Tightness section.
const (
	SituationNew       = "new"
	SituationConnected = "connected"
	SituationNone      = "none-connected"

	SupplyLow    = "low"
	SupplyMedium = "medium"

	GaugeWater      = "water"
	GaugeElectronic = "electronic"

	PipeCorrugated = "corrugated"
)

// PipeChoices are the pipes that a run can be made of; package gas holds
// their bores and volumes under the same codes.
var PipeChoices = []Choice{
	{"copper-10", "Copper 10 mm"}, {"copper-12", "Copper 12 mm"}, {"copper-15", "Copper 15 mm"},
	{"copper-22", "Copper 22 mm"}, {"copper-28", "Copper 28 mm"}, {"copper-35", "Copper 35 mm"},
	{"steel-15", "Steel DN 15"}, {"steel-20", "Steel DN 20"}, {"steel-25", "Steel DN 25"}, {"steel-32", "Steel DN 32"},
	{"pe-20", "PE 20 mm"}, {"pe-25", "PE 25 mm"}, {"pe-32", "PE 32 mm"},
	{PipeCorrugated, "Corrugated stainless (give bore and volume)"},
}

// Fields of the Tightness section.
var (
	TightnessSupply = choice("tightness.supply", "Gas supply",
		Choice{SupplyLow, "Low pressure"}, Choice{SupplyMedium, "Medium pressure"})
	TightnessSituation = choice("tightness.situation", "Installation under test",
		Choice{SituationNew, "New installation or new pipework"},
		Choice{SituationConnected, "Existing, appliances connected"},
		Choice{SituationNone, "Existing, no appliances connected"})
	TightnessEdition = choice("tightness.edition", "Edition of the procedure followed", editionChoices()...).
				hint(editionHint())
	TightnessGauge    = instrument("tightness.gauge", "Pressure gauge used", "gauge")
	TightnessGaugeHow = choice("tightness.gauge_kind", "Kind of gauge",
		Choice{GaugeElectronic, "Electronic, 0.1 mbar or finer"}, Choice{GaugeWater, "Water gauge"})
	TightnessTime = clock("tightness.time", "Time of the test")

	TightnessMeter = choice("tightness.meter", "Meter",
		Choice{"g4", "Diaphragm, up to 6 m³/h (U6 or G4)"}, Choice{"e6", "Ultrasonic, up to 6 m³/h (E6)"},
		Choice{"g10", "Diaphragm, up to 16 m³/h (U16 or G10)"}, Choice{"none", "No meter in the section under test"})
	TightnessRuns = rows("tightness.runs", "Pipe runs", 60,
		choice("pipe", "Pipe", PipeChoices...).Field,
		number("length_m", "Length", "m", 0.05, 200, 2).Field,
		flag("feeds", "Feeds this appliance").Field,
		number("elbows", "Elbows", "", 0, 60, 0).Field,
		number("bends", "Bends", "", 0, 60, 0).Field,
		number("tees", "Tees", "", 0, 60, 0).Field,
		number("bore_mm", "Bore", "mm", 2, 60, 2).Field,
		number("litres_per_m", "Volume", "l/m", 0.01, 5, 3).Field,
	).hint("Every pipe in the section under test. Bore and volume only for corrugated pipe, from its manufacturer.")

	LetByPressureMbar = number("tightness.let_by_pressure_mbar", "Let-by pressure", "mbar", 0, 100, 2)
	LetByMinutes      = number("tightness.let_by_min", "Let-by test time", "min", 0, 60, 1)
	LetByRiseMbar     = number("tightness.let_by_rise_mbar", "Rise during the let-by test", "mbar", 0, 100, 2)

	TestPressureMbar = number("tightness.test_pressure_mbar", "Test pressure", "mbar", 0, 150, 2)
	StabiliseMin     = number("tightness.stabilise_min", "Stabilisation time", "min", 0, 120, 1)
	TestMinutes      = number("tightness.test_min", "Test time", "min", 0, 120, 1)
	DropMbar         = number("tightness.drop_mbar", "Drop", "mbar", 0, 100, 2)
	SmellOfGas       = flag("tightness.smell", "Smell of gas at any time")
	PipeworkDropMbar = number("tightness.pipework_drop_mbar", "Drop with appliances isolated", "mbar", 0, 100, 2).
				when("tightness.situation", SituationConnected).
				hint("Pipework alone. Take it when there was any movement with appliances connected.")
	GasTempChangeK = number("tightness.gas_temp_change_k", "Change of gas temperature during the test", "K", -20, 20,
		1).
		hint("If known; sun on the pipe or a cold draught moves the gauge by about 3.6 mbar per degree.")
	StatedDropMbar = number("tightness.stated_drop_mbar", "Permissible drop stated for this supply", "mbar", 0, 50, 2).
			hint("LPG and medium pressure only: from the standard or instructions you hold.")
	StatedDropSource = text("tightness.stated_drop_source", "Where that figure comes from", 120)

	BeforeDropMbar = number("tightness.before_drop_mbar", "Drop before the work", "mbar", 0, 100, 2)
	BeforeSmell    = flag("tightness.before_smell", "Smell of gas before the work")
	PurgeDone      = flag("tightness.purged", "Purged and relit")
)

// Tightness is the test that the installation does not leak.
var Tightness = Section{
	ID: "tightness", Title: "Tightness test",
	Intro: "Gas off at the emergency control. Let-by first, then the test, then purge and relight.",
	Groups: []Group{
		{Title: "Installation", Fields: fields(TightnessSupply, TightnessSituation, TightnessEdition, TightnessMeter,
			TightnessRuns)},
		{Title: "Before the work", Intro: "When the installation was tested before it was touched.",
			Fields: fields(BeforeDropMbar, BeforeSmell)},
		{Title: "Let-by of the emergency control valve", Fields: fields(LetByPressureMbar, LetByMinutes,
			LetByRiseMbar)},
		{Title: "Test after the work", Fields: fields(TightnessGauge, TightnessGaugeHow, TightnessTime,
			TestPressureMbar, StabiliseMin, TestMinutes,
			DropMbar, PipeworkDropMbar, SmellOfGas, GasTempChangeK, StatedDropMbar, StatedDropSource, PurgeDone)},
	},
}
