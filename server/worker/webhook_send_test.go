package worker_test

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store/storetest"
	"gaugebook/server"
	"gaugebook/server/api/apitest"
	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

// receiver is somebody's program: a real HTTP server that keeps what it is told
// and answers as the test wants.
type receiver struct {
	*httptest.Server
	mu     sync.Mutex
	answer []func(http.ResponseWriter, *http.Request) // one for each call; 204 from then on
	calls  []call
}

type call struct {
	header http.Header
	body   []byte
}

func newReceiver(t *testing.T) *receiver {
	r := &receiver{}
	r.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		body, _ := io.ReadAll(req.Body)
		r.mu.Lock()
		r.calls = append(r.calls, call{req.Header, body})
		do := func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) }
		if len(r.answer) > 0 {
			do, r.answer = r.answer[0], r.answer[1:]
		}
		r.mu.Unlock()
		do(w, req)
	}))
	t.Cleanup(r.Close)
	return r
}

func (r *receiver) all() []call {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]call(nil), r.calls...)
}

func (c call) signed(secret string) bool {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte(c.header.Get("Gaugebook-Time") + "." + string(c.body)))
	return hmac.Equal([]byte(hex.EncodeToString(mac.Sum(nil))), []byte(c.header.Get("Gaugebook-Signature")))
}

// fits holds a body against the description of the API.
func fits(t *testing.T, site *servertest.Site, schema string, body []byte) {
	t.Helper()
	var v any
	if err := json.Unmarshal(body, &v); err != nil {
		t.Fatal(err)
	}
	doc := apitest.Described(t, []byte(site.Guest().Get("/api/v1/openapi.yaml").Body))
	if err := doc.Components.Schemas[schema].Value.VisitJSON(v); err != nil {
		t.Errorf("%s is not a %s: %v", body, schema, err)
	}
}

func hookSite(t *testing.T) (*servertest.Site, *worker.WebhookSender) {
	site := servertest.Start(t, func(c *server.Config) { c.LoopbackHooks = true })
	sender := worker.NewWebhookSender(site.Store, site.Clock.Now, site.App.Today, slog.New(slog.DiscardHandler))
	sender.Loopback, sender.Patience = true, 300*time.Millisecond
	return site, sender
}

// addHook adds a webhook through the page and returns its secret.
func addHook(t *testing.T, site *servertest.Site, address string, events ...string) string {
	t.Helper()
	p := site.As(records.RoleOwner).Post("/webhooks", url.Values{"url": {address}, "event": events})
	secret := regexp.MustCompile(`gbw_[a-z0-9]+`).FindString(p.Body)
	if p.Status != 200 || len(secret) < 30 {
		t.Fatalf("status %d\n%s", p.Status, servertest.ErrorsOf(p.Body))
	}
	return secret
}

func status(code int) func(http.ResponseWriter, *http.Request) {
	return func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(code) }
}

