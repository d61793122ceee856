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
	ElectricSupply = choice("electrical.supply", "Electricity supply",
		Choice{SupplySpur, "Fused spur"}, Choice{SupplyPlug, "Plug and socket"}, Choice{SupplyAbsent, "None"})
	FuseA = number("electrical.fuse_a", "Fuse fitted", "A", 1, 63, 0).when("electrical.supply", SupplySpur,
		SupplyPlug)
	FuseStatedA = number("electrical.fuse_stated_a", "Fuse stated by the manufacturer", "A", 1, 63,
		0).when("electrical.supply", SupplySpur, SupplyPlug)
	Polarity  = flag("electrical.polarity", "Polarity correct").when("electrical.supply", SupplySpur, SupplyPlug)
	Earthed   = flag("electrical.earth", "Earth continuity proven").when("electrical.supply", SupplySpur, SupplyPlug)
	Isolation = flag("electrical.isolation", "Appliance and controls isolated at one point, both poles").
			when("electrical.supply", SupplySpur, SupplyPlug)

	Bond = choice("electrical.bond", "Main bonding of the gas pipe",
		Choice{BondFitted, "Fitted"}, Choice{BondAbsent, "Not fitted"},
		Choice{BondPlastic, "Pipe enters in plastic, not needed"})
	BondMM2 = number("electrical.bond_mm2", "Bonding conductor", "mm²", 0.5, 50, 1).when("electrical.bond", BondFitted)
	BondAt  = choice("electrical.bond_at", "Where it is bonded", Choice{BondAtMeter, "By the meter"},
		Choice{BondAtEntry, "Where the pipe enters (meter outdoors)"}).
		when("electrical.bond", BondFitted)
	BondFromMeterMM = number("electrical.bond_from_meter_mm", "Distance from the meter's outlet union", "mm", 0, 20000,
		0).
		hint("Before any branch.").when("electrical.bond_at", BondAtMeter)

	TimeControl = flag("electrical.time_control", "Heating times can be set")
	RoomControl = flag("electrical.room_control", "Room temperature is controlled")
	Interlock   = flag("electrical.interlock", "Boiler and pump stop when there is no call for heat")
	CylinderSet = flag("electrical.cylinder_control", "Hot water cylinder, if any, has its own thermostat and timer")
	RadValves   = flag("electrical.radiator_valves",
		"Thermostatic valves on the radiators, except in the reference room")
	FloorM2      = number("electrical.floor_m2", "Heated floor area", "m²", 1, 5000, 0)
	Zones        = number("electrical.zones", "Heating zones with their own controls", "", 1, 50, 0)
	Compensation = choice("electrical.compensation", "Flow temperature compensation",
		Choice{ExtraWeather, "By outdoor temperature"}, Choice{ExtraLoad, "By load"},
		Choice{ExtraNone, "None, fixed"})
	ExtraMeasure = choice("electrical.extra_measure", "Additional measure for a combination boiler",
		Choice{ExtraRecovery, "Flue gas heat recovery"}, Choice{ExtraWeather, "Weather compensation"},
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
