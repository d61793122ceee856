//go:build torture

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/server/picture/picturetest"
)

var kills = flag.Int("kills", 500, "how often the server is killed under torture")

// torture is eight clients at work on a server that is killed again and again,
// and what it has acknowledged to them.
type torture struct {
	*firm
	t    *testing.T
	ctx  context.Context // ends when the clients are to stop
	key  string          // of a program that issues
	http *http.Client

	answered atomic.Int64 // requests

	mu     sync.Mutex
	homes  map[string]string   // first line of the address → id
	issues map[string]issued   // number
	photos map[string][2]int   // record → acknowledged, asked for
	lists  map[string]bool     // street of a list → acknowledged
	asked  map[string]struct{} // first lines that were ever sent
}

// reply is an answer that arrived whole.
type reply struct {
	status int
	body   []byte
}

// ask sends a request until it is answered; nil when the torture ends first.
func (x *torture) ask(client *http.Client, build func() (*http.Request, error)) *reply {
	for x.ctx.Err() == nil {
		req, err := build()
		if err != nil {
			x.t.Error(err)
			return nil
		}
		res, err := client.Do(req.WithContext(x.ctx))
		if err == nil {
			var body []byte
			body, err = io.ReadAll(res.Body)
			res.Body.Close()
			if err == nil && res.StatusCode != http.StatusServiceUnavailable {
				x.answered.Add(1)
				return &reply{res.StatusCode, body}
			}
		}
		time.Sleep(10 * time.Millisecond)
	}
	return nil
}

// call asks the API; once is the key under which it is done once.
func (x *torture) call(method, path, once string, in, out any, want ...int) (status int, ok bool) {
	data, err := json.Marshal(in)
	if err != nil {
		x.t.Error(err)
		return 0, false
	}
	got := x.ask(x.http, func() (*http.Request, error) {
		req, err := http.NewRequest(method, x.base+"/api/v1"+path, bytes.NewReader(data))
		if err == nil {
			req.Header.Set("Authorization", "Bearer "+x.key)
			if once != "" {
				req.Header.Set("Idempotency-Key", once)
			}
		}
		return req, err
	})
	if got == nil {
		return 0, false
	}
	for _, w := range want {
		if got.status == w {
			if err := json.Unmarshal(got.body, out); err != nil {
				x.t.Errorf("%s %s: %v", method, path, err)
				return 0, false
			}
			return got.status, true
		}
	}
	x.t.Errorf("%s %s: status %d\n%.600s", method, path, got.status, got.body)
	return got.status, false
}

// draft makes a home with its appliance and a draft there.
func (x *torture) draft(name string, n int) (r apiAnswer, ok bool) {
	line := fmt.Sprintf("%d %s Row", n, name)
	once := func(what string) string { return fmt.Sprintf("torture-%s-%d-%s", name, n, what) }
	x.mu.Lock()
	x.asked[line] = struct{}{}
	x.mu.Unlock()
	var home, appliance apiAnswer
	if _, ok := x.call(http.MethodPost, "/properties", once("home"), map[string]any{
		"property": map[string]string{"line1": line, "town": "Ambershaw", "postcode": "AA7 4TB", "nation": "England"},
		"customer": map[string]string{"name": "Imogen Farrow", "tenure": "owner-occupier", "phone": "01632 960114",
			"email": fmt.Sprintf("c%d.%s@example.org", n, strings.ToLower(name))}}, &home,
		http.StatusCreated); !ok {
		return r, false
	}
	x.mu.Lock()
	x.homes[line] = home.ID
	x.mu.Unlock()
	values, err := sectionOf(rules.Sample().Values, "appliance")
	if err != nil {
		x.t.Error(err)
		return r, false
	}
	if _, ok := x.call(http.MethodPost, "/appliances", once("appliance"), map[string]any{"property_id": home.ID,
		"values": values}, &appliance, http.StatusCreated); !ok {
		return r, false
	}
	_, ok = x.call(http.MethodPost, "/records", once("record"), map[string]any{"appliance_id": appliance.ID,
		"purpose": "commissioning", "work_date": today(x.t).String()}, &r, http.StatusCreated)
	return r, ok
}

