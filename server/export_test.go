package server

import (
	"gaugebook/records"

	"github.com/labstack/echo/v4"
)

// Route is a line of the table of pages, for tests from outside.
type Route struct {
	Method, Path string
	Open         bool // needs nobody to be signed in
	Allows       func(records.Role) bool
}

// RouteTable lists the pages.
func RouteTable(s *Server) []Route {
	var out []Route
	for _, r := range s.routes() {
		out = append(out, Route{r.method, r.path, r.who == open || r.who == visitor, r.who.allows})
	}
	return out
}

// PageNames lists the templates of pages.
func PageNames(s *Server) []string { return s.pages.Names() }

// APITable lists the calls of the API.
func APITable(s *Server) []Route {
	var out []Route
	for _, r := range s.apiTable() {
		out = append(out, Route{r.method, r.path, r.who == open, r.who.allows})
	}
	return out
}

// EchoOf is what holds the routes.
func EchoOf(s *Server) *echo.Echo { return s.echo }

// Pages is the data of each page.
var Pages = pages
