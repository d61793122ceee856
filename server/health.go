package server

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/server/web"
	"gaugebook/server/worker"
)

// health says that the process answers and can read its database. Whoever
// watches it restarts the process when it does not.
func (s *Server) health(c echo.Context) error {
	c.Response().Header().Set("Cache-Control", "no-store")
	if !s.readable(c) {
		return c.JSON(http.StatusServiceUnavailable, map[string]string{"status": noDatabase})
	}
	return c.JSON(http.StatusOK, map[string]string{"status": "ok", "version": s.version})
}

const noDatabase = "database not readable"

// readiness is the answer of the readiness check.
type readiness struct {
	Status   string          `json:"status"` // ready or not ready
	Version  string          `json:"version"`
	Problems []string        `json:"problems,omitempty"`
	Workers  []worker.Status `json:"workers,omitempty"`
}

// ready says whether all of the server does its work: a person has to look when
// it does not, since restarting may not help. What is wrong is for the owner and
// the log: an error may name files and servers that are nobody else's business.
func (s *Server) ready(c echo.Context) error {
	out := readiness{Status: "ready", Version: s.version, Workers: s.workers.Status()}
	if !s.readable(c) {
		out.Problems = append(out.Problems, noDatabase)
	}
	out.Problems = append(out.Problems, worker.Problems(out.Workers)...)
	status := http.StatusOK
	if len(out.Problems) > 0 {
		out.Status, status = "not ready", http.StatusServiceUnavailable
	}
	if !web.Owners.Allows(web.Person(c).Role) {
		out.Problems, out.Workers = nil, nil
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.JSON(status, out)
}

func (s *Server) readable(c echo.Context) bool {
	_, err := s.Store.Settings.Firm(c.Request().Context())
	if err != nil {
		s.Log.ErrorContext(c.Request().Context(), "health", "error", err)
	}
	return err == nil
}
