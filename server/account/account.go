// Package account has what everybody has who signs in: signing in, the
// password, what there is to do today, a calendar.
package account

import "gaugebook/templates"

// Pages is the data of each of them.
var Pages = templates.Types{
	"account":  ownPage{},
	"calendar": calendarPage{},
	"home":     homePage{},
	"join":     joinPage{},
	"sign-in":  signInPage{},
}
