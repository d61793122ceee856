package office

import (
	"github.com/labstack/echo/v4"

	"gaugebook/server/web"
)

// Requests is answering what customers ask for from their page.
type Requests struct{ *web.Kit }

func (r Requests) HandleVisit(c echo.Context) error {
	if err := r.Store.Requests.HandleVisit(c.Request().Context(), web.ActorOf(c), c.Param("id")); err != nil {
		return err
	}
	r.Flash(c, "Marked as answered.")
	return web.Redirect(c, "/")
}

func (r Requests) ConfirmContact(c echo.Context) error {
	if err := r.Store.Requests.ConfirmContact(c.Request().Context(), web.ActorOf(c), c.Param("id")); err != nil {
		return err
	}
	r.Flash(c, "Changed. Messages will use the new details from now on.")
	return web.Redirect(c, "/")
}

func (r Requests) RefuseContact(c echo.Context) error {
	if err := r.Store.Requests.RefuseContact(c.Request().Context(), web.ActorOf(c), c.Param("id")); err != nil {
		return err
	}
	r.Flash(c, "Refused. Nothing was changed.")
	return web.Redirect(c, "/")
}
