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
		{Edition: BS6891Of2005, Kind: Bend90, NominalMM: 0, EquivalentM: 0.3, Confidence: "H"},
		{Edition: BS6891Of2005, Kind: Elbow90, NominalMM: 0, EquivalentM: 0.5, Confidence: "H"},
		{Edition: BS6891Of2005, Kind: TeePiece, NominalMM: 0, EquivalentM: 0.5, Confidence: "H"},
		{Edition: BS6891Of2015, Kind: Bend45, NominalMM: 15, EquivalentM: 0.15, Confidence: "H"},
		{Edition: BS6891Of2015, Kind: Bend90, NominalMM: 15, EquivalentM: 0.20, Confidence: "H"},
		{Edition: BS6891Of2015, Kind: Elbow90, NominalMM: 15, EquivalentM: 0.40, Confidence: "H"},
		{Edition: BS6891Of2015, Kind: Bend45, NominalMM: 22, EquivalentM: 0.20, Confidence: "H"},
		{Edition: BS6891Of2015, Kind: Bend90, NominalMM: 22, EquivalentM: 0.30, Confidence: "H"},
		{Edition: BS6891Of2015, Kind: Elbow90, NominalMM: 22, EquivalentM: 0.60, Confidence: "H"},
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
