package records

// Codes of the Water side section.
const (
	CleanedNot = "none"

	VolumeKnown  = "known"
	VolumePanels = "panels"
	VolumeOutput = "output"

	ScaleNone = "none"

	SystemSealed = "sealed"
	SystemVented = "open-vented"

	CondensateRainwater = "rainwater"
)

// Fields of the Water side section.
var (
	WaterCleaning = choice("water.cleaning", "How the system was cleaned",
		Choice{"power", "Power flush"}, Choice{"mains", "Mains-pressure flush"},
		Choice{"gravity", "Drained and refilled by gravity"},
		Choice{CleanedNot, "Not cleaned"})
	SolidsMainsPPM  = number("water.solids_mains_ppm", "Dissolved solids, cold main", "ppm", 1, 5000, 0)
	SolidsSystemPPM = number("water.solids_system_ppm", "Dissolved solids, system after the flush", "ppm", 0, 20000, 0).
			hint("Before any inhibitor goes in.")
	TurbidityPPM = number("water.turbidity_ppm", "Turbidity, system after the flush", "ppm", 0, 5000, 0)

	Inhibitor       = text("water.inhibitor", "Inhibitor, make and product", 80)
	InhibitorLitres = number("water.dose_l", "Inhibitor added", "l", 0, 100, 3).
			hint("What was added at this visit; leave blank if none.")
	InhibitorTreatsL = number("water.product_treats_l", "One litre treats", "l", 1, 2000, 1).
				hint("System water, from the product's own label. 500 ml for 125 l is 250.")
	InhibitorLevel = choice("water.inhibitor_level", "Inhibitor level by test", Choice{"enough", "Enough"},
		Choice{"low", "Too low"}).
		hint("At a later visit, before anything is added.")
	VolumeBasis = choice("water.volume_basis", "System volume",
		Choice{VolumeKnown, "Measured or stated"}, Choice{VolumePanels, "Estimated from its radiators"},
		Choice{VolumeOutput, "Estimated from its heat output"})
	VolumeLitres = number("water.volume_l", "Volume", "l", 1, 10000, 1).when("water.volume_basis", VolumeKnown)
	PanelsSingle = number("water.panels_single", "Single-panel radiators", "", 0, 200, 0).when("water.volume_basis",
		VolumePanels)
	PanelsDouble = number("water.panels_double", "Double-panel radiators", "", 0, 200, 0).when("water.volume_basis",
		VolumePanels)
	Emitters = choice("water.emitters", "Heat emitters",
		Choice{"microbore", "Small or microbore system"}, Choice{"steel", "Steel panels"},
		Choice{"cast-iron", "Cast-iron radiators"},
		Choice{"underfloor", "Underfloor pipes"}).when("water.volume_basis", VolumeOutput)
	FilterFitted = flag("water.filter", "System filter fitted and clean")
	HardnessPPM  = number("water.hardness_ppm", "Hardness of the mains water, as CaCO₃", "ppm", 0, 1000, 0)
	ScaleControl = choice("water.scale", "Scale control",
		Choice{"softener", "Softener"}, Choice{"dosing", "Dosing"}, Choice{"physical",
			"Electrical or magnetic device"}, Choice{ScaleNone, "None"})

	WaterSystem = choice("water.system", "System", Choice{SystemSealed, "Sealed"}, Choice{SystemVented, "Open vented"})
	ColdFillBar = number("water.cold_fill_bar", "Pressure when cold", "bar", 0, 6, 2).when("water.system", SystemSealed)
	VesselBar   = number("water.vessel_charge_bar", "Vessel charge pressure", "bar", 0, 6, 2).
			hint("With no pressure on the water side.").when("water.system", SystemSealed)
	VesselLitres = number("water.vessel_l", "Expansion vessel size, total", "l", 0.5, 1000,
		1).when("water.system", SystemSealed)
	VesselStatedLitres = number("water.vessel_stated_l", "Vessel size required by the manufacturer", "l", 0.5, 1000, 1).
				hint("From its table, for this volume and charge. If blank, it is worked out as guidance.").
				when("water.system", SystemSealed)
	StaticHeightM = number("water.static_height_m", "Highest point of the system above the vessel", "m", 0, 100,
		1).when("water.system", SystemSealed)
	SafetyValveBar = number("water.safety_valve_bar", "Safety valve set at", "bar", 0.5, 10, 2).when("water.system",
		SystemSealed)
	FlowMaxC = number("water.flow_max_c", "Highest flow temperature set", "°C", 20, 110, 0).when("water.system",
		SystemSealed)
	DischargePipe = flag("water.discharge_pipe",
		"Discharge pipe metal, falling all the way, no valve in it").when("water.system", SystemSealed)
	DischargeEnd = flag("water.discharge_end",
		"Ends outdoors in view, clear of entrances, windows, paths and wiring").when("water.system", SystemSealed)
	FillingLoopOff = flag("water.filling_loop_off", "Filling loop disconnected").when("water.system", SystemSealed)
	CondensateMM   = number("water.condensate_mm", "Inside diameter, indoors", "mm", 5, 150, 1)
	CondensateFall = number("water.condensate_fall_mm_per_m", "Fall", "mm/m", -100, 1000,
		1).hint("A vertical drop is 1000.")
	CondensateOut   = flag("water.condensate_outside", "Any of it outdoors or in an unheated space")
	CondensateOutMM = number("water.condensate_outside_mm", "Inside diameter, outdoors", "mm", 5, 150, 1).
			hint("From inside the wall outwards; an unheated space counts as outdoors.").
			when("water.condensate_outside", "yes")
	CondensateOutM = number("water.condensate_outside_m", "Run outdoors", "m", 0, 50,
		2).when("water.condensate_outside", "yes")
	CondensateInsulated = flag("water.condensate_insulated",
		"Insulated outdoors, waterproof").when("water.condensate_outside", "yes")
	CondensateEnd = choice("water.condensate_end", "Condensate pipe ends at",
		Choice{"internal", "Foul drain or stack indoors"}, Choice{"gully", "Gully, below the grating"},
		Choice{"combined", "Combined foul and rain pipe, with an air break"}, Choice{"soakaway", "Soakaway"},
		Choice{CondensateRainwater, "Gutter or rainwater drain alone"})
	CondensateTrap       = flag("water.condensate_trap", "Trap filled with water, no leaks")
	CondensateStatedMM   = number("water.condensate_stated_mm", "Minimum inside diameter stated", "mm", 5, 150, 1)
	CondensateStatedFall = number("water.condensate_stated_fall_mm_per_m", "Minimum fall stated", "mm/m", 0, 200, 1)
)

