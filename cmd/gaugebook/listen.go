package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"gaugebook/records/store"
	"gaugebook/server/backup"
	"gaugebook/server/https"
	"gaugebook/server/metrics"
	"gaugebook/server/worker"
)

// endpoint is a server on the address that it answers.
type endpoint struct {
	server   *http.Server
	listener net.Listener
}

func (e endpoint) serve() error {
	if e.server.TLSConfig != nil {
		return e.server.ServeTLS(e.listener, "", "")
	}
	return e.server.Serve(e.listener)
}

// serveAll serves until ctx ends or one of the servers fails, then gives running
// requests the grace to end.
func serveAll(ctx context.Context, all []endpoint, grace time.Duration) (err error) {
	served := make(chan error, len(all))
	for _, e := range all {
		go func() { served <- e.serve() }()
	}
	select {
	case err = <-served:
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), grace)
	defer cancel()
	for _, e := range all {
		err = errors.Join(err, e.server.Shutdown(last))
	}
	return err
}

// closeAll gives up the addresses of servers that do not come to serve.
func closeAll(all []endpoint) error {
	var errs []error
	for _, e := range all {
		errs = append(errs, e.listener.Close())
	}
	return errors.Join(errs...)
}

// metricsEndpoint answers collectors at an address of their own: what it tells
// is of no customer, but nobody else's business.
func (s settings) metricsEndpoint(st *store.Store, workers *worker.Group, requests *metrics.Requests,
	log *slog.Logger) (endpoint, error) {
	listener, err := net.Listen("tcp", s.Metrics)
	if err != nil {
		return endpoint{}, fmt.Errorf("--metrics-listen %s: %w", s.Metrics, err)
	}
	b := builtFrom()
	source := &metrics.Source{Store: st, Workers: workers, Requests: requests, Log: log, Now: time.Now,
		Started: time.Now(), Version: b.Version, Commit: b.Commit, Go: b.Go}
	if s.Dir != "" {
		source.LastBackup = func() (time.Time, error) { return backup.Newest(s.Dir) }
	}
	return endpoint{smallServer(source, log), listener}, nil
}

// redirectEndpoint sends plain http on to the base URL.
func (s settings) redirectEndpoint(certs *https.Certificates, base string, log *slog.Logger) (endpoint, error) {
	handler, err := certs.Redirects(base)
	if err != nil {
		return endpoint{}, err
	}
	listener, err := net.Listen("tcp", s.Redirect)
	if err != nil {
		return endpoint{}, fmt.Errorf("--redirect-listen %s: %w", s.Redirect, err)
	}
	return endpoint{smallServer(handler, log), listener}, nil
}

// smallServer is for requests without a body.
func smallServer(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second,
		WriteTimeout: 20 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10,
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
}

// besidePages adds the servers that are asked for beside that of the pages.
func (s settings) besidePages(pages endpoint, certs *https.Certificates, base string, st *store.Store,
	workers *worker.Group, requests *metrics.Requests, log *slog.Logger) ([]endpoint, error) {
	all := []endpoint{pages}
	add := func(one endpoint, err error) error {
		if err != nil {
			return errors.Join(err, closeAll(all))
		}
		all = append(all, one)
		return nil
	}
	if certs != nil {
		pages.server.TLSConfig = certs.TLS()
		workers.Add(worker.Job{Name: "certificates", Every: time.Hour, Run: certs.Run})
	}
	if s.Redirect != "" {
		if err := add(s.redirectEndpoint(certs, base, log)); err != nil {
			return nil, err
		}
	}
	if s.Metrics != "" {
		if err := add(s.metricsEndpoint(st, workers, requests, log)); err != nil {
			return nil, err
		}
	}
	return all, nil
}
