// Package due works out what falls due when: services, landlord checks,
// notices, reports, calibration. It is pure calendar arithmetic on
// records.Date and imports the standard library and package records only.
//
// Months are counted to the corresponding date: the same day number, or the
// last day of a month that has no such day (records.Date.AddMonths). Days are
// calendar days, the day counted from not included. A duty is in time on its
// due date and late on the day after.
//
// Nothing here is legal advice: each duty names its source and how sure its
// figure is, and the registered person who did the work decides.
package due
