package server

import (
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"

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
		secure.HSTSMaxAge = 365 * 24 * 3600
	}
	e.Use(
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
		sameOrigin(),
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

// clientAddress believes the connection, or the given proxies alone: anybody
// can send a header.
func clientAddress(proxies []*net.IPNet) echo.IPExtractor {
	if len(proxies) == 0 {
		return echo.ExtractIPDirect()
	}
	options := []echo.TrustOption{echo.TrustLoopback(false), echo.TrustLinkLocal(false), echo.TrustPrivateNet(false)}
	for _, p := range proxies {
		options = append(options, echo.TrustIPRange(p))
	}
	return echo.ExtractIPFromXFFHeader(options...)
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
				slog.String("request", web.RequestID(c)))
			return nil
		},
	})
}
