package gas

// FreeAreaForOpenFlueCm2 is the effective free area of permanent ventilation
// for an open-flued appliance in a room: 5 cm2 for each kW of net heat input
// (0 to 70) above 7. In a very airtight dwelling every kW counts, without the
// allowance of 7. Northern Ireland has no allowance either: pass airtight.
// Errors: *RangeError. Source: BS 5440-2, Approved Document J (H; the airtight
// case from memory).
func FreeAreaForOpenFlueCm2(netKW float64, airtight bool) (float64, error) {
	if err := withinDomesticNetKW(netKW); err != nil {
		return 0, err
	}
	counted := netKW
	if !airtight {
		counted = max(0, netKW-7)
	}
	return 5 * counted, nil
}

// CompartmentVent is the free area, for each kW of net heat input, of the high
// and the low opening of a compartment.
type CompartmentVent struct {
	OpenFlued  bool
	ToOutside  bool // openings straight to outside air, otherwise to a room
	HighCm2KW  float64
	LowCm2KW   float64
	Source     string
	Confidence string
}

// CompartmentVents lists the four cases. Condensing appliances often need no
// compartment ventilation: the manufacturer's instructions come first.
func CompartmentVents() []CompartmentVent {
	const src = "BS 5440-2, pattern of the 2000 to 2009 editions"
	return []CompartmentVent{
		{OpenFlued: true, ToOutside: false, HighCm2KW: 10, LowCm2KW: 20, Source: src, Confidence: "M"},
		{OpenFlued: true, ToOutside: true, HighCm2KW: 5, LowCm2KW: 10, Source: src, Confidence: "M"},
		{OpenFlued: false, ToOutside: false, HighCm2KW: 10, LowCm2KW: 10, Source: src, Confidence: "M"},
		{OpenFlued: false, ToOutside: true, HighCm2KW: 5, LowCm2KW: 5, Source: src, Confidence: "L"},
	}
}

// CompartmentArea is what a compartment needs for one heat input.
type CompartmentArea struct {
	HighCm2, LowCm2 float64
	Per             CompartmentVent // the row it was computed with
}

// CompartmentAreaOf is the free area of the high and low openings for a net
// heat input of 0 to 70 kW. Errors: *RangeError. Source: see CompartmentVents.
func CompartmentAreaOf(openFlued, toOutside bool, netKW float64) (CompartmentArea, error) {
	if err := withinDomesticNetKW(netKW); err != nil {
		return CompartmentArea{}, err
	}
	var row CompartmentVent
	for _, v := range CompartmentVents() {
		if v.OpenFlued == openFlued && v.ToOutside == toOutside {
			row = v
		}
	}
	return CompartmentArea{HighCm2: row.HighCm2KW * netKW, LowCm2: row.LowCm2KW * netKW, Per: row}, nil
}

func withinDomesticNetKW(kw float64) error {
	return within("net heat input", kw, 0, MaxTerminalNetKW, "kW")
}
