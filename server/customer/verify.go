package customer

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
	"gaugebook/server/web"
)

// Verify is checking whether a record is genuine.
type Verify struct {
	*web.Kit
	Checks *web.Limiter // by address
}

type verifyPage struct {
	web.Base
	Number, Code string
	Verdict      *app.Verdict
	IssuedAt     string
}

// Form asks for number and code; with both it leads to the answer.
func (ve Verify) Form(c echo.Context) error {
	number, code := strings.TrimSpace(c.QueryParam("number")), records.NormalCode(c.QueryParam("code"))
	if number != "" && code != "" && len(number) <= 20 && len(code) <= 20 {
		return web.Redirect(c, "/v/"+url.PathEscape(number)+"/"+url.PathEscape(code))
	}
	return ve.Page(c, http.StatusOK, "verify", verifyPage{Base: ve.Base(c, "Check a record"), Number: number,
		Code: code})
}

// Show answers whether number and code are of one record issued here. It
// gives away nothing about people or the address, and not whether the number
// alone exists.
func (ve Verify) Show(c echo.Context) error {
	if !ve.Checks.Allow(web.AddressOf(c)) {
		c.Response().Header().Set("Retry-After", "60")
		return echo.NewHTTPError(http.StatusTooManyRequests, "too many checks from this address; wait a minute")
	}
	number, code := web.PathParam(c, "number"), records.NormalCode(web.PathParam(c, "code"))
	v, err := ve.App.Verify(c.Request().Context(), number, code)
	if err != nil {
		return err
	}
	data := verifyPage{Base: ve.Base(c, "Check a record"), Number: number, Code: code, Verdict: &v,
		IssuedAt: ve.FullClock(v.IssuedAt)}
	data.Private = true
	status := http.StatusOK
	if !v.Belongs {
		status = http.StatusNotFound
	}
	return ve.Page(c, status, "verify", data)
}

// verifyKey serves the key that seals are checked with, as PEM, so that a
// record can be checked without this server.
func (ve Verify) Key(c echo.Context) error {
	der, err := x509.MarshalPKIXPublicKey(ve.App.Key.Public().(ed25519.PublicKey))
	if err != nil {
		return err
	}
	c.Response().Header().Set("Content-Disposition", `inline; filename="gaugebook-public-key.pem"`)
	return c.Blob(http.StatusOK, "text/plain; charset=utf-8",
		pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: der}))
}
