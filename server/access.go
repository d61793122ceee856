package server

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// access says who may use a route.
type access string

// The kinds of access. An owner may do what the office and engineers may.
const (
	open      access = "open"      // anybody, without a session
	visitor   access = "visitor"   // anybody, with a session if there is one
	member    access = "member"    // whoever is signed in
	engineers access = "engineers" // whoever takes readings
	desk      access = "desk"      // the office
	owners    access = "owners"
)

// allows reports whether a signed-in person has the access.
func (a access) allows(r records.Role) bool {
	switch a {
	case engineers:
		return r.TakesReadings()
	case desk:
		return r.InOffice()
	case owners:
		return r == records.RoleOwner
	}
	return a == open || a == visitor || a == member
}

// guard puts the session and the check before a handler.
func (s *Server) guard(a access, next echo.HandlerFunc) echo.HandlerFunc {
	if a == open {
		return next
	}
	return s.session(func(c echo.Context) error {
		p := person(c)
		switch {
		case a == visitor:
		case p.ID == "":
			return s.askSignIn(c)
		case !a.allows(p.Role):
			return records.Fail(records.Forbidden, "this page is for "+
				map[access]string{engineers: "engineers", desk: "the office", owners: "the owner"}[a])
		}
		return next(c)
	})
}

// askSignIn sends a person to the sign-in page and back. A request that
// script made is told so instead, and keeps what it has.
func (s *Server) askSignIn(c echo.Context) error {
	r := c.Request()
	if r.Header.Get(partHeader) != "" {
		return echo.NewHTTPError(http.StatusUnauthorized, "you are not signed in")
	}
	next := "/"
	if r.Method == http.MethodGet {
		next = r.URL.RequestURI()
	}
	return c.Redirect(http.StatusSeeOther, "/sign-in?next="+url.QueryEscape(next))
}
