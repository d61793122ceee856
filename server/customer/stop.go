package customer

import (
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// Stop is the page on which a customer stops reminders.
type Stop struct{ *web.Kit }

// stopPage asks a customer to confirm that they want no more reminders.
type stopPage struct {
	web.Base
	Token, Firm, Email string
	Stopped            bool
}

// Show only shows the page: programs that look at the links of a message must
// not stop anything.
func (s Stop) Show(c echo.Context) error {
	ctx := c.Request().Context()
	web.PrivateHeaders(c)
	email, err := s.Store.Chase.StopLink(ctx, c.Param("token"))
	if err != nil {
		return err
	}
	firm, err := s.Store.Settings.Firm(ctx)
	if err != nil {
		return err
	}
	entry, err := s.Store.Chase.Suppressed(ctx, email)
	if err != nil {
		return err
	}
	data := stopPage{Base: s.Base(c, "Reminders"), Token: c.Param("token"), Firm: firm.Name, Email: masked(email),
		Stopped: entry != nil}
	data.Private = true
	return s.Page(c, web.OK, "chase-stop", data)
}

func (s Stop) Confirm(c echo.Context) error {
	ctx := c.Request().Context()
	web.PrivateHeaders(c)
	email, err := s.Store.Chase.StopLink(ctx, c.Param("token"))
	if err != nil {
		return err
	}
	if err := s.Store.Chase.StopReminders(ctx, records.Actor{Name: "customer"}, email,
		"by the link in a reminder"); err != nil {
		return err
	}
	return web.Redirect(c, "/stop/"+c.Param("token"))
}

// masked shows enough of an address for its owner to know it by.
func masked(email string) string {
	name, domain, _ := strings.Cut(email, "@")
	if r := []rune(name); len(r) > 1 {
		name = string(r[:1]) + "…"
	}
	return name + "@" + domain
}
