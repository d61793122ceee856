package server

import (
	"github.com/labstack/echo/v4"
)

// notice is the notice to leave on site.
func (s *Server) notice(c echo.Context) error {
	name, file, err := s.app.Notice(c.Request().Context(), c.Param("id"))
	if err != nil {
		return err
	}
	return sendPDF(c, name, file)
}

// registerPDF prints the register as it is filtered.
func (s *Server) registerPDF(c echo.Context) error {
	view, today := registerViewOf(c.QueryParams()), s.app.Today()
	q, err := view.query(today, s.app.Now())
	if err != nil {
		return err
	}
	file, err := s.app.PrintRegister(c.Request().Context(), q, view.words())
	if err != nil {
		return err
	}
	return sendPDF(c, "register-"+today.String()+".pdf", file)
}
