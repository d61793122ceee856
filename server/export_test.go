package server

import (
	"gaugebook/records"
	"slices"

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

// RecordLetter is the customer's message, for tests of its words.
var RecordLetter = recordLetter

// EchoOf is what holds the routes.
func EchoOf(s *Server) *echo.Echo { return s.echo }

// OrientationOf is the reader of Exif data, for fuzzing.
var OrientationOf = orientationOf

// Pages is the data of each page.
var Pages = pages

// WordsOf is what the page of roles says of a route; blank for one that no
// person opens.
func WordsOf(route string) string {
	for _, a := range abilities {
		if slices.Contains(a.routes, route) {
			return a.words
		}
	}
	return ""
}
