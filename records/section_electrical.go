package records

// Codes of the Electrical and controls section.
const (
	SupplySpur   = "spur"
	SupplyPlug   = "plug"
	SupplyAbsent = "none"

	BondFitted  = "fitted"
	BondAbsent  = "absent"
	BondPlastic = "plastic"

	BondAtMeter = "meter"
	BondAtEntry = "entry"

	ExtraRecovery = "flue-gas-recovery"
	ExtraWeather  = "weather"
	ExtraLoad     = "load"
	ExtraSmart    = "smart"
	ExtraNone     = "none"
)

// Fields of the Electrical and controls section.
var (
	ElectricSupply = choice("electrical.supply", "Electricity comes by",
		Choice{SupplySpur, "Fused spur"}, Choice{SupplyPlug, "Plug and socket"}, Choice{SupplyAbsent, "It has none"})
	FuseA       = number("electrical.fuse_a", "Fuse", "A", 1, 63, 0).when("electrical.supply", SupplySpur, SupplyPlug)
	FuseStatedA = number("electrical.fuse_stated_a", "Fuse the manufacturer states", "A", 1, 63,
		0).when("electrical.supply", SupplySpur, SupplyPlug)
	Polarity  = flag("electrical.polarity", "Polarity right").when("electrical.supply", SupplySpur, SupplyPlug)
	Earthed   = flag("electrical.earth", "Earth proven unbroken").when("electrical.supply", SupplySpur, SupplyPlug)
	Isolation = flag("electrical.isolation", "Appliance and its controls switched off at one point, both poles").
			when("electrical.supply", SupplySpur, SupplyPlug)

	Bond = choice("electrical.bond", "Main bonding of the gas pipe",
		Choice{BondFitted, "Fitted"}, Choice{BondAbsent, "Not fitted"},
		Choice{BondPlastic, "Pipe enters in plastic, none needed"})
	BondMM2 = number("electrical.bond_mm2", "Its conductor", "mm²", 0.5, 50, 1).when("electrical.bond", BondFitted)
	BondAt  = choice("electrical.bond_at", "Fitted", Choice{BondAtMeter, "By the meter"},
		Choice{BondAtEntry, "Where the pipe enters; the meter is outdoors"}).
		when("electrical.bond", BondFitted)
	BondFromMeterMM = number("electrical.bond_from_meter_mm", "From the meter's outlet union", "mm", 0, 20000, 0).
			hint("Before any branch.").when("electrical.bond_at", BondAtMeter)

	TimeControl = flag("electrical.time_control", "Heating times can be set")
	RoomControl = flag("electrical.room_control", "Room temperature is controlled")
	Interlock   = flag("electrical.interlock", "Boiler and pump stop when no heat is called for")
	CylinderSet = flag("electrical.cylinder_control", "Hot water cylinder, if any, has its own thermostat and times")
	RadValves   = flag("electrical.radiator_valves",
		"Thermostatic valves on the radiators, but for the reference room")
	FloorM2      = number("electrical.floor_m2", "Floor area heated", "m²", 1, 5000, 0)
	Zones        = number("electrical.zones", "Heating zones with controls of their own", "", 1, 50, 0)
	Compensation = choice("electrical.compensation", "Flow temperature follows",
		Choice{ExtraWeather, "The weather outdoors"}, Choice{ExtraLoad, "The heat called for"},
		Choice{ExtraNone, "Nothing, it is fixed"})
	ExtraMeasure = choice("electrical.extra_measure", "Further measure for a combination boiler",
		Choice{ExtraRecovery, "Heat recovery from the flue gas"}, Choice{ExtraWeather, "Weather compensation"},
		Choice{ExtraLoad, "Load compensation"},
		Choice{ExtraSmart, "Thermostat with automation and optimisation"}, Choice{ExtraNone, "None"})
)

// Electrical is the electricity supply, bonding and the heating controls.
var Electrical = Section{
	ID: "electrical", Title: "Electrical and controls",
	Intro: "Prove dead before you open anything. Electrical work beyond these checks is for a competent person.",
	Groups: []Group{
		{Title: "Supply", Fields: fields(ElectricSupply, FuseA, FuseStatedA, Polarity, Earthed, Isolation)},
		{Title: "Bonding", Fields: fields(Bond, BondMM2, BondAt, BondFromMeterMM)},
		{Title: "Heating controls", Intro: "Boilers only.", Fields: fields(TimeControl, RoomControl, Interlock,
			CylinderSet, RadValves, FloorM2, Zones,
			Compensation, ExtraMeasure)},
	},
}
