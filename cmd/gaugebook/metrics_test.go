package main

import (
	"io"
	"net/http"
	"strings"
	"testing"
)

// Metrics are told at an address of their own, when one is named, and not at
// that of the pages.
func TestMetricsAddress(t *testing.T) {
	t.Parallel()
	address, _ := freePort(t)
	dir := t.TempDir()
	newOwner(t, dir)
	s := serve(t, dir, "--metrics-listen", address, "--backup-dir", t.TempDir())
	s.visitor(t).get("/sign-in").says("Sign in")
	res, err := http.Get(s.base + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusNotFound {
		t.Errorf("among the pages: %d", res.StatusCode)
	}
	res, err = http.Get("http://" + address + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	for _, want := range []string{`route="/sign-in",status="200"} 1`, `gaugebook_worker_state{worker="backups"`,
		`go="go1.`, "gaugebook_metrics_unread 0"} {
		if err != nil || !strings.Contains(string(text), want) {
			t.Errorf("no %s, %v", want, err)
		}
	}
	s.stop()
	got := gaugebook(t, "", "serve", "--data", dir, "--listen", "127.0.0.1:0", "--metrics-listen", "nowhere")
	if got.code != exitBad || !strings.Contains(got.err, "--metrics-listen nowhere") {
		t.Errorf("exit %d: %s", got.code, got.err)
	}
}
