// Package office has the office's pages: the register, what falls due,
// reminders, bookings, messages and lists on their way in.
package office

import "gaugebook/templates"

// Pages is the data of each of them.
var Pages = templates.Types{
	"booking":        bookingPage{},
	"chase":          chasePage{},
	"chase-customer": customerViewPage{},
	"chase-duties":   dutiesPage{},
	"chase-preview":  previewPage{},
	"import":         importPage{},
	"instruments":    instrumentsPage{},
	"letters":        lettersPage{},
	"message":        messagePage{},
	"messages":       messagesPage{},
	"overview":       overviewPage{},
	"register":       registerPage{},
	"week":           weekPage{},
}
