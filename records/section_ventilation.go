package records

// Codes of the Ventilation and alarm section.
const (
	PlaceRoom        = "room"
	PlaceCompartment = "compartment"
	PlaceOutdoors    = "outdoors"

	VentToRoom    = "room"
	VentToOutside = "outside"
	VentNone      = "none"

	VentStatedNone = "none"
	VentStatedArea = "area"
	VentUnstated   = "silent"

	AlarmSameRoom  = "same"
	AlarmOtherRoom = "other"

	AlarmCeiling = "ceiling"
	AlarmWall    = "wall"
	AlarmFree    = "free"

	AlarmSealed      = "sealed"
	AlarmWired       = "wired"
	AlarmReplaceable = "replaceable"
)

// Fields of the Ventilation and alarm section.
var (
	VentPlace = choice("ventilation.place", "Where the appliance is",
		Choice{PlaceRoom, "In a room"}, Choice{PlaceCompartment, "In a compartment"}, Choice{PlaceOutdoors, "Outdoors"})
	VentTo = choice("ventilation.vents_to", "Compartment ventilation",
		Choice{VentToRoom, "To a room"}, Choice{VentToOutside, "Directly to outdoors"},
		Choice{VentNone, "None"}).
		when("ventilation.place", PlaceCompartment)
	VentAirtight = flag("ventilation.airtight", "Dwelling known to be very airtight").
			hint("Air permeability of at most 5 m³/(h·m²) at 50 Pa. Answer no if it has not been tested.").
			when("ventilation.place", PlaceRoom)
	VentOpeningCm2 = number("ventilation.opening_cm2", "Permanent opening, free area", "cm²", 0, 5000, 1).
			hint("Effective free area to outdoors, as marked on the vent or measured; 0 where there is none.").
			when("ventilation.place", PlaceRoom)
	VentHighCm2 = number("ventilation.high_cm2", "High opening, free area", "cm²", 0, 5000,
		1).when("ventilation.place", PlaceCompartment)
	VentLowCm2 = number("ventilation.low_cm2", "Low opening, free area", "cm²", 0, 5000, 1).when("ventilation.place",
		PlaceCompartment)
	VentClear = flag("ventilation.clear", "Openings clear, and cannot be closed")

	VentStated = choice("ventilation.stated", "What the appliance's instructions say",
		Choice{VentUnstated, "Nothing about ventilation"}, Choice{VentStatedNone, "No ventilation is needed"},
		Choice{VentStatedArea, "Their own free areas"})
	VentStatedDocument = text("ventilation.stated_document", "Instructions and page", 120).when("ventilation.stated",
		VentStatedNone, VentStatedArea)
	VentStatedHighCm2 = number("ventilation.stated_high_cm2", "High opening, as stated", "cm²", 0, 5000,
		1).when("ventilation.stated", VentStatedArea)
	VentStatedLowCm2 = number("ventilation.stated_low_cm2", "Low or only opening, as stated", "cm²", 0, 5000,
		1).when("ventilation.stated", VentStatedArea)

	AlarmFitted = flag("ventilation.alarm", "Carbon monoxide alarm present")
	AlarmRoom   = choice("ventilation.alarm_room", "Where the alarm is",
		Choice{AlarmSameRoom, "In the room or space of the appliance"},
		Choice{AlarmOtherRoom, "Elsewhere"}).when("ventilation.alarm", "yes")
	AlarmDistanceM = number("ventilation.alarm_distance_m", "Alarm's distance from the appliance", "m", 0, 30, 2).
			hint("Measured horizontally.").when("ventilation.alarm", "yes")
	AlarmFixed = choice("ventilation.alarm_fixed", "Alarm fixed to",
		Choice{AlarmCeiling, "The ceiling"}, Choice{AlarmWall, "A wall"},
		Choice{AlarmFree, "Nothing, it is free-standing"}).when("ventilation.alarm", "yes")
	AlarmFromWallMM = number("ventilation.alarm_from_wall_mm", "From the nearest wall or obstruction", "mm", 0,
		10000, 0).when("ventilation.alarm_fixed", AlarmCeiling)
	AlarmBelowCeilingMM = number("ventilation.alarm_below_ceiling_mm", "Below the ceiling", "mm", 0, 5000,
		0).when("ventilation.alarm_fixed", AlarmWall)
	AlarmAboveOpenings = flag("ventilation.alarm_above_openings",
		"Higher than every door and window of the room").when("ventilation.alarm_fixed", AlarmWall)
	AlarmStandard = flag("ventilation.alarm_standard", "Alarm marked BS EN 50291-1").when("ventilation.alarm", "yes")
	AlarmPower    = choice("ventilation.alarm_power", "Alarm powered by",
		Choice{AlarmSealed, "A sealed battery for its working life"}, Choice{AlarmWired, "Mains wiring"},
		Choice{AlarmReplaceable, "A replaceable battery"}).when("ventilation.alarm", "yes")
	AlarmExpiry = date("ventilation.alarm_expiry", "Alarm to be replaced by").
			hint("As marked on it. If only a month is marked, the last day of that month.").when("ventilation.alarm",
		"yes")
	AlarmTested = flag("ventilation.alarm_tested", "Alarm sounds when tested").when("ventilation.alarm", "yes")
)

// Ventilation is the air supply of the appliance, and the carbon monoxide alarm.
var Ventilation = Section{
	ID: "ventilation", Title: "Ventilation and alarm",
	Intro: "Check where the appliance is, measure the free areas, then find and test the carbon monoxide alarm.",
	Groups: []Group{
		{Title: "Place and openings", Fields: fields(VentPlace, VentTo, VentAirtight, VentOpeningCm2, VentHighCm2,
			VentLowCm2, VentClear)},
		{Title: "What the manufacturer states", Fields: fields(VentStated, VentStatedDocument, VentStatedHighCm2,
			VentStatedLowCm2)},
		{Title: "Carbon monoxide alarm", Fields: fields(AlarmFitted, AlarmRoom, AlarmDistanceM, AlarmFixed,
			AlarmFromWallMM, AlarmBelowCeilingMM,
			AlarmAboveOpenings, AlarmStandard, AlarmPower, AlarmExpiry, AlarmTested)},
	},
}
