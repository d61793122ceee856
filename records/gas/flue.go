package gas

// FlueBend is a number of like bends and what each adds, in metres, by the
// appliance manufacturer.
type FlueBend struct {
	Count       float64
	EquivalentM float64
}

// EquivalentFlueLengthM is the measured route (0 to 1000 m) plus the bends,
// each counted (0 to 100) at its equivalent length (0 to 20 m). The elbow of a
// standard kit is usually counted by the manufacturer already. Errors:
// *RangeError. Source: manufacturers' instructions (H).
func EquivalentFlueLengthM(routeM float64, bends []FlueBend) (float64, error) {
	if err := within("flue route", routeM, 0, 1000, "m"); err != nil {
		return 0, err
	}
	total := routeM
	for _, b := range bends {
		if err := first(
			within("number of flue bends", b.Count, 0, 100, ""),
			within("equivalent length of a flue bend", b.EquivalentM, 0, 20, "m"),
		); err != nil {
			return 0, err
		}
		total += float64(b.Count * b.EquivalentM)
	}
	return finite("equivalent flue length", total, "m")
}

// SlopeMMPerM is the fall of a flue or drain at an angle of 0 to 45° to the
// horizontal, in mm per metre of level run. Errors: *RangeError.
// Source: geometry, 1000 tan(angle).
func SlopeMMPerM(degrees float64) (float64, error) {
	if err := within("slope", degrees, 0, 45, "°"); err != nil {
		return 0, err
	}
	return 1000 * tanDegrees(degrees), nil
}
