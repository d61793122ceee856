// Package server is Gaugebook over HTTP: pages for the engineer, the office
// and the customer, the JSON API, and the outbox that sends the messages.
//
// Handlers are short: decode the request, call the Book or the store, render.
// What a record means is decided in package records and below; no limit is
// computed here.
package server

import (
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/labstack/echo/v4"

	"gaugebook/records/store"
	"gaugebook/templates"
)

// Config is everything that a server needs. Store, Book and Log must be set.
type Config struct {
	Store *store.Store
	Book  *Book
	Log   *slog.Logger
	// TrustedProxies are the networks whose X-Forwarded-For is believed. None:
	// the address of a client is that of its connection.
	TrustedProxies []*net.IPNet
	// Wake, if set, is called when a message has been put into the outbox.
	Wake func()
	// Version is shown by the health check.
	Version string
	// SignInPerMinute and VerifyPerMinute are how many tries one address has;
	// zero means ten and thirty.
	SignInPerMinute, VerifyPerMinute int
	// LoopbackHooks allows webhooks to addresses of this machine.
	LoopbackHooks bool
}

// Server answers HTTP. Make it with New.
type Server struct {
	store         *store.Store
	book          *Book
	log           *slog.Logger
	echo          *echo.Echo
	pages         *templates.Set
	sessions      *scs.SessionManager
	passwords     passwordCheck
	tries         *triesLimit
	looks         *triesLimit
	wake          func()
	version       string
	loopbackHooks bool
	secure        bool // reached over https
	lists         *listDesk
	decoding      chan struct{} // holds one for each photo that is being decoded
}

// New builds the server and its routes. It fails when the base URL is not
// one, or a template is broken.
func New(cfg Config) (*Server, error) {
	base, err := url.Parse(cfg.Book.BaseURL)
	if err != nil || base.Host == "" || base.Scheme != "https" && base.Scheme != "http" {
		return nil, fmt.Errorf("base URL %q: give one such as https://records.example", cfg.Book.BaseURL)
	}
	if base.Scheme == "http" && !loopback(base.Hostname()) {
		return nil, fmt.Errorf("base URL %q: plain http is for this machine only; give an https address",
			cfg.Book.BaseURL)
	}
	set, err := templates.Parse(pages)
	if err != nil {
		return nil, err
	}
	s := &Server{
		store: cfg.Store, book: cfg.Book, log: cfg.Log, pages: set, wake: cfg.Wake, version: cfg.Version,
		loopbackHooks: cfg.LoopbackHooks,
		secure:        base.Scheme == "https",
		tries:         newTriesLimit(cfg.SignInPerMinute, 10), looks: newTriesLimit(cfg.VerifyPerMinute, 30),
	}
	s.lists = newListDesk(cfg.Store, cfg.Log, cfg.Book.Today)
	s.decoding = make(chan struct{}, photosAtOnce)
	if s.wake == nil {
		s.wake = func() {}
	}
	if s.passwords, err = newPasswordCheck(); err != nil {
		return nil, err
	}
	s.sessions = newSessions(cfg.Store, s.secure, cfg.Log)
	s.echo = newEcho(s, cfg.TrustedProxies)
	s.addRoutes()
	return s, nil
}

// Handler returns the whole server.
func (s *Server) Handler() http.Handler { return headAsGet(s.echo) }

// HTTPServer returns a server for the handler with the time limits that keep
// a slow client from holding a connection for ever.
func (s *Server) HTTPServer(addr string) *http.Server {
	return &http.Server{
		Addr: addr, Handler: s.Handler(), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second,
		WriteTimeout: 60 * time.Second, IdleTimeout: 2 * time.Minute,
		ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback()
}
