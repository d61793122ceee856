package server

import (
	"crypto/ed25519"
	"crypto/x509"
	"encoding/pem"
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
)

type verifyPage struct {
	base
	Number, Code string
	Verdict      *app.Verdict
	IssuedAt     string
}

// verifyForm asks for number and code; with both it leads to the answer.
func (s *Server) verifyForm(c echo.Context) error {
	number, code := strings.TrimSpace(c.QueryParam("number")), records.NormalCode(c.QueryParam("code"))
	if number != "" && code != "" && len(number) <= 20 && len(code) <= 20 {
		return see(c, "/v/"+url.PathEscape(number)+"/"+url.PathEscape(code))
	}
	return s.page(c, http.StatusOK, "verify", verifyPage{base: s.base(c, "Check a record"), Number: number, Code: code})
}

// verify answers whether number and code are of one record issued here. It
// gives away nothing about people or the address, and not whether the number
// alone exists.
func (s *Server) verify(c echo.Context) error {
	if !s.looks.allow("address " + c.RealIP()) {
		c.Response().Header().Set("Retry-After", "60")
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many checks from this address; wait a minute")
	}
	number, code := pathParam(c, "number"), records.NormalCode(pathParam(c, "code"))
	v, err := s.app.Verify(c.Request().Context(), number, code)
	if err != nil {
		return err
	}
	data := verifyPage{base: s.base(c, "Check a record"), Number: number, Code: code, Verdict: &v,
		IssuedAt: s.fullClock(v.IssuedAt)}
	data.Private = true
	status := http.StatusOK
	if !v.Belongs {
		status = http.StatusNotFound
	}
	return s.page(c, status, "verify", data)
}

// verifyKey serves the key that seals are checked with, as PEM, so that a
// record can be checked without this server.
func (s *Server) publicKey(c echo.Context) error {
	der, err := x509.MarshalPKIXPublicKey(s.app.Key.Public().(ed25519.PublicKey))
	if err != nil {
		return err
	}
	c.Response().Header().Set("Content-Disposition", `inline; filename="gaugebook-public-key.pem"`)
	return c.Blob(http.StatusOK, "text/plain; charset=utf-8",
		pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: der}))
}

// pathParam returns a part of the path without its escapes.
func pathParam(c echo.Context, name string) string {
	if v, err := url.PathUnescape(c.Param(name)); err == nil {
		return v
	}
	return c.Param(name)
}
