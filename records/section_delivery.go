package records

// Fields of the Heat delivery section.
var (
	FlowC = number("delivery.flow_c", "Flow temperature", "°C", 5, 110, 1).
		hint("Appliance settled at full rate.")
	ReturnC      = number("delivery.return_c", "Return temperature", "°C", 5, 110, 1)
	HeatingFlowL = number("delivery.heating_flow_l_per_min", "Water flow through the boiler", "l/min", 0.5, 500, 2).
			hint("Where it can be read; otherwise leave blank.")
	DesignFlowC = number("delivery.design_flow_c", "Flow temperature the system is designed for", "°C", 20, 90, 1)
	DesignScope = choice("delivery.system_new", "Heating system",
		Choice{"new", "New or completely replaced"}, Choice{"kept", "Existing, in whole or in part"})

	HotFlowL = number("delivery.hot_flow_l_per_min", "Hot water flow", "l/min", 0.5, 100, 2).
			hint("Tap fully open, appliance at full rate.")
	HotInC     = number("delivery.hot_in_c", "Cold water in", "°C", 0, 60, 1)
	HotOutC    = number("delivery.hot_out_c", "Hot water out", "°C", 0, 100, 1)
	HotMixer   = flag("delivery.hot_mixer", "Outlets protected by a mixing valve")
	HotRatedKW = number("delivery.hot_rated_kw", "Rated hot-water output, if stated separately", "kW", 0.5, 100, 2).
			hint("If blank, the rated heat output on the data plate is used.")
)

// HeatDelivery is the heat that reaches radiators and taps.
var HeatDelivery = Section{
	ID: "delivery", Title: "Heat delivery",
	Intro: "Let the appliance settle at full rate. Read flow and return, then a hot tap fully open.",
	Groups: []Group{
		{Title: "Heating", Intro: "Boilers only.", Fields: fields(FlowC, ReturnC, HeatingFlowL, DesignFlowC,
			DesignScope)},
		{Title: "Hot water", Intro: "Combination boilers and water heaters.",
			Fields: fields(HotFlowL, HotInC, HotOutC, HotMixer, HotRatedKW)},
	},
	Exempt: noWater,
}
