package web

import (
	"net/http"
	"net/url"
	"time"

	"github.com/labstack/echo/v4"
)

// SendPDF shows a PDF in the browser under a name to save it by.
func SendPDF(c echo.Context, name string, file []byte) error {
	h := c.Response().Header()
	h.Set(echo.HeaderContentDisposition, `inline; filename="`+name+`"`)
	h.Set("Cache-Control", "private, no-store")
	return c.Blob(http.StatusOK, "application/pdf", file)
}

// SendPhoto shows a picture. The browser keeps none: nothing of a record may be
// left in its cache when somebody has signed out.
func (k *Kit) SendPhoto(c echo.Context, sum string) error {
	c.Response().Header().Set("Cache-Control", "private, no-store")
	data, err := k.Store.Photos.Picture(sum)
	if err != nil {
		return err
	}
	return c.Blob(http.StatusOK, "image/jpeg", data)
}

// PrivateHeaders keep the address of the page, which is the key to it, out of
// search engines and of other sites' logs.
func PrivateHeaders(c echo.Context) {
	h := c.Response().Header()
	h.Set("X-Robots-Tag", "noindex, nofollow")
	h.Set("Referrer-Policy", "no-referrer")
}

// PathParam returns a part of the path without its escapes.
func PathParam(c echo.Context, name string) string {
	if v, err := url.PathUnescape(c.Param(name)); err == nil {
		return v
	}
	return c.Param(name)
}

// RequestTime bounds the work for one request; every query carries its
// context.
const RequestTime = 20 * time.Second

// RequestID is the reference under which the log names a request.
func RequestID(c echo.Context) string { return c.Response().Header().Get(echo.HeaderXRequestID) }
