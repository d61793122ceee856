package records

// Fields of the Combustion section.
var (
	Analyser       = instrument("combustion.analyser", "Flue gas analyser used", "analyser")
	AnalyserZeroed = flag("combustion.zeroed", "Started and zeroed in clean outdoor air")
	CombustionTime = clock("combustion.time", "Time of the readings")
	CO2Method      = choice("combustion.co2_method", "How the analyser finds CO₂",
		Choice{"from-o2", "Calculated from oxygen"}, Choice{"measured", "Measured directly"})
	SettleMinutes = number("combustion.settle_min", "Left to settle at full rate for", "min", 0, 120, 1)
	AmbientCOPPM  = number("combustion.ambient_co_ppm", "CO in the room air", "ppm", 0, 1000, 0)

	InletO2Pct  = number("combustion.inlet_o2_pct", "Oxygen in the air inlet", "%", 0, 25, 2)
	InletCO2Pct = number("combustion.inlet_co2_pct", "CO₂ in the air inlet", "%", 0, 20, 2)

	COMaxPPM     = number("combustion.max_co_ppm", "CO", "ppm", 0, 20000, 0)
	CO2MaxPct    = number("combustion.max_co2_pct", "CO₂", "%", 0, 25, 2)
	O2MaxPct     = number("combustion.max_o2_pct", "Oxygen", "%", 0, 25, 2)
	FlueTempMaxC = number("combustion.max_flue_temp_c", "Flue gas temperature", "°C", -20, 600, 1)
	AirTempC     = number("combustion.air_temp_c", "Combustion air temperature", "°C", -30, 60, 1)

	MinRate = choice("combustion.min_rate", "Minimum rate",
		Choice{"taken", "Readings taken"}, Choice{"not-possible", "Appliance cannot be held at a lower rate"})
	MinRateReason = text("combustion.min_rate_reason", "Why it cannot, and where the instructions say so", 200).
			when("combustion.min_rate", "not-possible")
	COMinPPM     = number("combustion.min_co_ppm", "CO", "ppm", 0, 20000, 0).when("combustion.min_rate", "taken")
	CO2MinPct    = number("combustion.min_co2_pct", "CO₂", "%", 0, 25, 2).when("combustion.min_rate", "taken")
	O2MinPct     = number("combustion.min_o2_pct", "Oxygen", "%", 0, 25, 2).when("combustion.min_rate", "taken")
	FlueTempMinC = number("combustion.min_flue_temp_c", "Flue gas temperature", "°C", -20, 600,
		1).when("combustion.min_rate", "taken")
)

// Combustion is the analysis of the products at both rates and of the air
// inlet.
var Combustion = Section{
	ID: "combustion", Title: "Combustion",
	Intro: "Zero the analyser outdoors, let the appliance settle at full rate, read the air inlet, then the " +
		"products at maximum and at minimum rate.",
	Groups: []Group{
		{Title: "Analyser", Fields: fields(Analyser, AnalyserZeroed, CO2Method, CombustionTime, SettleMinutes,
			AmbientCOPPM)},
		{Title: "Air inlet at maximum rate",
			Intro:  "Shows whether products are getting into the air duct. Concentric flues only.",
			Fields: fields(InletO2Pct, InletCO2Pct)},
		{Title: "Products at maximum rate", Fields: fields(COMaxPPM, CO2MaxPct, O2MaxPct, FlueTempMaxC, AirTempC)},
		{Title: "Products at minimum rate", Fields: fields(MinRate, MinRateReason, COMinPPM, CO2MinPct, O2MinPct,
			FlueTempMinC)},
	},
	Exempt: func(vs Values) string {
		if vs.Choice(Examined) == ExaminedNeither {
			return "" // the law then requires combustion to be examined, whatever the kind
		}
		switch vs.Choice(ApplianceKind) {
		case KindCooker:
			return "a cooker is judged by its flame picture, not by flue gas analysis"
		case KindSpaceHeater:
			return "a flueless heater has no flue to sample"
		}
		return ""
	},
}
