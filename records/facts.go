package records

// Facts is what the rules may know beyond the record itself.
type Facts struct {
	DropBands []DropBands
	// Earlier is the readings of the appliance's last issued record, if any.
	Earlier Values
}
