package server_test

import (
	"bytes"
	"encoding/json"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"testing"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

// logLines is a log as JSON.
type logLines struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logLines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

// requests returns the lines about requests of a route.
func (l *logLines) requests(t *testing.T, route string) (out []map[string]any) {
	t.Helper()
	l.mu.Lock()
	defer l.mu.Unlock()
	for line := range strings.Lines(l.b.String()) {
		var v map[string]any
		if err := json.Unmarshal([]byte(line), &v); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if v["msg"] == "request" && v["route"] == route {
			out = append(out, v)
		}
	}
	return out
}

// A line for each request says who asked for what, how it was answered and how
// long that took; not where exactly, since some addresses are secrets.
func TestRequestsAreLogged(t *testing.T) {
	log := &logLines{}
	site := servertest.Start(t, func(c *server.Config) { c.Log = slog.New(slog.NewJSONHandler(log, nil)) })
	office := site.As(records.RoleOffice)
	office.Get("/properties/" + site.Property.ID)
	office.Header = http.Header{"X-Request-Id": {"trace-7"}}
	office.Get("/properties/no-such-id")
	office.Header = http.Header{"X-Request-Id": {strings.Repeat("x", 65)}}
	office.Get("/properties/no-such-id")
	site.Guest().Get("/r/a-secret-token")

	lines := log.requests(t, "/properties/:id")
	if len(lines) != 3 {
		t.Fatalf("%d lines", len(lines))
	}
	ids := map[any]bool{}
	for i, want := range []map[string]any{{"status": 200.0, "caller": nil}, {"status": 404.0, "caller": "trace-7"},
		{"status": 404.0, "caller": nil}} {
		line := lines[i]
		ms, _ := line["ms"].(float64)
		if line["person"] != site.People[records.RoleOffice].ID || line["method"] != "GET" ||
			line["status"] != want["status"] || line["caller"] != want["caller"] || ms <= 0 || ms > 600_000 {
			t.Errorf("%v, want %v", line, want)
		}
		ids[line["request"]] = true
	}
	if len(ids) != 3 || ids[""] || ids[nil] || ids["trace-7"] {
		t.Errorf("the requests are named %v", ids)
	}
	lines = log.requests(t, "/r/:token")
	if len(lines) != 1 || lines[0]["person"] != nil {
		t.Errorf("%v", lines)
	}
	if strings.Contains(log.b.String(), "a-secret-token") {
		t.Error("the log holds a customer's address")
	}
}
