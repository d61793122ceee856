package main

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"time"
	_ "time/tzdata" // the firm's zone must be known on a machine without zone files

	"filippo.io/age"

	"gaugebook/records/store"
	"gaugebook/server"
	"gaugebook/server/app"
	"gaugebook/server/backup"
	"gaugebook/server/worker"
)

type serveCommand struct{ settings }

func (b backups) job(h home, st *store.Store, key ed25519.PrivateKey, to []age.Recipient) worker.Job {
	k := &backup.Keeper{Store: st, Path: h.database(), Dir: b.Dir, Key: key, Recipients: to, Every: b.Every,
		Keep: b.Keep, Now: time.Now}
	return worker.Job{Name: "backups", Every: time.Minute, Run: k.Run}
}

func (c *serveCommand) Run(e *env) (err error) {
	set, err := c.read()
	if err != nil {
		return err
	}
	release, err := c.lock()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	key, err := c.key(c.fresh())
	if err != nil {
		return err
	}
	log := slog.New(slog.NewJSONHandler(e.stderr, nil))
	st, err := c.openLocked(e.ctx, store.Options{Now: time.Now, Log: log})
	if err != nil {
		return err
	}
	defer st.Close()
	if key, err = c.fittingKey(e.ctx, st, key); err != nil {
		return err
	}
	if err := st.FreeKeys(e.ctx); err != nil {
		return err
	}

	listener, err := net.Listen("tcp", c.Listen)
	if err != nil {
		return fmt.Errorf("--listen %s: %w", c.Listen, err)
	}
	base := c.BaseURL
	switch {
	case base == "" && set.certs != nil:
		base = "https://" + c.Hosts[0]
	case base == "":
		base = baseOf(listener.Addr().String())
	}
	cases := &app.App{Store: st, Key: key, BaseURL: base, Now: time.Now, Zone: set.zone}
	mails := worker.NewMailSender(cases, set.sender, time.Now, log)
	cases.MailWaiting = mails.Wake
	workers := worker.NewGroup(log)
	srv, err := server.New(server.Config{App: cases, Log: log, Workers: workers, TrustedProxies: set.proxies,
		Version: builtFrom().Commit, LoopbackHooks: c.Loopback, HSTS: c.HSTS,
		FreeSpace: func() (int64, error) { return freeBytes(c.Data) }})
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	endpoints, err := c.besidePages(endpoint{srv.HTTPServer(c.Listen), listener}, set.certs, base, st, workers,
		srv.Requests(), log)
	if err != nil {
		return err
	}
	hooks := worker.NewWebhookSender(st, time.Now, cases.Today, log)
	hooks.Loopback = c.Loopback
	bounces := &worker.BounceFolder{Dir: c.bounces(), App: cases, Log: log, Now: time.Now}
	workers.Add(mails.Job(), hooks.Job(), worker.NewReminderScheduler(cases, log).Job(), bounces.Job(),
		worker.LogSigner{App: cases}.Job(), worker.PhotoSweeper{App: cases}.Job())
	if c.Dir != "" {
		workers.Add(c.backups.job(c.home, st, key, set.recipients))
	}
	fmt.Fprintf(e.stdout, "Gaugebook is at %s\n", base)

	background, stop := context.WithCancel(context.WithoutCancel(e.ctx))
	ended := make(chan struct{})
	go func() { workers.Run(background); close(ended) }()

	err = serveAll(e.ctx, endpoints, c.Grace)
	stop()
	<-ended
	return err
}

// baseOf is where a server that listens on an address is reached if nobody says
// otherwise: on this machine under the name localhost, because browsers take
// passkeys for names only.
func baseOf(listen string) string {
	host, port, err := net.SplitHostPort(listen)
	if ip := net.ParseIP(host); err == nil && ip != nil && ip.IsLoopback() {
		return "http://localhost:" + port
	}
	return "http://" + listen
}
