package records

// Codes of what was examined after the work.
const (
	ExaminedBoth     = "both"
	ExaminedPressure = "pressure"
	ExaminedInput    = "input"
	ExaminedNeither  = "neither"
)

// Fields of the Working pressure section.
var (
	Examined = choice("pressure.examined", "What could be examined",
		Choice{ExaminedBoth, "Operating pressure and heat input"}, Choice{ExaminedPressure, "Operating pressure only"},
		Choice{ExaminedInput, "Heat input only"}, Choice{ExaminedNeither, "Neither is reasonably practicable"}).
		hint("The law requires pressure or heat input, both where necessary; combustion only where neither is " +
			"practicable.")
	ExaminedReason = notes("pressure.examined_reason", "Reason", 400).when("pressure.examined", ExaminedPressure,
		ExaminedInput, ExaminedNeither)
	PressureGauge = instrument("pressure.gauge", "Pressure gauge used", "gauge").when("pressure.examined",
		ExaminedBoth, ExaminedPressure)
	PressureTime = clock("pressure.time", "Time of the readings").when("pressure.examined", ExaminedBoth,
		ExaminedPressure)
	StandingMbar = number("pressure.standing_mbar", "Standing pressure", "mbar", 0, 150, 2).when("pressure.examined",
		ExaminedBoth, ExaminedPressure)
	PressureLoad = choice("pressure.load", "Load while reading",
		Choice{"highest", "This appliance at full rate, others at the highest likely load"},
		Choice{"alone", "This appliance alone at full rate"}).when("pressure.examined", ExaminedBoth, ExaminedPressure)
	MeterMbar = number("pressure.meter_mbar", "Working pressure at the meter", "mbar", 0, 150,
		2).when("pressure.examined", ExaminedBoth, ExaminedPressure)
	ApplianceMbar = number("pressure.appliance_mbar", "Working pressure at the appliance", "mbar", 0, 150,
		2).when("pressure.examined", ExaminedBoth, ExaminedPressure)
	OtherFlowM3H = number("pressure.other_flow_m3_per_h", "Gas used by other appliances on the same pipe", "m³/h", 0,
		20,
		3).
		when("pressure.load", "highest").
		hint("If known, so that the predicted drop can include it.")
)

// Pressure is the standing and working pressure.
var Pressure = Section{
	ID: "pressure", Title: "Working pressure",
	Intro: "Standing pressure first; then the appliance at full rate, read at the meter and at the appliance.",
	Groups: []Group{
		{Title: "What was examined", Fields: fields(Examined, ExaminedReason)},
		{Title: "Readings", Fields: fields(PressureGauge, PressureTime, StandingMbar, PressureLoad, MeterMbar,
			ApplianceMbar, OtherFlowM3H)},
	},
}
