package records

// Codes of the two kinds of meter dial.
const (
	MeterMetric   = "metric"
	MeterImperial = "imperial"
)

// Fields of the Heat input section.
var (
	HeatMeter = choice("heat.meter", "Meter units",
		Choice{MeterMetric, "Cubic metres"}, Choice{MeterImperial, "Cubic feet"})
	HeatOthersOff = flag("heat.others_off", "All other appliances off")
	HeatTime      = clock("heat.time", "Time of the reading")
	HeatStartM3   = number("heat.start_m3", "Reading at the start", "m³", 0, 9999999, 3).when("heat.meter", MeterMetric)
	HeatEndM3     = number("heat.end_m3", "Reading at the end", "m³", 0, 9999999, 3).when("heat.meter", MeterMetric)
	HeatSeconds   = number("heat.seconds", "Time between the readings", "s", 1, 3600, 1)
	HeatDialFt3   = number("heat.dial_ft3", "One turn of the test dial", "ft³", 0.1, 100, 2).when("heat.meter",
		MeterImperial)
	HeatTurns = number("heat.turns", "Whole turns timed", "", 1, 100, 0).when("heat.meter", MeterImperial)
	HeatCV    = number("heat.cv_mj_per_m3", "Calorific value, gross", "MJ/m³", 25, 140, 2).
			hint("From the supplier's bill or notice. If blank, a general figure for the fuel is used and named.")
)

// HeatInput is the heat input worked out from a timed meter reading.
var HeatInput = Section{
	ID: "heat", Title: "Heat input",
	Intro: "Appliance at full rate, everything else off. Metric: at least one minute, to the next change of the last " +
		"digit. Imperial: whole turns of the test dial.",
	Groups: []Group{
		{Title: "Timed meter reading", Fields: fields(HeatMeter, HeatOthersOff, HeatTime, HeatStartM3, HeatEndM3,
			HeatDialFt3, HeatTurns, HeatSeconds, HeatCV)},
	},
	Exempt: func(vs Values) string {
		switch vs.Choice(Examined) {
		case ExaminedPressure:
			return "operating pressure was examined instead of heat input"
		case ExaminedNeither:
			return "stated as not reasonably practicable; combustion was examined instead"
		}
		return ""
	},
}
