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

// Route is one way in: where, whom it lets in, and what answers.
type Route struct {
	Method, Path string
	Access       Access
	May          string // what it is for, as words after "may"; "" where no person opens it
	Handle       echo.HandlerFunc
	Long         bool // sets limits of its own to size and time
	Fresh        bool // wants a proof of a short time ago that it is still the person
	Setup        bool // also for an owner who has to set up a second step before anything else
}

// Get, Post and Patch make a route that lets nobody in until May says who may
// use it.
func Get(path string, handle echo.HandlerFunc) Route {
	return Route{Method: http.MethodGet, Path: path, Handle: handle}
}

func Post(path string, handle echo.HandlerFunc) Route {
	return Route{Method: http.MethodPost, Path: path, Handle: handle}
}

func Patch(path string, handle echo.HandlerFunc) Route {
	return Route{Method: http.MethodPatch, Path: path, Handle: handle}
}

// ByPrograms stands in place of words for what no person opens.
const ByPrograms = ""

// May says who may use routes and, as words that go on after "may", what for.
// The page "Who may do what" is made of these words, in the routes' order.
func May(who Access, words string, routes ...Route) []Route {
	for i := range routes {
		routes[i].Access, routes[i].May = who, words
	}
	return routes
}
