package gas

// SaturationMbar is the vapour pressure behind the dew point, for its check
// against a steam table.
var SaturationMbar = saturationMbar
