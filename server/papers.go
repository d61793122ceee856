package server

import (
	"github.com/labstack/echo/v4"

	"gaugebook/server/web"
)

// Notice is the notice to leave on site.
func (s Records) Notice(c echo.Context) error {
	name, file, err := s.App.Notice(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return web.SendPDF(c, name, file)
}

// PDF prints the register as it is filtered.
func (s Register) PDF(c echo.Context) error {
	view, today := registerViewOf(c.QueryParams()), s.App.Today()
	q, err := view.query(today, s.App.Now())
	if err != nil {
		return err
	}
	file, err := s.App.PrintRegister(c.Request().Context(), q, view.words())
	if err != nil {
		return err
	}
	return web.SendPDF(c, "register-"+today.String()+".pdf", file)
}