func sectionOf(vs records.Values, name string) (out map[string]any, err error) {
	var all map[string]map[string]any
	data, err := json.Marshal(vs)
	if err == nil {
		err = json.Unmarshal(data, &all)
	}
	return all[name], err
}

// engineer issues one record after the other.
func (x *torture) work(name string) {
	vs := rules.Sample().Values
	vs.Put(records.EngineerName.Field, "Sorrel Yarrow")
	for _, f := range []records.TextField{records.TightnessGauge, records.PressureGauge, records.Analyser} {
		vs.Put(f.Field, x.instruments[vs.Text(f)])
	}
	for n := 1; x.ctx.Err() == nil; n++ {
		r, ok := x.draft(name, n)
		for tries := 0; ok && r.Standing != records.Clear; tries++ {
			if tries > 1000 {
				x.t.Errorf("%s %d cannot be filled in", name, n)
				return
			}
			id := r.ID
			var status int
			status, ok = x.call(http.MethodPatch, "/records/"+id, "", map[string]any{"revision": r.Revision,
				"sections": vs}, &r, http.StatusOK, http.StatusConflict)
			if ok && status == http.StatusConflict { // an earlier try was saved, and its answer lost
				r = apiAnswer{}
				_, ok = x.call(http.MethodGet, "/records/"+id, "", nil, &r, http.StatusOK)
			}
		}
		if !ok {
			continue
		}
		var is apiAnswer
		if _, ok := x.call(http.MethodPost, "/records/"+r.ID+"/issue", fmt.Sprintf("torture-%s-%d-issue", name, n),
			map[string]any{"revision": r.Revision}, &is, http.StatusOK); !ok {
			continue
		}
		x.mu.Lock()
		if was, twice := x.issues[is.Number]; twice {
			x.t.Errorf("number %s was given to %s and to %s", is.Number, was.id, r.ID)
		}
		x.issues[is.Number] = issued{r.ID, is.Number, is.Code}
		x.mu.Unlock()
	}
}

// photograph takes photos for drafts.
func (x *torture) photograph() {
	client := *x.firm.engineer.client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	for n := 1; x.ctx.Err() == nil; n++ {
		r, ok := x.draft("Photo", n)
		if !ok {
			continue
		}
		for i := range 4 {
			image := picturetest.Quarters(64, 48)
			image.Pix[0], image.Pix[1], image.Pix[2] = byte(n*60), byte(i*60), byte(n)
			file := picturetest.JPEG(x.t, image)
			x.mu.Lock()
			count := x.photos[r.ID]
			x.photos[r.ID] = [2]int{count[0], count[1] + 1}
			x.mu.Unlock()
			got := x.ask(&client, func() (*http.Request, error) {
				body, kind := multipartOf(x.t, fields{"caption": fmt.Sprint(i)}, "photo", "p.jpg", file)
				req, err := http.NewRequest(http.MethodPost, x.base+"/records/"+r.ID+"/sections/flue/photos", body)
				if err == nil {
					req.Header.Set("Content-Type", kind)
					req.Header.Set("Sec-Fetch-Site", "same-origin")
				}
				return req, err
			})
			if got == nil {
				return
			}
			if got.status != http.StatusSeeOther && got.status != http.StatusConflict {
				x.t.Errorf("photo: status %d\n%.600s", got.status, got.body)
				return
			}
			x.mu.Lock()
			count = x.photos[r.ID]
			x.photos[r.ID] = [2]int{count[0] + 1, count[1]}
			x.mu.Unlock()
		}
	}
}

const rowsOfList = 150

