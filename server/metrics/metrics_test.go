package metrics_test

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"gaugebook/records"
	"gaugebook/server/metrics"
	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

// source is the metrics of a site.
func source(site *servertest.Site) *metrics.Source {
	group := worker.NewGroup(slog.New(slog.DiscardHandler))
	group.Add(worker.Job{Name: "mail"}, worker.Job{Name: "backups"})
	return &metrics.Source{Store: site.Store, Workers: group, Requests: site.Server.Requests(),
		Log: slog.New(slog.DiscardHandler), Now: site.Clock.Now, Started: site.Clock.Now(), Version: "1.2.3",
		Commit: `a "quoted\commit`, Go: "go1"}
}

// collected asks as a collector does, and reads the answer with its parser.
func collected(t *testing.T, s http.Handler) (map[string]*dto.MetricFamily, string) {
	t.Helper()
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	text := w.Body.String()
	if w.Code != http.StatusOK || expfmt.ResponseFormat(w.Header()).FormatType() != expfmt.TypeTextPlain {
		t.Fatalf("%d, %s", w.Code, w.Header())
	}
	parser := expfmt.NewTextParser(model.LegacyValidation)
	all, err := parser.TextToMetricFamilies(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	for name, f := range all {
		if f.GetHelp() == "" || f.GetType() == dto.MetricType_UNTYPED {
			t.Errorf("%s: help %q, %s", name, f.GetHelp(), f.GetType())
		}
		if strings.HasSuffix(name, "_total") != (f.GetType() == dto.MetricType_COUNTER) {
			t.Errorf("%s is a %s", name, f.GetType())
		}
	}
	return all, text
}

// at returns the number of a family with the labels, NaN for none.
func at(all map[string]*dto.MetricFamily, name string, labels ...string) float64 {
	for _, m := range all[name].GetMetric() {
		got := ""
		for _, l := range m.GetLabel() {
			got += l.GetName() + "=" + l.GetValue() + " "
		}
		if strings.TrimSpace(got) != strings.Join(labels, " ") {
			continue
		}
		switch {
		case m.Counter != nil:
			return m.Counter.GetValue()
		case m.Gauge != nil:
			return m.Gauge.GetValue()
		}
	}
	return math.NaN()
}

// What a collector reads is what is in the register and what was answered, by
// the judgement of the parser that collectors use.
func TestMetrics(t *testing.T) {
	site := servertest.Start(t)
	site.Issued() // its message is due
	site.Draft()
	site.Clock.Set(site.Clock.Now().Add(90 * time.Second))
	guest := site.Guest()
	for range 3 {
		guest.Get("/sign-in")
	}
	guest.Get("/no-such-page")
	s := source(site)
	made := site.Clock.Now().Add(-time.Hour)
	s.LastBackup = func() (time.Time, error) { return made, nil }
	all, text := collected(t, s)
	for _, c := range []struct {
		want   float64
		name   string
		labels []string
	}{
		{3, "gaugebook_http_requests_total", []string{"method=GET", "route=/sign-in", "status=200"}},
		{1, "gaugebook_outbox_messages", []string{"state=due"}},
		{0, "gaugebook_outbox_messages", []string{"state=unsure"}},
		{1, "gaugebook_drafts_open", nil},
		{1, "gaugebook_worker_state", []string{"state=stopped", "worker=mail"}},
		{0, "gaugebook_worker_state", []string{"state=failing", "worker=mail"}},
		{3600, "gaugebook_backup_age_seconds", nil},
		{1, "gaugebook_build_info", []string{`commit=a "quoted\commit`, "go=go1", "version=1.2.3"}},
		{0, "gaugebook_metrics_unread", nil},
	} {
		if got := at(sorted(all), c.name, c.labels...); math.Round(got) != c.want {
			t.Errorf("%s %v is %v, want %v", c.name, c.labels, got, c.want)
		}
	}
	if got := at(all, "gaugebook_outbox_oldest_due_seconds"); got < 90 || got > 100 {
		t.Errorf("due since %v s", got)
	}
	if got := at(all, "gaugebook_register_bytes"); got < 100_000 {
		t.Errorf("%v bytes", got)
	}
	histograms := 0
	for _, m := range all["gaugebook_http_request_duration_seconds"].GetMetric() {
		h := m.GetHistogram()
		histograms++
		last, buckets := uint64(0), h.GetBucket()
		for _, b := range buckets {
			if b.GetCumulativeCount() < last {
				t.Errorf("%s: a bucket has less than the one before", m)
			}
			last = b.GetCumulativeCount()
		}
		if end := buckets[len(buckets)-1]; !math.IsInf(end.GetUpperBound(), 1) || last != h.GetSampleCount() ||
			last == 0 || h.GetSampleSum() <= 0 {
			t.Errorf("%s", m)
		}
	}
	if histograms < 2 {
		t.Errorf("%d histograms", histograms)
	}
	nobody(t, site, text)
}

// sorted has the labels of each number in order of their names.
func sorted(all map[string]*dto.MetricFamily) map[string]*dto.MetricFamily {
	for _, f := range all {
		for _, m := range f.GetMetric() {
			l := m.Label
			for i := range l {
				for j := i + 1; j < len(l); j++ {
					if l[j].GetName() < l[i].GetName() {
						l[i], l[j] = l[j], l[i]
					}
				}
			}
		}
	}
	return all
}

// nobody fails when a person, an address or an id of the register is told.
func nobody(t *testing.T, site *servertest.Site, text string) {
	t.Helper()
	words := []string{site.Property.ID, site.Appliance.ID, site.Property.Postcode, "@"}
	for _, p := range site.People {
		words = append(words, p.ID, p.Name)
	}
	for _, w := range words {
		if w == "" || strings.Contains(text, w) {
			t.Errorf("the metrics hold %q", w)
		}
	}
}

// Whatever is asked for, by whom, the lines do not grow: a label takes its value
// from a list of the program.
func TestMetricsAreBounded(t *testing.T) {
	site := servertest.Start(t)
	s := source(site)
	client := site.As(records.RoleOffice)
	ask := func(n int) {
		client.Get(fmt.Sprintf("/no/such/page/%d", n))
		client.Get(fmt.Sprintf("/records/%d?q=%d", n, n))
		client.Send(fmt.Sprintf("ODD%d", n), fmt.Sprintf("/sign-in/%d", n), "", nil)
	}
	ask(0)
	_, text := collected(t, s)
	was := strings.Count(text, "\n")
	for n := range 40 {
		ask(n + 1)
	}
	all, text := collected(t, s)
	if is := strings.Count(text, "\n"); is != was {
		t.Errorf("%d lines have become %d", was, is)
	}
	nobody(t, site, text)
	for _, m := range all["gaugebook_http_requests_total"].GetMetric() {
		for _, l := range m.GetLabel() {
			if strings.Contains(l.GetValue(), "ODD") || strings.Contains(l.GetValue(), "such") {
				t.Errorf("%s", m)
			}
		}
	}
}

// What cannot be read is counted and logged; the rest is still told.
func TestMetricsOfABrokenRegister(t *testing.T) {
	site := servertest.Start(t)
	s := source(site)
	s.LastBackup = func() (time.Time, error) { return time.Time{}, errors.New("no such disk") }
	all, _ := collected(t, s)
	if n := at(all, "gaugebook_metrics_unread"); n != 1 || all["gaugebook_drafts_open"] == nil {
		t.Errorf("%v unread", n)
	}
	for method, want := range map[string]int{http.MethodPost: 405, http.MethodHead: 200} {
		w := httptest.NewRecorder()
		s.ServeHTTP(w, httptest.NewRequest(method, "/metrics", nil))
		if w.Code != want {
			t.Errorf("%s: %d", method, w.Code)
		}
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/", nil))
	if body, _ := io.ReadAll(w.Body); w.Code != http.StatusNotFound || len(body) > 100 {
		t.Errorf("%d %s", w.Code, body)
	}
}

// A number is written so that it is read as the same.
func FuzzText(f *testing.F) {
	f.Add("help", "value", 1.5)
	f.Add("a\nb\\", "\"\n\\", math.Inf(1))
	f.Add("", "\xff", math.Copysign(0, -1))
	f.Fuzz(func(t *testing.T, help, label string, v float64) {
		var b strings.Builder
		err := metrics.Write(&b, []metrics.Family{{Name: "n", Help: help, Kind: metrics.Gauge,
			Samples: []metrics.Sample{{Labels: []metrics.Label{{Name: "l", Value: label}}, Value: v}}}})
		if err != nil {
			t.Fatal(err)
		}
		parser := expfmt.NewTextParser(model.LegacyValidation)
		all, err := parser.TextToMetricFamilies(strings.NewReader(b.String()))
		if err != nil {
			t.Fatalf("%v in %q", err, b.String())
		}
		got := all["n"].GetMetric()[0]
		if l := got.GetLabel()[0].GetValue(); l != strings.ToValidUTF8(label, "�") {
			t.Errorf("label %q was read as %q", label, l)
		}
		if is := got.GetGauge().GetValue(); is != v && !(math.IsNaN(is) && math.IsNaN(v)) {
			t.Errorf("%v was read as %v", v, is)
		}
	})
}
