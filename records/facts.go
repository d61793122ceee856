package records

// Facts is what the rules may know beyond the record itself.
type Facts struct {
	DropBands []DropBands
	// OwnerLimits are levels that the owner entered, and limits that the owner
	// wants guarded; of several for one rule and kind the last counts.
	OwnerLimits []OwnerLimit
	// Earlier is the readings of the appliance's last issued record, if any.
	Earlier Values
}
