package server

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"time"

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
	if err := s.writable(c); err != nil {
		out.Problems = append(out.Problems, err.Error())
	}
	if err := s.spacious(); err != nil {
		out.Problems = append(out.Problems, err.Error())
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

// writable writes to the register, as every save does: a full disk or a writer
// that does not come to its end is only seen so.
func (s *Server) writable(c echo.Context) error {
	s.written.Lock()
	defer s.written.Unlock()
	if time.Since(s.written.at) < writeWithin {
		return s.written.err
	}
	s.written.err = s.tryWriting(c)
	s.written.at = time.Now()
	return s.written.err
}

// leastSpace is what a day of records and photos may need: below it somebody has
// to make room. The write above may still succeed on a full disk, where a larger
// save does not.
const leastSpace = 64 << 20

func (s *Server) spacious() error {
	if s.freeSpace == nil {
		return nil
	}
	free, err := s.freeSpace()
	if err != nil {
		return fmt.Errorf("the free space on the disk is not known: %w", err)
	}
	if free < leastSpace {
		return fmt.Errorf("the disk of the register is nearly full: %.1f MB are left", float64(free)/1e6)
	}
	return nil
}

// lastWrite is when the check wrote last, and what came of it: whoever asks
// more often, and anybody may, does not have more written.
type lastWrite struct {
	sync.Mutex
	at  time.Time
	err error
}

func (s *Server) tryWriting(c echo.Context) error {
	ctx, cancel := context.WithTimeout(c.Request().Context(), writeWithin)
	defer cancel()
	err := s.Store.Writable(ctx)
	if err == nil {
		return nil
	}
	s.Log.ErrorContext(ctx, "readiness", "error", err)
	if errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("the database could not be written to within %s", writeWithin)
	}
	return errors.New("the database cannot be written to")
}

// writeWithin is how long a save may wait for the one before it, and how long an
// answer of the check holds.
const writeWithin = 5 * time.Second
