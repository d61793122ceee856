package server

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/templates"
)

// static serves the embedded files. Under their hash they never change;
// without it they are asked for again each time.
func (s *Server) static(c echo.Context) error {
	name := c.Param("*")
	cache := "no-cache"
	if rest, ok := strings.CutPrefix(name, templates.StaticVersion+"/"); ok {
		name, cache = rest, "public, max-age=31536000, immutable"
	}
	return s.file(c, name, cache)
}

func (s *Server) favicon(c echo.Context) error {
	return s.file(c, "favicon.svg", "public, max-age=86400")
}

func (s *Server) file(c echo.Context, name, cache string) error {
	data, kind, err := templates.File(name)
	if err != nil {
		return echo.ErrNotFound
	}
	c.Response().Header().Set("Cache-Control", cache)
	return c.Blob(http.StatusOK, kind, data)
}
