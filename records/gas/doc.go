// Package gas holds the physics behind the readings: fuels, combustion,
// pipe flow, volumes, heat, the water side, ventilation and flues.
//
// Every function is pure. Units stand in the names; "M3" means cubic metres,
// "Mbar" means gauge pressure unless the name says absolute, temperatures are
// degrees Celsius and differences kelvin. An input outside its stated range
// gives a *RangeError and no number: no function returns NaN or infinity.
//
// The same input gives the same bits on every machine: products that are
// added to something are rounded first (float64(a*b) + c; an assignment does
// not do it), so that no compiler may fuse them, and ln, exp and tan come from
// portable.go. A test reads the assembly of a processor that could fuse.
//
// Results are physics and table look-ups, not verdicts. The appliance
// manufacturer's instructions and the standard in force come first.
package gas
