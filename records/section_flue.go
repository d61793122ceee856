package records

// Codes of the Flue section.
const (
	FlueConcentric = "concentric"
	FlueTwin       = "twin"
	FlueSingle     = "single"

	TerminalWall = "wall"
	TerminalRoof = "roof"
)

// TerminalPositions are the places a terminal's distance is measured from, in
// the order of the published table; package gas holds the least distances
// under the same codes.
var TerminalPositions = []Choice{
	{"below-opening", "Directly below an opening, vent or window that opens"},
	{"above-opening", "Above an opening, vent or window that opens"},
	{"beside-opening", "Beside an opening, vent or window that opens"},
	{"below-gutter", "Below a gutter, soil pipe or drain"},
	{"below-eaves", "Below the eaves"},
	{"below-balcony", "Below a balcony or car port roof"},
	{"beside-drain", "From a vertical drain or soil pipe"},
	{"corner-or-boundary", "From a corner, or a boundary alongside"},
	{"above-ground", "Above ground, roof or balcony level"},
	{"facing-surface", "From a wall or boundary facing the terminal"},
	{"facing-terminal", "From a terminal facing it"},
	{"car-port-opening", "From an opening in a car port into the building"},
	{"vertical-terminal", "Upwards or downwards from a terminal on the same wall"},
	{"beside-terminal", "Sideways from a terminal on the same wall"},
	{"from-own-wall", "Out from the wall it is on"},
	{"roof-structure", "From a vertical structure on the roof"},
	{"above-roof", "Above where it passes through the roof"},
}

// Fields of the Flue section.
var (
	FlueSystem = choice("flue.system", "Flue system",
		Choice{FlueConcentric, "Concentric"}, Choice{FlueTwin, "Twin pipe"},
		Choice{FlueSingle, "Single pipe or chimney"})
	FlueTerminal = choice("flue.terminal", "Where the flue ends", Choice{TerminalWall, "A wall"},
		Choice{TerminalRoof, "The roof"})
	FlueLengthM = number("flue.length_m", "Length along the route", "m", 0, 60, 2)
	FlueBends   = rows("flue.bends", "Bends beyond those in the standard kit", 20,
		number("angle_deg", "Angle", "°", 5, 135, 1).Field,
		number("count", "How many", "", 1, 20, 0).Field,
		number("equivalent_m", "Equivalent length, each", "m", 0, 10, 2).Field,
	).hint("The equivalent length of each bend is in the manufacturer's instructions.")
	FlueFallMM = number("flue.fall_mm_per_m", "Fall back to the appliance", "mm/m", -100, 500,
		1).hint("Rise of the pipe per metre run away from the appliance. A vertical flue has none.").
		when("flue.terminal", TerminalWall)
	FlueJoints  = flag("flue.joints", "Joints sound and sealed")
	FlueSupport = flag("flue.supports", "Supported as the instructions require")
	FlueSeen    = choice("flue.inspection", "How it was inspected",
		Choice{"all", "All of it visible"}, Choice{"hatches", "Through inspection hatches"},
		Choice{"not", "Part of it cannot be seen"})
	FlueMakerParts = flag("flue.maker_parts", "Parts and assembly approved by the manufacturer")

	FlueDistances = rows("flue.distances", "Terminal distances", 17,
		choice("position", "Measured from", TerminalPositions...).Field,
		number("distance_mm", "Distance", "mm", 0, 20000, 0).Field,
		number("stated_mm", "Minimum stated by the manufacturer", "mm", 0, 5000, 0).Field,
	).hint("Measure each one nearby; leave out the rest.")
	FlueLow   = flag("flue.low", "Terminal less than 2 m above ground, a balcony or an accessible flat roof")
	FlueGuard = flag("flue.guard", "Guard fitted").when("flue.low", "yes")
	FluePlume = flag("flue.nuisance", "Plume crosses a boundary, window or path")

	FlueFlow = choice("flue.flow_test", "Flue flow test with smoke",
		Choice{"drawn", "All smoke drawn up and seen at the terminal"}, Choice{"failed", "Smoke came back or leaked"})
	FlueSpillage = choice("flue.spillage_test", "Spillage test with smoke, windows and doors shut, fans on",
		Choice{"drawn", "All smoke drawn in"}, Choice{"failed", "Smoke came back"})
)

// Flue is the route of the products to outdoors.
var Flue = Section{
	ID: "flue", Title: "Flue",
	Intro: "Look along it from the appliance to the terminal, measure, then test.",
	Groups: []Group{
		{Title: "Route", Fields: fields(FlueSystem, FlueTerminal, FlueLengthM, FlueBends, FlueFallMM, FlueMakerParts,
			FlueJoints, FlueSupport, FlueSeen)},
		{Title: "Terminal", Fields: fields(FlueDistances, FlueLow, FlueGuard, FluePlume)},
		{Title: "Smoke tests of open flues", Intro: "Open-flued appliances only.",
			Fields: fields(FlueFlow, FlueSpillage)},
	},
	Exempt: func(vs Values) string {
		if vs.Choice(ApplianceFlue) == FlueNone {
			return "the appliance has no flue"
		}
		return ""
	},
}
