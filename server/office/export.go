package office

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/web"
)

// exchangeTime bounds what moves a whole register: a view sent as a list, an
// uploaded list.
const exchangeTime = 15 * time.Minute

// takeTime lifts the connection's limits for one of those routes. Where the
// server under it has none, as in some tests, there is nothing to lift.
func takeTime(c echo.Context) (context.Context, context.CancelFunc) {
	rc, end := http.NewResponseController(c.Response()), time.Now().Add(exchangeTime)
	_ = rc.SetReadDeadline(end)
	_ = rc.SetWriteDeadline(end)
	return context.WithTimeout(c.Request().Context(), exchangeTime)
}

// Export sends all pages of a register view as one list, row by row.
func (re Register) Export(c echo.Context) error {
	v, today := c.QueryParams(), re.App.Today()
	as := v.Get("as")
	format, ok := app.ListFormats[as]
	if !ok {
		return &records.Error{Kind: records.Invalid, Field: "as", Label: "Format", Value: as, Want: "csv or xlsx"}
	}
	q, err := registerViewOf(v).query(today, re.App.Now())
	if err != nil {
		return err
	}
	ctx, cancel := takeTime(c)
	defer cancel()
	h := c.Response().Header()
	h.Set(echo.HeaderContentType, format.Type)
	h.Set(echo.HeaderContentDisposition, fmt.Sprintf(`attachment; filename="register-%s.%s"`, today, as))
	h.Set("Cache-Control", "private, no-store")
	// Until this much is written a failure can still be answered as one.
	out := bufio.NewWriterSize(c.Response(), 32<<10)
	err = re.App.WriteRegister(ctx, out, format, q)
	if err == nil {
		err = out.Flush()
	}
	if err != nil && c.Response().Committed {
		re.Log.ErrorContext(ctx, "register export broke off", "request", web.RequestID(c), "error", err)
		panic(http.ErrAbortHandler) // a list cut short must not look whole
	}
	if err != nil {
		h.Del(echo.HeaderContentDisposition)
	}
	return err
}
