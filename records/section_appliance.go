package records

// Codes of appliance kinds, fuels and flue kinds that rules and sections ask
// for by name.
const (
	KindCombination = "boiler-combination"
	KindSystem      = "boiler-system"
	KindRegular     = "boiler-regular"
	KindWaterHeater = "water-heater"
	KindWarmAir     = "warm-air"
	KindFire        = "fire"
	KindRange       = "range-cooker"
	KindCooker      = "cooker"
	KindSpaceHeater = "flueless-heater"

	FuelNatural = "natural-gas"
	FuelPropane = "propane"
	FuelButane  = "butane"

	FlueSealedFanned  = "room-sealed-fanned"
	FlueSealedNatural = "room-sealed-natural"
	FlueOpenFanned    = "open-fanned"
	FlueOpenNatural   = "open-natural"
	FlueNone          = "none"
)

// Fields of the Appliance section.
var (
	ApplianceKind = choice("appliance.kind", "Kind of appliance",
		Choice{KindCombination, "Combination boiler"}, Choice{KindSystem, "System boiler"},
		Choice{KindRegular, "Regular boiler"}, Choice{KindWaterHeater, "Instantaneous water heater"},
		Choice{KindWarmAir, "Warm-air unit"}, Choice{KindFire, "Gas fire"},
		Choice{KindRange, "Range cooker"}, Choice{KindCooker, "Cooker"},
		Choice{KindSpaceHeater, "Flueless space heater"})
	ApplianceMake     = text("appliance.make", "Make", 60)
	ApplianceModel    = text("appliance.model", "Model", 60)
	ApplianceSerial   = text("appliance.serial", "Serial number", 40)
	ApplianceLocation = text("appliance.location", "Where in the property", 80)
	ApplianceFuel     = choice("appliance.fuel", "Fuel",
		Choice{FuelNatural, "Natural gas"}, Choice{FuelPropane, "Propane (LPG)"}, Choice{FuelButane, "Butane (LPG)"})
	ApplianceCondensing = flag("appliance.condensing", "Condensing appliance")
	ApplianceFlue       = choice("appliance.flue_kind", "Kind of flue",
		Choice{FlueSealedFanned, "Room-sealed, fanned"}, Choice{FlueSealedNatural, "Room-sealed, natural draught"},
		Choice{FlueOpenFanned, "Open flue, fanned"}, Choice{FlueOpenNatural, "Open flue, natural draught"},
		Choice{FlueNone, "Flueless"})
	ApplianceInstalled = choice("appliance.installed", "Installed",
		Choice{"replacement", "Replacing an older appliance"}, Choice{"new", "New installation"},
		Choice{"existing", "Already in place"})

	CondensingReason = text("appliance.condensing_reason", "Why a new boiler does not condense", 200).
				hint("With the assessment or document that says so. Only for a boiler that is new here.").
				when("appliance.condensing", "no")

	RatedInputKW    = number("appliance.rated_input_kw", "Rated heat input", "kW", 0.5, 100, 2)
	RatedInputBasis = choice("appliance.rated_input_basis", "Input stated as",
		Choice{"net", "Net"}, Choice{"gross", "Gross"})
	RatedOutputKW = number("appliance.rated_output_kw", "Rated heat output", "kW", 0.5, 100, 2)

	StatedDocument = text("appliance.stated_document", "Instructions that give these limits", 120)
	StatedPage     = text("appliance.stated_page", "Page or table in them", 60).
			hint("Needed where a limit is looser than the general one.")
	StatedInletMinMbar   = number("appliance.stated_inlet_min_mbar", "Lowest inlet pressure", "mbar", 1, 100, 2)
	StatedInletMaxMbar   = number("appliance.stated_inlet_max_mbar", "Highest inlet pressure", "mbar", 1, 100, 2)
	StatedInputMinusPct  = number("appliance.stated_input_minus_pct", "Heat input, may be lower by", "%", 0, 30, 1)
	StatedInputPlusPct   = number("appliance.stated_input_plus_pct", "Heat input, may be higher by", "%", 0, 30, 1)
	StatedCOMaxPPM       = number("appliance.stated_co_max_ppm", "Highest CO", "ppm", 1, 2000, 0)
	StatedRatioMax       = number("appliance.stated_ratio_max", "Highest CO/CO₂ ratio", "", 0.0001, 0.1, 5)
	StatedCO2MaxRateLow  = number("appliance.stated_co2_max_rate_low_pct", "Lowest CO₂ at maximum rate", "%", 1, 20, 2)
	StatedCO2MaxRateHigh = number("appliance.stated_co2_max_rate_high_pct", "Highest CO₂ at maximum rate", "%", 1, 20,
		2)
	StatedCO2MinRateLow  = number("appliance.stated_co2_min_rate_low_pct", "Lowest CO₂ at minimum rate", "%", 1, 20, 2)
	StatedCO2MinRateHigh = number("appliance.stated_co2_min_rate_high_pct", "Highest CO₂ at minimum rate", "%", 1, 20,
		2)
	StatedFlueLengthMaxM = number("appliance.stated_flue_length_max_m", "Longest equivalent flue length", "m", 0.1, 60,
		2)
	StatedFlueFallMinMM = number("appliance.stated_flue_fall_min_mm_per_m", "Least flue fall back to the appliance",
		"mm/m", 0, 200, 1)
)

// ApplianceSection is what was fitted, what its data plate says and which
// limits its manufacturer states.
var ApplianceSection = Section{
	ID: "appliance", Title: "Appliance",
	Intro: "From the data plate and the instructions. What the manufacturer states takes precedence over general " +
		"limits.",
	Groups: []Group{
		{Title: "What it is", Fields: fields(ApplianceKind, ApplianceMake, ApplianceModel, ApplianceSerial,
			ApplianceLocation,
			ApplianceFuel, ApplianceCondensing, CondensingReason, ApplianceFlue, ApplianceInstalled)},
		{Title: "Data plate", Fields: fields(RatedInputKW, RatedInputBasis, RatedOutputKW)},
		{Title: "Limits the manufacturer states", Intro: "Leave blank whatever the instructions do not state.",
			Fields: fields(StatedDocument, StatedPage, StatedInletMinMbar, StatedInletMaxMbar, StatedInputMinusPct,
				StatedInputPlusPct,
				StatedCOMaxPPM, StatedRatioMax, StatedCO2MaxRateLow, StatedCO2MaxRateHigh, StatedCO2MinRateLow,
				StatedCO2MinRateHigh, StatedFlueLengthMaxM, StatedFlueFallMinMM)},
	},
}

// LPG reports whether the appliance burns one of the LPG fuels, which have
// limits of their own.
func (vs Values) LPG() bool {
	fuel := vs.Choice(ApplianceFuel)
	return fuel == FuelPropane || fuel == FuelButane
}

// OpenFlued reports whether the appliance takes its air from the room and has
// a flue.
func (vs Values) OpenFlued() bool {
	k := vs.Choice(ApplianceFlue)
	return k == FlueOpenFanned || k == FlueOpenNatural
}
