package worker

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
	"maps"
	"net/http"
	"runtime/debug"
	"slices"
	"strconv"
	"sync"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/mail"
)

// WebhookSender tells webhooks what happened, each one event at a time. An event may
// arrive more than once: after an attempt whose end is unknown it is sent
// again, with the same id and the same body.
type WebhookSender struct {
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

	dial   sync.Once
	client *http.Client
	late   records.Date // the day for which late duties have been looked for
}

// NewWebhookSender returns a sender that is not running yet.
func NewWebhookSender(s *store.Store, now func() time.Time, today func() records.Date,
	log *slog.Logger) *WebhookSender {
	return &WebhookSender{Store: s, Now: now, Today: today, Log: log, Every: 5 * time.Second,
		Patience: 10 * time.Second}
}

// webhookTries is how often an event is tried: with the waits of the outbox it
// spans about two days.
const webhookTries = 8

// Job returns the sender as the group runs it.
func (w *WebhookSender) Job() Job {
	return Job{Name: "webhooks", Every: w.Every, Recover: w.Store.Webhooks.RecoverDeliveries, Run: w.SendDue}
}

// SendDue puts in the duties that have become late, once a day, and sends what
// is due.
func (w *WebhookSender) SendDue(ctx context.Context) error {
	if today := w.Today(); w.late != today {
		n, err := w.Store.Webhooks.AnnounceLate(ctx, today)
		if err != nil {
			return err
		}
		if w.late = today; n > 0 {
			w.Log.Info("webhooks: duties have become late", "count", n)
		}
	}
	return w.sendAll(ctx)
}

// sendAll sends what is due, to each webhook one event after the other and to all
// of them beside each other: an address that is slow holds nobody else up.
func (w *WebhookSender) sendAll(ctx context.Context) error {
	type result struct {
		webhook string
		err     error
	}
	done, busy := make(chan result), map[string]bool{}
	var first error
	for {
		var d *records.WebhookDelivery
		if first == nil && ctx.Err() == nil {
			d, first = w.Store.Webhooks.ClaimDelivery(ctx, w.Now(), 2*w.Patience+time.Minute,
				slices.Collect(maps.Keys(busy))...)
		}
		if d != nil {
			busy[d.WebhookID] = true
			go func() {
				r := result{webhook: d.WebhookID}
				defer func() {
					if p := recover(); p != nil {
						r.err = &panicError{p, debug.Stack()}
					}
					done <- r
				}()
				r.err = w.attempt(ctx, d)
			}()
			continue
		}
		if len(busy) == 0 {
			return errors.Join(first, ctx.Err())
		}
		r := <-done
		delete(busy, r.webhook)
		if first == nil {
			first = r.err
		}
	}
}

// attempt makes one attempt and writes down what became of it, even when the
// server is being stopped meanwhile.
func (w *WebhookSender) attempt(ctx context.Context, d *records.WebhookDelivery) error {
	keep := context.WithoutCancel(ctx)
	status, err := w.post(ctx, d)
	if err == nil && status/100 == 2 {
		return w.Store.Webhooks.MarkDelivered(keep, d.ID, status)
	}
	problem := "answered with " + strconv.Itoa(status) + " " + http.StatusText(status)
	if err != nil {
		problem = err.Error()
	}
	w.Log.Warn("webhook not delivered", "webhook", d.WebhookID, "event", d.EventID, "attempt", d.Attempts, "status",
		status)
	next := time.Time{}
	if d.Attempts < webhookTries {
		next = w.Now().Add(mail.Backoff(d.Attempts))
	}
	return w.Store.Webhooks.MarkUndelivered(keep, d.ID, status, problem, next)
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

func (w *WebhookSender) post(ctx context.Context, d *records.WebhookDelivery) (status int, err error) {
	w.dial.Do(func() { w.client = publicClient(w.Loopback, w.Patience) })
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, d.URL, bytes.NewReader(d.Body))
	if err != nil {
		return 0, errors.New("the address cannot be called")
	}
	seconds := w.Now().Unix()
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", "Gaugebook")
	req.Header.Set(headerEvent, string(d.Event))
	req.Header.Set(headerEventID, d.EventID)
	req.Header.Set(headerTime, strconv.FormatInt(seconds, 10))
	req.Header.Set(headerSignature, SignEvent(d.Secret, seconds, d.Body))
	res, err := w.client.Do(req)
	if err != nil {
		return 0, plainProblem(err)
	}
	defer res.Body.Close()
	// What is answered is of no interest beyond its status; a little of it is
	// read so that the connection can be used again.
	_, _ = io.CopyN(io.Discard, res.Body, 4096)
	return res.StatusCode, nil
}