func sendDue(t *testing.T, sender *worker.WebhookSender) {
	t.Helper()
	if err := sender.SendDue(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func TestWebhookArrivesInSpiteOfFailures(t *testing.T) {
	site, sender := hookSite(t)
	r := newReceiver(t)
	released := make(chan struct{})
	t.Cleanup(func() { close(released) })
	r.answer = []func(http.ResponseWriter, *http.Request){
		status(500),
		func(w http.ResponseWriter, req *http.Request) { // is too slow
			select {
			case <-released:
			case <-req.Context().Done():
			}
		},
		func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }, // drops the line
		func(w http.ResponseWriter, req *http.Request) { http.Redirect(w, req, "/elsewhere", http.StatusFound) },
	}
	secret := addHook(t, site, r.URL+"/told", "record.issued", "record.withdrawn")
	row := site.Issued()
	for i, says := range []string{"answered with 500", "no answer in time", "failed or was broken off",
		"answered with 302", ""} {
		sendDue(t, sender)
		if n := len(r.all()); n != i+1 {
			t.Fatalf("round %d: %d calls", i, n)
		}
		hooks, err := site.Store.Webhooks.List(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		list, _, err := site.Store.Webhooks.Deliveries(t.Context(), hooks[0].ID, "", 10)
		if err != nil || len(list) != 1 || !strings.Contains(list[0].Problem, says) || list[0].Attempts != i+1 {
			t.Fatalf("round %d: %+v, %v", i, list, err)
		}
		if says != "" {
			sendDue(t, sender) // not yet due
			if n := len(r.all()); n != i+1 {
				t.Fatalf("round %d: tried again at once", i)
			}
			if wait := list[0].NextAt.Sub(site.Clock.Now()); wait <= 0 || wait > 3*time.Hour {
				t.Errorf("round %d: next in %v", i, wait)
			}
			site.Clock.Set(list[0].NextAt.Add(time.Second))
			continue
		}
		if list[0].State != records.WebhookDelivered || list[0].Status != 204 {
			t.Errorf("in the end: %+v", list[0])
		}
	}
	calls := r.all()
	for i, c := range calls {
		if !c.signed(secret) || c.signed(secret+"x") || string(c.body) != string(calls[0].body) ||
			c.header.Get("Gaugebook-Event-Id") != calls[0].header.Get("Gaugebook-Event-Id") {
			t.Errorf("call %d: %v %s", i, c.header, c.body)
		}
	}
	fits(t, site, "RecordEvent", calls[0].body)
	var body struct {
		ID, Event string
		Time      time.Time
		Data      struct {
			Number   string
			RecordID string `json:"record_id"`
		}
	}
	if err := json.Unmarshal(calls[0].body, &body); err != nil || body.Event != "record.issued" ||
		body.Data.Number != row.Number || body.Data.RecordID != row.ID ||
		body.ID != calls[0].header.Get("Gaugebook-Event-Id") || body.Time.IsZero() {
		t.Errorf("%+v, %v", body, err)
	}
	if s := string(calls[0].body); strings.Contains(s, "Saltgrass") ||
		strings.Contains(s, site.Property.Property.Line1) || strings.Contains(s, site.Property.Contact.Name) {
		t.Errorf("tells of people or places: %s", s)
	}
}

func TestWebhookGivesUpAndResends(t *testing.T) {
	site, sender := hookSite(t)
	r := newReceiver(t)
	for range 8 {
		r.answer = append(r.answer, status(503))
	}
	addHook(t, site, r.URL, "record.issued")
	site.Issued()
	for range 12 {
		sendDue(t, sender)
		site.Clock.Set(site.Clock.Now().Add(25 * time.Hour))
	}
	if n := len(r.all()); n != 8 {
		t.Fatalf("%d tries", n)
	}
	owner := site.As(records.RoleOwner)
	hooks, err := site.Store.Webhooks.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	path := "/webhooks/" + hooks[0].ID
	owner.Expect(path, 200, []string{"failed", "503", "A record is issued", "Send again"}, []string{"gbw_"})
	owner.Expect("/webhooks", 200, []string{r.URL, "record.issued"}, []string{"gbw_"})
	again := regexp.MustCompile(path + `/deliveries/\w+/resend`).FindString(owner.Get(path).Body)
	if p := owner.Post(again, url.Values{}); p.Status != 303 {
		t.Fatalf("%s: %d", again, p.Status)
	}
	sendDue(t, sender)
	calls := r.all()
	if len(calls) != 9 || calls[8].header.Get("Gaugebook-Event-Id") != calls[0].header.Get("Gaugebook-Event-Id") {
		t.Errorf("%d calls", len(calls))
	}
	owner.Expect(path, 200, []string{"delivered", "204"}, nil)
	if p := owner.Post(path+"/end", url.Values{}); p.Status != 303 {
		t.Fatal(p.Status)
	}
	if p := owner.Post(again, url.Values{}); p.Status != 409 {
		t.Errorf("sent again after its end: %d", p.Status)
	}
}

// Each late duty is told once a day, whatever is started again meanwhile.
func TestWebhooksTellOfLateDuties(t *testing.T) {
	site, sender := hookSite(t)
	r := newReceiver(t)
	addHook(t, site, r.URL, "duty.late")
	today := site.App.Today()
	for i, due := range []records.Date{today.AddDays(-3), today.AddDays(2), today.AddDays(20)} {
		if _, err := site.Store.Duties.Add(t.Context(), storetest.Actor, site.Appliance.ID,
			records.Duty{Kind: records.DutyKinds[i], Due: due}); err != nil {
			t.Fatal(err)
		}
	}
	sendDue(t, sender)
	if n := len(r.all()); n != 0 {
		t.Errorf("%d told of what was late before", n)
	}
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 3))
	sendDue(t, sender)
	sendDue(t, sender)
	restarted := worker.NewWebhookSender(site.Store, site.Clock.Now, site.App.Today, slog.New(slog.DiscardHandler))
	restarted.Loopback = true
	sendDue(t, restarted)
	calls := r.all()
	if len(calls) != 1 || !strings.Contains(string(calls[0].body), `"due":"`+today.AddDays(2).String()+`"`) {
		t.Fatalf("%d calls: %v", len(calls), calls)
	}
	fits(t, site, "DutyEvent", calls[0].body)
}

// A receiver that does not answer holds nobody else up: the others have been
// told everything before it gives up on the slow one.
func TestSlowReceiverHoldsNobodyUp(t *testing.T) {
	site, sender := hookSite(t)
	sender.Patience = time.Minute
	release := make(chan struct{})
	var once sync.Once
	let := func() { once.Do(func() { close(release) }) }
	slow, quick := newReceiver(t), newReceiver(t)
	t.Cleanup(let) // before the receiver is closed
	slow.answer = []func(http.ResponseWriter, *http.Request){func(w http.ResponseWriter, _ *http.Request) {
		<-release
		w.WriteHeader(http.StatusNoContent)
	}}
	addHook(t, site, slow.URL, "record.issued")
	addHook(t, site, quick.URL, "record.issued")
	for n := range 3 {
		storetest.MustIssue(t, site.Store, storetest.MustAppliance(t, site.Store, 50+n).ID, records.Service,
			"2026-11-20")
	}
	sent := make(chan error, 1)
	go func() { sent <- sender.SendDue(t.Context()) }()
	for end := time.Now().Add(20 * time.Second); len(quick.all()) < 3 ||
		len(slow.all()) < 1; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("the quick receiver was told %d of 3 while the slow one was waited for", len(quick.all()))
		}
	}
	if n := len(slow.all()); n != 1 {
		t.Errorf("the slow receiver was told %d events at once", n)
	}
	let()
	if err := <-sent; err != nil || len(slow.all()) != 3 {
		t.Errorf("%d events, %v", len(slow.all()), err)
	}
}
