// Package customer has the pages that need no account: the customer's own,
// stopping reminders, checking a record, the rules and their sources.
package customer

import "gaugebook/templates"

// Pages is the data of each of them.
var Pages = templates.Types{
	"chase-stop":     stopPage{},
	"customer":       customerPage{},
	"customer-ended": endedPage{},
	"rule":           rulePage{},
	"rules":          rulesPage{},
	"verify":         verifyPage{},
}
