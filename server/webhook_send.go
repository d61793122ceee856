package server

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"syscall"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/mail"
)

// Teller tells webhooks what happened, one event at a time. An event may
// arrive more than once: after an attempt whose end is unknown it is sent
// again, with the same id and the same body.
type Teller struct {
	Store *store.Store
	Now   func() time.Time
	Today func() records.Date
	Log   *slog.Logger
	Every time.Duration // how often to look
	// Loopback allows addresses of this machine, for a receiver beside the
	// server and for tests. No other private address is ever called.
	Loopback bool
	// Patience is how long one attempt may take.
	Patience time.Duration

	client *http.Client
	late   records.Date // the day for which late duties have been looked for
}

// NewTeller returns a teller that is not running yet.
func NewTeller(s *store.Store, now func() time.Time, today func() records.Date, log *slog.Logger) *Teller {
	return &Teller{Store: s, Now: now, Today: today, Log: log, Every: 5 * time.Second, Patience: 10 * time.Second}
}

// tellTries is how often an event is tried: with the waits of the outbox it
// spans about two days.
const tellTries = 8

// Run tells until ctx ends.
func (t *Teller) Run(ctx context.Context) error {
	if err := t.Store.Webhooks.RecoverDeliveries(ctx); err != nil {
		return err
	}
	tick := time.NewTicker(t.Every)
	defer tick.Stop()
	for {
		if err := t.Look(ctx); err != nil && ctx.Err() == nil {
			t.Log.Error("webhooks", "error", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

// Look puts in the duties that have become late, once a day, and sends what
// is due.
func (t *Teller) Look(ctx context.Context) error {
	if today := t.Today(); t.late != today {
		n, err := t.Store.Webhooks.AnnounceLate(ctx, today)
		if err != nil {
			return err
		}
		if t.late = today; n > 0 {
			t.Log.Info("webhooks: duties have become late", "count", n)
		}
	}
	for ctx.Err() == nil {
		d, err := t.Store.Webhooks.ClaimDelivery(ctx, t.Now(), 2*t.Patience+time.Minute)
		if err != nil || d == nil {
			return err
		}
		if err := t.tell(ctx, d); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// tell makes one attempt and writes down what became of it, even when the
// server is being stopped meanwhile.
func (t *Teller) tell(ctx context.Context, d *records.WebhookDelivery) error {
	keep := context.WithoutCancel(ctx)
	status, err := t.post(ctx, d)
	if err == nil && status/100 == 2 {
		return t.Store.Webhooks.MarkDelivered(keep, d.ID, status)
	}
	problem := "answered with " + strconv.Itoa(status) + " " + http.StatusText(status)
	if err != nil {
		problem = err.Error()
	}
	t.Log.Warn("webhook not told", "webhook", d.WebhookID, "event", d.EventID, "attempt", d.Attempts, "status", status)
	next := time.Time{}
	if d.Attempts < tellTries {
		next = t.Now().Add(mail.Backoff(d.Attempts))
	}
	return t.Store.Webhooks.MarkUndelivered(keep, d.ID, status, problem, next)
}

// Headers of what is sent.
const (
	headerEvent     = "Gaugebook-Event"
	headerEventID   = "Gaugebook-Event-Id"
	headerTime      = "Gaugebook-Time"      // of this attempt, in seconds since 1970
	headerSignature = "Gaugebook-Signature" // see SignEvent
)

// SignEvent returns what proves that an event comes from the holder of the
// secret: the HMAC-SHA256, in hexadecimal digits, of the time in decimal
// digits, a full stop and the body.
func SignEvent(secret string, seconds int64, body []byte) string {
	mac := hmac.New(sha256.New, []byte(secret))
	fmt.Fprintf(mac, "%d.", seconds)
	mac.Write(body)
	return hex.EncodeToString(mac.Sum(nil))
}

func (t *Teller) post(ctx context.Context, d *records.WebhookDelivery) (status int, err error) {
	if t.client == nil {
		t.client = outwardClient(t.Loopback, t.Patience)
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, d.URL, bytes.NewReader(d.Body))
	if err != nil {
		return 0, errors.New("the address cannot be called")
	}
	seconds := t.Now().Unix()
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", "Gaugebook")
	req.Header.Set(headerEvent, string(d.Event))
	req.Header.Set(headerEventID, d.EventID)
	req.Header.Set(headerTime, strconv.FormatInt(seconds, 10))
	req.Header.Set(headerSignature, SignEvent(d.Secret, seconds, d.Body))
	res, err := t.client.Do(req)
	if err != nil {
		return 0, tellProblem(err)
	}
	defer res.Body.Close()
	// What is answered is of no interest beyond its status; a little of it is
	// read so that the connection can be used again.
	_, _ = io.CopyN(io.Discard, res.Body, 4096)
	return res.StatusCode, nil
}

// errInward refuses an address that is not out on the internet.
var errInward = errors.New("the name leads to a private address, which is not called")

// tellProblem says what went wrong in words for the log, without what the
// network said: an error text must not tell of a network that the owner of
// the webhook cannot see.
func tellProblem(err error) error {
	var timeout net.Error
	switch {
	case errors.Is(err, errInward):
		return errInward
	case errors.As(err, &timeout) && timeout.Timeout():
		return errors.New("no answer in time")
	case errors.Is(err, syscall.ECONNREFUSED):
		return errors.New("the connection was refused")
	}
	var unknown *net.DNSError
	if errors.As(err, &unknown) {
		return errors.New("the name is not known")
	}
	return errors.New("the connection failed or was broken off")
}

// outwardClient calls public addresses only, and this machine if loopback is
// allowed. The address is looked at when the connection is made, so that a
// name cannot lead elsewhere after it was checked. Redirects are not followed
// and no proxy is used.
func outwardClient(loopback bool, patience time.Duration) *http.Client {
	dialer := &net.Dialer{Timeout: patience, Control: func(_, address string, _ syscall.RawConn) error {
		at, err := netip.ParseAddrPort(address)
		if err != nil || !mayCall(at.Addr(), loopback) {
			return errInward
		}
		return nil
	}}
	return &http.Client{
		Timeout:       patience,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{DialContext: dialer.DialContext, TLSHandshakeTimeout: patience,
			ResponseHeaderTimeout: patience,
			MaxIdleConns:          10, IdleConnTimeout: 30 * time.Second, MaxResponseHeaderBytes: 64 << 10},
	}
}

// inward are the networks that are not out on the internet beside those that
// netip knows: the special-purpose registries of RFC 6890 and its updates.
// The last three embed an IPv4 address that could be a private one.
var inward = []netip.Prefix{
	netip.MustParsePrefix("0.0.0.0/8"), netip.MustParsePrefix("100.64.0.0/10"), netip.MustParsePrefix("192.0.0.0/24"),
	netip.MustParsePrefix("192.0.2.0/24"),
	netip.MustParsePrefix("192.88.99.0/24"), netip.MustParsePrefix("198.18.0.0/15"),
	netip.MustParsePrefix("198.51.100.0/24"), netip.MustParsePrefix("203.0.113.0/24"),
	netip.MustParsePrefix("240.0.0.0/4"), netip.MustParsePrefix("100::/64"), netip.MustParsePrefix("2001:db8::/32"),
	netip.MustParsePrefix("fec0::/10"),
	netip.MustParsePrefix("64:ff9b::/96"), netip.MustParsePrefix("64:ff9b:1::/48"), netip.MustParsePrefix("2001::/32"),
	netip.MustParsePrefix("2002::/16"), netip.MustParsePrefix("::/96"),
}

// mayCall reports whether an address may be called.
func mayCall(a netip.Addr, loopback bool) bool {
	a = a.Unmap().WithZone("")
	if a.IsLoopback() {
		return loopback
	}
	if !a.IsGlobalUnicast() || a.IsPrivate() || a.IsLinkLocalUnicast() {
		return false
	}
	for _, p := range inward {
		if p.Contains(a) {
			return false
		}
	}
	return true
}
