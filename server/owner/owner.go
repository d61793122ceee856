// Package owner has the owner's pages: the firm, its people, who may do what,
// webhooks, and the words of reminders.
package owner

import "gaugebook/templates"

// Pages is the data of each of them.
var Pages = templates.Types{
	"drop-bands":    dropBandsPage{},
	"limits":        limitsPage{},
	"firm":          firmPage{},
	"log":           logPage{},
	"people":        peoplePage{},
	"person":        personPage{},
	"roles":         rolesPage{},
	"webhooks":      webhooksPage{},
	"webhooks-told": deliveriesPage{},
	"wording":       wordingPage{},
}
