package server

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/exchange"
	"gaugebook/records/store"
)

// exchangeTime bounds what moves a whole register: a view sent as a list, an
// uploaded list.
const exchangeTime = 15 * time.Minute

// isExchange tells the routes that are given more room and time than others.
func isExchange(c echo.Context) bool {
	return c.Path() == "/register/export" || c.Path() == "/import" && c.Request().Method == http.MethodPost
}

// takeTime lifts the connection's limits for one of those routes. Where the
// server under it has none, as in some tests, there is nothing to lift.
func takeTime(c echo.Context) (context.Context, context.CancelFunc) {
	rc, end := http.NewResponseController(c.Response()), time.Now().Add(exchangeTime)
	_ = rc.SetReadDeadline(end)
	_ = rc.SetWriteDeadline(end)
	return context.WithTimeout(c.Request().Context(), exchangeTime)
}

// listFormat is a form that a register view can be had in.
type listFormat struct {
	kind string
	open func(io.Writer) (exchange.LineWriter, error)
}

var listFormats = map[string]listFormat{
	"csv":  {"text/csv; charset=utf-8", exchange.NewCSV},
	"xlsx": {"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", exchange.NewWorkbook},
}

// exportRegister sends all pages of a register view as one list, row by row.
func (s *Server) exportRegister(c echo.Context) error {
	v, today := c.QueryParams(), s.book.Today()
	as := v.Get("as")
	format, ok := listFormats[as]
	if !ok {
		return &records.Error{Kind: records.Invalid, Field: "as", Label: "Format", Value: as, Want: "csv or xlsx"}
	}
	q, err := registerViewOf(v).query(today, s.book.Now())
	if err != nil {
		return err
	}
	ctx, cancel := takeTime(c)
	defer cancel()
	h := c.Response().Header()
	h.Set(echo.HeaderContentType, format.kind)
	h.Set(echo.HeaderContentDisposition, fmt.Sprintf(`attachment; filename="register-%s.%s"`, today, as))
	h.Set("Cache-Control", "private, no-store")
	// Until this much is written a failure can still be answered as one.
	out := bufio.NewWriterSize(c.Response(), 32<<10)
	err = s.writeView(ctx, out, format, q)
	if err == nil {
		err = out.Flush()
	}
	if err != nil && c.Response().Committed {
		s.log.ErrorContext(ctx, "register export broke off", "request", requestID(c), "error", err)
		panic(http.ErrAbortHandler) // a list cut short must not look whole
	}
	if err != nil {
		h.Del(echo.HeaderContentDisposition)
	}
	return err
}

func (s *Server) writeView(ctx context.Context, out io.Writer, format listFormat, q store.Query) error {
	list, err := format.open(out)
	if err != nil {
		return err
	}
	q.After = "" // a list holds every page
	err = s.store.Bulk.EachInView(ctx, q, func(r store.ViewRow) error {
		l := exchange.Line{Property: r.Property, Contact: r.Contact, Values: r.Values, Number: r.Number,
			WorkDate: r.WorkDate, Standing: r.Standing}
		if r.Duty != nil {
			l.Duty, l.Due, l.State = r.Duty.Kind, r.Duty.Due, r.Duty.StateOn(q.Today)
		}
		return list.Write(l)
	})
	if err != nil {
		return err
	}
	return list.Close()
}
