package office

import (
	"github.com/labstack/echo/v4"

	"gaugebook/server/web"
)

// Requests is answering what customers ask for from their page.
type Requests struct{ *web.Kit }

func (r Requests) HandleVisit(c echo.Context) error {
	err := r.Store.Requests.HandleVisit(c.Request().Context(), web.ActorOf(c), c.Param("id"))
	return r.Done(c, err, "Marked as answered.", "/")
}

func (r Requests) ConfirmContact(c echo.Context) error {
	err := r.Store.Requests.ConfirmContact(c.Request().Context(), web.ActorOf(c), c.Param("id"))
	return r.Done(c, err, "Changed. Messages will use the new details from now on.", "/")
}

func (r Requests) RefuseContact(c echo.Context) error {
	err := r.Store.Requests.RefuseContact(c.Request().Context(), web.ActorOf(c), c.Param("id"))
	return r.Done(c, err, "Refused. Nothing was changed.", "/")
}
