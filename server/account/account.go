// Package account has what everybody has who signs in: signing in, the
// password and what an account asks for besides it, sessions, what there is to do
// today, a calendar.
package account

import "gaugebook/templates"

// Pages is the data of each of them.
var Pages = templates.Types{
	"account":       ownPage{},
	"calendar":      calendarPage{},
	"confirm":       confirmPage{},
	"home":          homePage{},
	"join":          joinPage{},
	"recovery":      recoveryPage{},
	"second-codes":  codesPage{},
	"second-set-up": setUpPage{},
	"sign-in":       signInPage{},
	"sign-in-code":  secondPage{},
}
