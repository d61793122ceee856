package gas

// SiegertConstants of a fuel: qA = (flue - air) (A1/CO2 + B), or with
// A2/(21 - O2). CondensingLimitC and CondensingGainPercent serve the
// instrument's condensing form; 0 when not published for the fuel.
// Source: analyser and boiler manuals, equal to the German 1. BImSchV set (H).
type SiegertConstants struct {
	A1, A2, B             float64
	CondensingLimitC      float64
	CondensingGainPercent float64
}

// BS845Constants of a fuel, BS 845-1 (from memory, M). K1Gross 0 means that
// the set is not kept for the fuel.
type BS845Constants struct {
	K1Gross, K1Net, CO2MaxPercent, K3 float64
}
