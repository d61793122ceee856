package main

import (
	"context"
	"crypto/tls"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"gaugebook/server/https/httpstest"
	"gaugebook/server/servertest"
)

// freePort is an address of loopback that nobody listens on.
func freePort(t *testing.T) (address string, port int) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String(), l.Addr().(*net.TCPAddr).Port
}

// Asked to, the server gets a certificate and speaks https itself, and sends who
// comes by plain http on. Only https is told to last.
func TestOwnTLS(t *testing.T) {
	const host = "records.firm.example"
	listen, port := freePort(t)
	redirect, _ := freePort(t)
	authority := httpstest.New(t, port)
	dir := t.TempDir()
	newOwner(t, dir)
	_, portText, _ := net.SplitHostPort(listen)
	base := "https://" + host + ":" + portText
	serveAt(t, listen, dir, "--base-url", base, "--tls-host", host, "--redirect-listen", redirect, "--acme-directory",
		authority.Directory, "--acme-roots", write(t, t.TempDir(), "roots.pem", string(authority.PEM)))
	to := map[string]string{host + ":" + portText: listen, host + ":80": redirect}
	client := &http.Client{Timeout: time.Minute, Transport: &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: authority.Issues},
		DialContext: func(ctx context.Context, _, address string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, "tcp", to[address])
		}}}
	servertest.Eventually(t, "there is a certificate", func() bool {
		res, err := client.Get(base + "/healthz")
		if err == nil {
			res.Body.Close()
		}
		return err == nil
	})
	res, err := client.Get("http://" + host + "/sign-in")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	page, err := io.ReadAll(res.Body)
	if err != nil || res.Request.URL.String() != base+"/sign-in" || !strings.Contains(string(page), "Sign in") {
		t.Errorf("%v at %s: %.200s", err, res.Request.URL, page)
	}
	if res.Header.Get("Strict-Transport-Security") == "" {
		t.Error("browsers are not told to come by https")
	}
	if first := res.Request.Response; first == nil || first.Header.Get("Strict-Transport-Security") != "" {
		t.Error("plain http promises https")
	}
	got := gaugebook(t, "", "doctor", "--data", dir, "--tls-host", host)
	if !strings.Contains(got.out, "certificate of "+host+": it holds until") {
		t.Errorf("doctor: %s", got.out)
	}
	for _, c := range res.Cookies() {
		if !c.Secure {
			t.Errorf("%s may travel in the clear", c.Name)
		}
	}
}

func TestOwnTLSRefusals(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--tls-host", "localhost"}, `--tls-host: "localhost"`},
		{[]string{"--tls-host", "a.example", "--base-url", "https://b.example"}, "--base-url"},
		{[]string{"--tls-host", "a.example", "--base-url", "http://a.example"}, "--base-url"},
		{[]string{"--redirect-listen", ":80"}, "give --tls-host too"},
		{[]string{"--tls-host", "a.example", "--acme-roots", "tls_test.go"}, "--acme-roots: there is no certificate"},
	} {
		got := command(t, nil, append([]string{"serve", "--data", t.TempDir()}, c.args...)...)
		if got.code != exitBad || !strings.Contains(got.err, c.says) {
			t.Errorf("%v: exit %d, %s", c.args, got.code, got.err)
		}
	}
}
