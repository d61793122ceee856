package records

// Fields of the Heat delivery section.
var (
	FlowC = number("delivery.flow_c", "Flow temperature", "°C", 5, 110, 1).
		hint("Appliance settled at full rate.")
	ReturnC      = number("delivery.return_c", "Return temperature", "°C", 5, 110, 1)
	HeatingFlowL = number("delivery.heating_flow_l_per_min", "Water flow through the boiler", "l/min", 0.5, 500, 2).
			hint("Where it can be read; blank otherwise.")
	DesignFlowC = number("delivery.design_flow_c", "Flow temperature the system is designed for", "°C", 20, 90, 1)
	DesignScope = choice("delivery.system_new", "Heating system",
		Choice{"new", "New, or wholly replaced"}, Choice{"kept", "Kept, in whole or in part"})

	HotFlowL = number("delivery.hot_flow_l_per_min", "Hot water flow", "l/min", 0.5, 100, 2).
			hint("Tap wide open, appliance at full rate.")
	HotInC     = number("delivery.hot_in_c", "Cold water in", "°C", 0, 60, 1)
	HotOutC    = number("delivery.hot_out_c", "Hot water out", "°C", 0, 100, 1)
	HotRatedKW = number("delivery.hot_rated_kw", "Rated hot-water output, if stated apart", "kW", 0.5, 100, 2).
			hint("Blank: the rated heat output of the data plate.")
)

// Delivery is the heat that reaches radiators and taps.
var HeatDelivery = Section{
	ID: "delivery", Title: "Heat delivery",
	Intro: "Let it settle at full rate; read flow and return, then a hot tap wide open.",
	Groups: []Group{
		{Title: "Heating", Intro: "Boilers only.", Fields: fields(FlowC, ReturnC, HeatingFlowL, DesignFlowC,
			DesignScope)},
		{Title: "Hot water", Intro: "Combination boilers and water heaters.",
			Fields: fields(HotFlowL, HotInC, HotOutC, HotRatedKW)},
	},
	Exempt: noWater,
}
