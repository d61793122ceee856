// Package server is Gaugebook over HTTP: pages for the engineer, the office
// and the customer, the JSON API and the health checks.
//
// Handlers are short: decode the request, call a use case of package app or
// the store, render. What a record means is decided in package records and
// below; no limit is computed here.
package server

import (
	"cmp"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/server/account"
	"gaugebook/server/app"
	"gaugebook/server/customer"
	"gaugebook/server/engineer"
	"gaugebook/server/imports"
	"gaugebook/server/metrics"
	"gaugebook/server/office"
	"gaugebook/server/owner"
	"gaugebook/server/signin"
	"gaugebook/server/web"
	"gaugebook/server/worker"
	"gaugebook/templates"
)

// Config is everything that a server needs. App, Workers and Log must be set.
type Config struct {
	App *app.App
	Log *slog.Logger
	// Workers run beside the server: New adds the one that takes lists in, and
	// the readiness check tells how each stands.
	Workers *worker.Group
	// TrustedProxies are the networks whose X-Forwarded-For is believed, besides
	// this machine itself.
	TrustedProxies []*net.IPNet
	// HSTS is how long browsers are told to use https only, where the base URL is
	// an https one; 0 tells them nothing.
	HSTS time.Duration
	// FreeSpace returns how many bytes may still be written beside the register;
	// nil where nobody can tell.
	FreeSpace func() (int64, error)
	// Version is shown by the health check.
	Version string
	// SignInPerMinute and VerifyPerMinute are how many attempts one address has;
	// zero means ten and thirty.
	SignInPerMinute, VerifyPerMinute int
	// RequestTime bounds the work for one request; zero means web.RequestTime.
	RequestTime time.Duration
	// LoopbackHooks allows webhooks to addresses of this machine.
	LoopbackHooks bool
}

// One-time codes are short: five wrong ones at once, then one in three minutes,
// gives a guesser one chance in seven hundred a day.
const (
	codesAtOnce = 5
	codesAgain  = 3 * time.Minute
)

// Server answers HTTP. Make it with New.
type Server struct {
	*web.Kit
	echo          *echo.Echo
	workers       *worker.Group
	requests      *metrics.Requests
	written       lastWrite
	freeSpace     func() (int64, error)
	lists         *imports.Importer
	accounts      *app.Accounts
	steps         *signin.Steps
	signIns       *web.Limiter
	codes         *web.Limiter // one-time codes, by person
	checks        *web.Limiter // of records, by number and code
	version       string
	secure        bool // reached over https
	hsts          time.Duration
	open          map[string]bool // the routes that anybody may post to
	loopbackHooks bool
	long          map[string]bool // the routes that set limits of their own
}

// New builds the server and its routes. It fails when the base URL is not
// one, or a template is broken.
func New(cfg Config) (*Server, error) {
	if err := CheckBaseURL(cfg.App.BaseURL); err != nil {
		return nil, err
	}
	secure := strings.HasPrefix(cfg.App.BaseURL, "https:")
	set, err := templates.Parse(web.Pages, account.Pages, engineer.Pages, office.Pages, owner.Pages, customer.Pages)
	if err != nil {
		return nil, err
	}
	accounts, err := app.NewAccounts(cfg.App)
	if err != nil {
		return nil, err
	}
	steps, err := signin.New(cfg.App)
	if err != nil {
		return nil, err
	}
	s := &Server{Kit: web.New(cfg.App, cfg.Log, set, secure), workers: cfg.Workers,
		requests: metrics.NewRequests(), freeSpace: cfg.FreeSpace,
		accounts: accounts, steps: steps, codes: web.NewSlowLimiter(codesAtOnce, codesAgain),
		lists:   imports.New(cfg.App.Store, cfg.Log, cfg.App.Today),
		signIns: web.NewLimiter(cfg.SignInPerMinute, 10), checks: web.NewLimiter(cfg.VerifyPerMinute, 30),
		version: cfg.Version, secure: secure, hsts: cfg.HSTS, open: map[string]bool{},
		loopbackHooks: cfg.LoopbackHooks,
		long:          map[string]bool{}}
	s.workers.Add(worker.Job{Name: "imports", Every: time.Minute, Wake: s.lists.Waiting(), Run: s.lists.Run})
	s.echo = newEcho(s, cfg.TrustedProxies, cmp.Or(cfg.RequestTime, web.RequestTime))
	s.addRoutes()
	return s, nil
}

// CheckBaseURL says what is wrong with the address under which a server is
// reached: plain http is for this machine only.
func CheckBaseURL(address string) error {
	base, err := url.Parse(address)
	if err != nil || base.Host == "" || base.Scheme != "https" && base.Scheme != "http" {
		return fmt.Errorf("base URL %q: give one such as https://records.example", address)
	}
	if base.Scheme == "http" && !loopback(base.Hostname()) {
		return fmt.Errorf("base URL %q: plain http is for this machine only; give an https address", address)
	}
	return nil
}

// Handler returns the whole server.
func (s *Server) Handler() http.Handler { return headAsGet(s.echo) }

// Requests counts what the server answers.
func (s *Server) Requests() *metrics.Requests { return s.requests }

// HTTPServer returns a server for the handler with the time limits that keep
// a slow client from holding a connection for ever.
func (s *Server) HTTPServer(addr string) *http.Server {
	return &http.Server{
		Addr: addr, Handler: s.Handler(), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second,
		WriteTimeout: 60 * time.Second, IdleTimeout: 2 * time.Minute,
		ErrorLog: slog.NewLogLogger(s.Log.Handler(), slog.LevelWarn),
	}
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback()
}
