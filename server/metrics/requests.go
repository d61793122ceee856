package metrics

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"time"
)

// bounds are the durations, in seconds, up to which requests are counted.
var bounds = [...]float64{0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30}

// Requests counts requests. It may be used by several goroutines.
type Requests struct {
	mu       sync.Mutex
	answers  map[answer]float64
	duration map[place]*histogram
}

type place struct{ method, route string }

type answer struct {
	place
	status int
}

type histogram struct {
	under [len(bounds)]float64 // not cumulative
	count float64
	sum   float64
}

// NewRequests returns counts of nothing yet.
func NewRequests() *Requests {
	return &Requests{answers: map[answer]float64{}, duration: map[place]*histogram{}}
}

// methods are those that are told apart; a caller may invent others.
var methods = []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete}

// Observe counts a request. The route is the pattern that matched, "" for none.
func (r *Requests) Observe(method, route string, status int, took time.Duration) {
	if !slices.Contains(methods, method) {
		method = "other"
	}
	if status < 100 || status > 599 {
		status = 0
	}
	at := place{method, cmp.Or(route, "none")}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.answers[answer{at, status}]++
	h := r.duration[at]
	if h == nil {
		h = &histogram{}
		r.duration[at] = h
	}
	seconds := took.Seconds()
	h.count++
	h.sum += seconds
	if i, _ := slices.BinarySearch(bounds[:], seconds); i < len(bounds) {
		h.under[i]++
	}
}

// families returns the counts, in an order that stays.
func (r *Requests) families() []Family {
	r.mu.Lock()
	defer r.mu.Unlock()
	answered := Family{Name: "gaugebook_http_requests_total", Kind: Counter, Help: "Requests answered."}
	for a, n := range r.answers {
		answered.Samples = append(answered.Samples,
			value(n, "method", a.method, "route", a.route, "status", strconv.Itoa(a.status)))
	}
	took := Family{Name: "gaugebook_http_request_duration_seconds", Kind: Histogram,
		Help: "How long requests took."}
	places := make([]place, 0, len(r.duration))
	for p := range r.duration {
		places = append(places, p)
	}
	slices.SortFunc(places, func(a, b place) int {
		return cmp.Or(cmp.Compare(a.route, b.route), cmp.Compare(a.method, b.method))
	})
	for _, p := range places {
		took.Samples = append(took.Samples, r.duration[p].samples(p)...)
	}
	slices.SortFunc(answered.Samples, func(a, b Sample) int {
		return slices.CompareFunc(a.Labels, b.Labels, func(x, y Label) int { return cmp.Compare(x.Value, y.Value) })
	})
	return []Family{answered, took}
}

func (h *histogram) samples(p place) (out []Sample) {
	put := func(suffix string, v float64, more ...string) {
		s := value(v, append([]string{"method", p.method, "route", p.route}, more...)...)
		s.Suffix = suffix
		out = append(out, s)
	}
	sum := 0.0
	for i, n := range h.under {
		sum += n
		put("_bucket", sum, "le", number(bounds[i]))
	}
	put("_bucket", h.count, "le", "+Inf")
	put("_sum", h.sum)
	put("_count", h.count)
	return out
}
