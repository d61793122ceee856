package gas

// Editions of the pipework standard that give equivalent lengths.
const (
	BS6891Of2005 = "BS 6891:2005"
	BS6891Of2015 = "BS 6891:2015"
)

// Kinds of pipe fitting.
const (
	Bend45   = "bend-45"
	Bend90   = "bend-90"
	Elbow90  = "elbow"
	TeePiece = "tee"
)

// FittingLength is the length of straight pipe that loses as much as one
// fitting. NominalMM 0 means any size of the edition.
type FittingLength struct {
	Edition, Kind string
	NominalMM     float64
	EquivalentM   float64
	Confidence    string
}

// FittingLengths lists what the editions tabulate, as far as we have them.
func FittingLengths() []FittingLength {
	return []FittingLength{
		{BS6891Of2005, Bend90, 0, 0.3, "H"},
		{BS6891Of2005, Elbow90, 0, 0.5, "H"},
		{BS6891Of2005, TeePiece, 0, 0.5, "H"},
		{BS6891Of2015, Bend45, 15, 0.15, "H"},
		{BS6891Of2015, Bend90, 15, 0.20, "H"},
		{BS6891Of2015, Elbow90, 15, 0.40, "H"},
		{BS6891Of2015, Bend45, 22, 0.20, "H"},
		{BS6891Of2015, Bend90, 22, 0.30, "H"},
		{BS6891Of2015, Elbow90, 22, 0.60, "H"},
	}
}

// FittingLengthOf looks up one fitting in an edition; false if that edition
// gives none for that size, as far as we have it.
func FittingLengthOf(edition, kind string, nominalMM float64) (FittingLength, bool) {
	for _, f := range FittingLengths() {
		if f.Edition == edition && f.Kind == kind && (f.NominalMM == 0 || f.NominalMM == nominalMM) {
			return f, true
		}
	}
	return FittingLength{}, false
}
