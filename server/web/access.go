package web

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// Access says who may use a route.
type Access string

// The kinds of access. An owner may do what the office and engineers may.
const (
	Open      Access = "open"      // anybody, without a session
	Everyone  Access = "everyone"  // anybody, with a session if there is one
	SignedIn  Access = "signed in" // whoever is signed in
	Engineers Access = "engineers" // whoever takes readings
	Office    Access = "office"    // the office
	Owners    Access = "owners"
)

// Allows reports whether a signed-in person has the access.
func (a Access) Allows(r records.Role) bool {
	switch a {
	case Engineers:
		return r.TakesReadings()
	case Office:
		return r.InOffice()
	case Owners:
		return r == records.RoleOwner
	}
	return a == Open || a == Everyone || a == SignedIn
}

// Guard puts the session and the check before a handler.
func (k *Kit) Guard(a Access, next echo.HandlerFunc) echo.HandlerFunc {
	if a == Open {
		return next
	}
	return k.session(func(c echo.Context) error {
		p := Person(c)
		switch {
		case a == Everyone:
		case p.ID == "":
			return k.askSignIn(c)
		case !a.Allows(p.Role):
			return records.Fail(records.Forbidden, "this page is for "+
				map[Access]string{Engineers: "engineers", Office: "the office", Owners: "the owner"}[a])
		}
		return next(c)
	})
}

// askSignIn sends a person to the sign-in page and back. A request that
// script made is told so instead, and keeps what it has.
func (k *Kit) askSignIn(c echo.Context) error {
	r := c.Request()
	if r.Header.Get(PartHeader) != "" {
		return echo.NewHTTPError(http.StatusUnauthorized, "you are not signed in")
	}
	next := "/"
	if r.Method == http.MethodGet {
		next = r.URL.RequestURI()
	}
	return c.Redirect(http.StatusSeeOther, "/sign-in?next="+url.QueryEscape(next))
}

// Route is one line of the table: who may use it is said on the line.
type Route struct {
	Method, Path string
	Access       Access
	Handle       echo.HandlerFunc
	Long         bool // sets limits of its own to size and time
	Fresh        bool // wants the password of a short time ago
}
