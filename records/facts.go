package records

// DropBand is one band of permissible drop by installation volume.
type DropBand struct {
	UpToM3   float64 `json:"up_to_m3"`
	DropMbar float64 `json:"drop_mbar"`
}

// DropBands is the permissible-drop table of a dated edition, entered by the
// owner from the firm's own copy of the standard. The tool ships none.
type DropBands struct {
	Edition   string     `json:"edition"` // edition-4
	Fuel      string     `json:"fuel"`
	Clause    string     `json:"clause"` // where it stands in the firm's copy
	EnteredBy string     `json:"entered_by"`
	EnteredOn Date       `json:"entered_on"`
	Bands     []DropBand `json:"bands"` // volumes ascending
}

// Facts is what the rules may know beyond the record itself.
type Facts struct {
	DropBands []DropBands
	// Earlier is the readings of the appliance's last issued record, if any.
	Earlier Values
}
