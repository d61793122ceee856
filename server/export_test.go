package server

import (
	"github.com/labstack/echo/v4"

	"gaugebook/server/account"
	"gaugebook/server/customer"
	"gaugebook/server/engineer"
	"gaugebook/server/office"
	"gaugebook/server/owner"
	"gaugebook/server/web"
	"gaugebook/templates"
)

// RouteTable lists the pages.
func RouteTable(s *Server) []web.Route { return s.routes() }

// AllRoutes lists the pages and the calls of the API.
func AllRoutes(s *Server) []web.Route { return s.allRoutes() }

// EchoOf is what holds the routes.
func EchoOf(s *Server) *echo.Echo { return s.echo }

// Pages lists the data of each page.
var Pages = []templates.Types{web.Pages, account.Pages, engineer.Pages, office.Pages, owner.Pages,
	customer.Pages}
