package server

import (
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"

	"gaugebook/records/store"
	"gaugebook/server/web"
)

// largestBody is more than a record's JSON can be.
const largestBody = "2M"

// contentPolicy lets a page load from this server only. There is no inline
// script or style to allow.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// newEcho returns an Echo with the middleware that every request passes, in
// this order.
func newEcho(s *Server, proxies []*net.IPNet, limit time.Duration) *echo.Echo {
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.HTTPErrorHandler = s.Failed
	e.IPExtractor = clientAddress(proxies)
	secure := middleware.SecureConfig{
		ContentTypeNosniff: "nosniff", XFrameOptions: "DENY", ContentSecurityPolicy: contentPolicy,
		ReferrerPolicy: "same-origin",
	}
	if s.secure {
		secure.HSTSMaxAge, secure.HSTSExcludeSubdomains = int(s.hsts/time.Second), true
	}
	e.Use(
		ownRequestID,
		middleware.RequestID(),
		s.logged(),
		middleware.RecoverWithConfig(middleware.RecoverConfig{LogErrorFunc: func(c echo.Context, err error,
			stack []byte) error {
			s.Log.ErrorContext(c.Request().Context(), "panic", "request", web.RequestID(c), "error", err, "stack",
				string(stack))
			return fmt.Errorf("panic: %w", err)
		}}),
		middleware.SecureWithConfig(secure),
		middleware.BodyLimitWithConfig(middleware.BodyLimitConfig{Limit: largestBody, Skipper: s.takesLong}),
		middleware.ContextTimeoutWithConfig(middleware.ContextTimeoutConfig{Timeout: limit,
			Skipper: s.takesLong}),
		s.strangeProxy(proxies),
		sameOrigin(),
		s.readForm,
		fromWhere,
	)
	return e
}

// takesLong tells the routes that set limits of their own.
func (s *Server) takesLong(c echo.Context) bool { return s.long[c.Request().Method+" "+c.Path()] }

// headAsGet has a HEAD request answered as a GET. What is inside sees a copy
// of the request; the server keeps the original and sends no body.
func headAsGet(inside http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodHead {
			r = r.WithContext(r.Context())
			r.Method = http.MethodGet
		}
		inside.ServeHTTP(w, r)
	})
}

// clientAddress believes the connection, a proxy on this machine, and the given
// ones: anybody else can send a header.
func clientAddress(proxies []*net.IPNet) echo.IPExtractor {
	options := []echo.TrustOption{echo.TrustLoopback(true), echo.TrustLinkLocal(false), echo.TrustPrivateNet(false)}
	for _, p := range proxies {
		options = append(options, echo.TrustIPRange(p))
	}
	return echo.ExtractIPFromXFFHeader(options...)
}

// contextCaller holds the id that a caller gave to a request.
const contextCaller = "caller's id"

// ownRequestID has every request named by us. The name that a caller gives it is
// logged beside ours, if it can be one.
func ownRequestID(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Request().Header
		id := h.Get(echo.HeaderXRequestID)
		if h.Del(echo.HeaderXRequestID); len(id) <= 64 && !strings.ContainsFunc(id, func(r rune) bool {
			return r <= ' ' || r >= unicode.MaxASCII
		}) {
			c.Set(contextCaller, id)
		}
		return next(c)
	}
}

// largestOpenForm is more than any form has that is open to everybody.
const largestOpenForm = 64 << 10

// readForm reads what was posted before anything is done with it: what cannot be
// read is answered as the caller's mistake. Routes that set limits of their own
// read for themselves.
func (s *Server) readForm(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		r := c.Request()
		kind, _, _ := strings.Cut(r.Header.Get(echo.HeaderContentType), ";")
		if r.Method != http.MethodPost || s.takesLong(c) {
			return next(c)
		}
		if s.open[r.Method+" "+c.Path()] {
			r.Body = http.MaxBytesReader(c.Response(), r.Body, largestOpenForm)
		}
		var err error
		switch strings.ToLower(strings.TrimSpace(kind)) {
		case echo.MIMEApplicationForm:
			err = r.ParseForm()
		case echo.MIMEMultipartForm:
			err = r.ParseMultipartForm(formMemory)
		}
		if err != nil {
			return web.Malformed(err)
		}
		return next(c)
	}
}

// formMemory is as much as a form can be: nothing is put on disk.
const formMemory = 2 << 20

// strangeProxy says loudly, once, that requests come through a proxy which is not
// believed: all clients behind it then share one limit.
func (s *Server) strangeProxy(proxies []*net.IPNet) echo.MiddlewareFunc {
	var once sync.Once
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			ip := net.ParseIP(echo.ExtractIPDirect()(c.Request()))
			if c.Request().Header.Get("X-Forwarded-For") != "" && ip != nil && ip.IsPrivate() &&
				!slices.ContainsFunc(proxies, func(n *net.IPNet) bool { return n.Contains(ip) }) {
				once.Do(func() {
					s.Log.Warn("requests come through a proxy that is not believed, so all who use it share one "+
						"limit: name it with --proxies", "proxy", ip.String())
				})
			}
			return next(c)
		}
	}
}

// sameOrigin refuses what another site makes a browser send. The customer's
// pages send no referrer, so an older browser gives no origin there; their
// forms are proved by the token in the address, not by a cookie, and may pass.
func sameOrigin() echo.MiddlewareFunc {
	protect := http.NewCrossOriginProtection()
	protect.AddInsecureBypassPattern("POST /r/{token}/visit")
	protect.AddInsecureBypassPattern("POST /r/{token}/contact")
	protect.AddInsecureBypassPattern("POST /stop/{token}")
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if err := protect.Check(c.Request()); err != nil {
				return echo.NewHTTPError(http.StatusForbidden,
					"this was sent from another site; open the page here and send it again").SetInternal(err)
			}
			return next(c)
		}
	}
}

func callerOf(c echo.Context) string {
	id, _ := c.Get(contextCaller).(string)
	return id
}

// logged writes one line a request. Addresses that carry a secret are cut.
func (s *Server) logged() echo.MiddlewareFunc {
	return middleware.RequestLoggerWithConfig(middleware.RequestLoggerConfig{
		HandleError: true, LogStatus: true, LogMethod: true, LogLatency: true, LogRemoteIP: true, LogRoutePath: true,
		LogError: true,
		LogValuesFunc: func(c echo.Context, v middleware.RequestLoggerValues) error {
			level := slog.LevelInfo
			if v.Status >= http.StatusInternalServerError {
				level = slog.LevelError
			}
			s.Log.LogAttrs(c.Request().Context(), level, "request", slog.String("method", v.Method),
				slog.String("route", v.RoutePath),
				slog.Int("status", v.Status), slog.Duration("took", v.Latency), slog.String("from", v.RemoteIP),
				slog.String("request", web.RequestID(c)), slog.String("caller", callerOf(c)))
			return nil
		},
	})
}

// fromWhere has what a request changes logged with the address that it came
// from.
func fromWhere(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		r := c.Request()
		c.SetRequest(r.WithContext(store.WithOrigin(r.Context(), store.Origin{Address: c.RealIP()})))
		return next(c)
	}
}