// Water is the heating system's water: its treatment, pressure, discharge and
// condensate.
var Water = Section{
	ID: "water", Title: "Water side",
	Intro: "Clean and flush, read the water, treat it; then pressures and vessel; then discharge and condensate.",
	Groups: []Group{
		{Title: "Cleaning", Fields: fields(WaterCleaning, SolidsMainsPPM, SolidsSystemPPM, TurbidityPPM)},
		{Title: "Treatment", Fields: fields(Inhibitor, InhibitorLevel, InhibitorLitres, InhibitorTreatsL, VolumeBasis,
			VolumeLitres, PanelsSingle, PanelsDouble,
			Emitters, FilterFitted, HardnessPPM, ScaleControl)},
		{Title: "Pressure and vessel", Fields: fields(WaterSystem, ColdFillBar, VesselBar, VesselLitres,
			VesselStatedLitres, StaticHeightM,
			SafetyValveBar, FlowMaxC, DischargePipe, DischargeEnd, FillingLoopOff)},
		{Title: "Condensate", Intro: "Condensing appliances only.", Fields: fields(CondensateMM, CondensateFall,
			CondensateOut, CondensateOutMM,
			CondensateOutM, CondensateInsulated, CondensateEnd, CondensateTrap, CondensateStatedMM,
			CondensateStatedFall)},
	},
	Exempt: noWater,
}

// noWater returns why an appliance has no water side, or "".
func noWater(vs Values) string {
	switch vs.Choice(ApplianceKind) {
	case KindFire, KindSpaceHeater:
		return "the appliance heats the room, not water"
	case KindWarmAir:
		return "the appliance heats air, not water"
	case KindCooker, KindRange:
		return "a cooker heats no water; a boiler in it is an appliance of its own"
	}
	return ""
}
