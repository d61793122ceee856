package server

import (
	"gaugebook/records"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"
)

// stopPage asks a customer to confirm that they want no more reminders.
type stopPage struct {
	base
	Token, Firm, Email string
	Stopped            bool
}

// stop only shows the page: programs that look at the links of a message must
// not stop anything.
func (s *Server) stop(c echo.Context) error {
	ctx := c.Request().Context()
	privateHeaders(c)
	email, err := s.store.Chase.StopLink(ctx, c.Param("token"))
	if err != nil {
		return err
	}
	firm, err := s.store.Settings.Firm(ctx)
	if err != nil {
		return err
	}
	entry, err := s.store.Chase.Suppressed(ctx, email)
	if err != nil {
		return err
	}
	data := stopPage{base: s.base(c, "Reminders"), Token: c.Param("token"), Firm: firm.Name, Email: masked(email),
		Stopped: entry != nil}
	data.Private = true
	return s.page(c, http.StatusOK, "chase-stop", data)
}

func (s *Server) confirmStop(c echo.Context) error {
	ctx := c.Request().Context()
	privateHeaders(c)
	email, err := s.store.Chase.StopLink(ctx, c.Param("token"))
	if err != nil {
		return err
	}
	if err := s.store.Chase.StopReminders(ctx, records.Actor{Name: "customer"}, email,
		"by the link in a reminder"); err != nil {
		return err
	}
	return see(c, "/stop/"+c.Param("token"))
}

// masked shows enough of an address for its owner to know it by.
func masked(email string) string {
	name, domain, _ := strings.Cut(email, "@")
	if r := []rune(name); len(r) > 1 {
		name = string(r[:1]) + "…"
	}
	return name + "@" + domain
}