// importLists takes lists in. One that is broken off is not sent again.
func (x *torture) importLists() {
	client := *x.office.client
	once := func(build func() (*http.Request, error)) *reply {
		req, err := build()
		if err != nil {
			x.t.Error(err)
			return nil
		}
		res, err := client.Do(req.WithContext(x.ctx))
		if err != nil {
			return nil
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		if err != nil {
			return nil
		}
		return &reply{res.StatusCode, body}
	}
	form := func(path, values string) *reply {
		return once(func() (*http.Request, error) {
			req, err := http.NewRequest(http.MethodPost, x.base+path, strings.NewReader(values))
			if err == nil {
				req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				req.Header.Set("Sec-Fetch-Site", "same-origin")
			}
			return req, err
		})
	}
	until := func(stage string) bool {
		for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
			got := once(func() (*http.Request, error) {
				return http.NewRequest(http.MethodGet, x.base+"/import/progress", nil)
			})
			if got == nil || got.status != http.StatusOK {
				return false
			}
			var now struct{ Stage string }
			if json.Unmarshal(got.body, &now) != nil || now.Stage == "" || now.Stage == "none" {
				return false
			}
			if now.Stage == stage {
				return true
			}
		}
		return false
	}
	for n := 1; x.ctx.Err() == nil; n++ {
		street := fmt.Sprintf("List%d Lane", n)
		var list strings.Builder
		list.WriteString("Address line 1,Town,Postcode,Serial number,Last service\n")
		for i := range rowsOfList {
			fmt.Fprintf(&list, "%d %s,Upham,UP%d %dDE,L%d-%d,2026-03-%02d\n", i+1, street, 1+n%90, i%9+1, n, i, i%28+1)
		}
		body, kind := multipartOf(x.t, nil, "file", "list.csv", []byte(list.String()))
		x.mu.Lock()
		x.lists[street] = false
		x.mu.Unlock()
		sent := once(func() (*http.Request, error) {
			req, err := http.NewRequest(http.MethodPost, x.base+"/import", bytes.NewReader(body.Bytes()))
			if err == nil {
				req.Header.Set("Content-Type", kind)
				req.Header.Set("Sec-Fetch-Site", "same-origin")
			}
			return req, err
		})
		if sent == nil || sent.status != http.StatusOK {
			time.Sleep(200 * time.Millisecond)
			continue
		}
		if form("/import/columns", "line1=0&town=1&postcode=2&serial=3&last_service=4&stand-nation=England&"+
			"stand-kind=boiler-system") == nil || !until("checked") || form("/import/write", "") == nil ||
			!until("done") {
			continue
		}
		x.mu.Lock()
		x.lists[street] = true
		x.mu.Unlock()
	}
}

// audit proves the register, which has grown large by the end.
func (x *torture) audit() string {
	got := gaugebookFor(x.t, time.Hour, "", "audit", "--data", x.dir)
	if got.code != exitClear {
		x.t.Errorf("audit: exit %d\n%s%s", got.code, got.out, got.err)
	}
	return got.out
}

// letWork waits for some answers and a moment more, so that kills come between
// them however fast the machine is.
func (x *torture) letWork() {
	until, end := x.answered.Load()+8+rand.Int64N(60), time.Now().Add(20*time.Second)
	for x.answered.Load() < until && time.Now().Before(end) {
		time.Sleep(time.Millisecond)
	}
	time.Sleep(time.Duration(rand.IntN(20_000)) * time.Microsecond)
}

// TestTorture kills the server while eight clients enter, issue, photograph and
// import, and compares what was acknowledged with what is there: nothing is lost,
// nothing is done twice, no number is missing and no letter goes out twice.
func TestTorture(t *testing.T) {
	post := newMailServer(t)
	dir := t.TempDir()
	newOwner(t, dir)
	f := setUp(t, serve(t, dir, "--smtp", "smtp://"+post.addr))
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	x := &torture{firm: f, t: t, ctx: ctx, key: newKey(t, f), http: &http.Client{Timeout: time.Minute},
		homes: map[string]string{}, issues: map[string]issued{}, photos: map[string][2]int{}, lists: map[string]bool{},
		asked: map[string]struct{}{}}
	var clients sync.WaitGroup
	for _, name := range []string{"Alder", "Birch", "Cedar", "Damson", "Elder", "Fir"} {
		clients.Go(func() { x.work(name) })
	}
	clients.Go(x.photograph)
	clients.Go(x.importLists)
	begun := time.Now()
	for n := 1; n <= *kills && !t.Failed(); n++ {
		x.letWork()
		if n%50 == 0 {
			if got := gaugebook(t, "", "serve", "--data", dir, "--listen", "127.0.0.1:0"); got.code != exitBad ||
				!strings.Contains(got.err, "a server runs on") {
				t.Errorf("a second server: exit %d: %s", got.code, got.err)
			}
			x.audit() // while it is written to
		}
		f.crash()
	}
	time.Sleep(2 * time.Second) // a last stretch without a kill
	stop()
	clients.Wait()
	x.compare(post, time.Since(begun))
}
