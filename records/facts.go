package records

// DropBand is one band of permissible drop by installation volume.
type DropBand struct {
	UpToM3   float64 `json:"up_to_m3"`
	DropMbar float64 `json:"drop_mbar"`
}

// DropBands is the permissible-drop table of a dated edition, entered by the
// owner from the firm's own copy of the standard. The tool ships none.
type DropBands struct {
	Edition   string     `json:"edition"` // one of OwnerDropEditions
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

// Check returns what is wrong with the table, or nil: bands must be given,
// with positive volumes in ascending order, drops not negative and not rising,
// and a clause.
func (b DropBands) Check() error {
	var c check
	oneOf(&c, "edition", "Edition", b.Edition, OwnerDropEditions())
	oneOf(&c, "fuel", "Fuel", b.Fuel, []string{FuelNatural, FuelPropane, FuelButane})
	c.line("clause", "Clause in your copy", b.Clause, 1, 120)
	c.line("entered_by", "Entered by", b.EnteredBy, 1, 80)
	if len(b.Bands) == 0 || len(b.Bands) > 50 {
		c.add("bands", "Bands", FormatNumber(float64(len(b.Bands)), 0)+" bands", "from 1 to 50 bands")
	}
	before := DropBand{DropMbar: 100}
	for i, band := range b.Bands {
		if !(band.UpToM3 > before.UpToM3 && band.UpToM3 <= 1) {
			c.add(FieldIndex("bands", i, "up_to_m3"), "Volume up to", FormatNumber(band.UpToM3, -1),
				"m³, more than the band before and at most 1")
		}
		if !(band.DropMbar >= 0 && band.DropMbar <= before.DropMbar) {
			c.add(FieldIndex("bands", i, "drop_mbar"), "Permissible drop", FormatNumber(band.DropMbar, -1),
				"mbar, not negative and not more than the band before")
		}
		before = band
	}
	return c.err()
}

// FieldIndex names a column of a row: bands[0].drop_mbar.
func FieldIndex(field string, row int, column string) string {
	return field + "[" + FormatNumber(float64(row), 0) + "]." + column
}
