// Package engineer has the engineer's pages: the visits of a day, addresses and
// appliances, and a record from its start to its issue and after.
package engineer

import "gaugebook/templates"

// Pages is the data of each of them.
var Pages = templates.Types{
	"appliance":            appliancePage{},
	"appliance-form":       applianceFormPage{},
	"day":                  dayPage{},
	"draft":                draftPage{},
	"find":                 findPage{},
	"issued":               issuedPage{},
	"property":             propertyPage{},
	"review":               reviewPage{},
	"section":              sectionPage{},
	"section/photos":       photoStrip{},
	"section/section-form": sectionPage{},
	"stale":                stalePage{},
}
