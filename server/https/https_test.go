package https_test

import (
	"context"
	"crypto/tls"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/server/https"
	"gaugebook/server/https/httpstest"
)

const host = "records.firm.example"

func listen(t *testing.T) (net.Listener, int) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l, l.Addr().(*net.TCPAddr).Port
}

func hello(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, "hello") }

// A certificate is got before the first visitor comes, is kept for the next
// start, and only for the names that were given.
func TestCertificateFromAnAuthority(t *testing.T) {
	secure, tlsPort := listen(t)
	authority := httpstest.New(t, tlsPort)
	dir := filepath.Join(t.TempDir(), "certificates")
	certs, err := https.New(https.Options{Hosts: []string{host}, Dir: dir, Directory: authority.Directory,
		Roots: authority.Roots,
		Email: "office@firm.example"})
	if err != nil {
		t.Fatal(err)
	}
	server := &http.Server{Handler: http.HandlerFunc(hello), TLSConfig: certs.TLS(),
		ErrorLog: log.New(io.Discard, "", 0)}
	go func() { _ = server.ServeTLS(secure, "", "") }()
	t.Cleanup(func() { server.Close() })
	if err := certs.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	visit := func(name string, highest uint16) error {
		client := &http.Client{Timeout: 20 * time.Second, Transport: &http.Transport{ForceAttemptHTTP2: true,
			TLSClientConfig: &tls.Config{RootCAs: authority.Issues, MaxVersion: highest},
			DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
				return (&net.Dialer{}).DialContext(ctx, "tcp", secure.Addr().String())
			}}}
		res, err := client.Get("https://" + name + "/")
		if err != nil {
			return err
		}
		body, err := io.ReadAll(res.Body)
		res.Body.Close()
		if string(body) != "hello" || res.ProtoMajor != 2 {
			t.Errorf("%s by %s", body, res.Proto)
		}
		return err
	}
	if err := visit(host, 0); err != nil {
		t.Error(err)
	}
	if err := visit("other.firm.example", 0); err == nil {
		t.Error("a name that was not given has a certificate")
	}
	if err := visit(host, tls.VersionTLS11); err == nil {
		t.Error("TLS 1.1 is spoken")
	}
	files, err := os.ReadDir(dir)
	if err != nil || len(files) < 2 {
		t.Errorf("%d files, %v", len(files), err)
	}
	for _, f := range files {
		if info, err := f.Info(); err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: %v, %v", f.Name(), info.Mode(), err)
		}
	}

	until, err := https.Expires(dir, host)
	if err != nil || time.Until(until) < 24*time.Hour {
		t.Errorf("the certificate is said to end %s, %v", until, err)
	}
	if until, err := https.Expires(dir, "other.firm.example"); err != nil || !until.IsZero() {
		t.Errorf("one that is not there ends %s, %v", until, err)
	}
	if err := os.WriteFile(filepath.Join(dir, "bad.example"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := https.Expires(dir, "bad.example"); err == nil {
		t.Error("a file that is none is taken for a certificate")
	}

	// The next start needs no authority.
	again, err := https.New(https.Options{Hosts: []string{host}, Dir: dir, Directory: "https://127.0.0.1:1/none"})
	if err != nil {
		t.Fatal(err)
	}
	if err := again.Run(t.Context()); err != nil {
		t.Error(err)
	}
	gone, err := https.New(https.Options{Hosts: []string{host}, Dir: t.TempDir(),
		Directory: "https://127.0.0.1:1/none"})
	if err != nil {
		t.Fatal(err)
	}
	goneErr := gone.Run(t.Context())
	if goneErr == nil || !strings.Contains(goneErr.Error(), "no certificate for "+host) {
		t.Errorf("without an authority: %v", goneErr)
	}
	if again := gone.Run(t.Context()); again == nil || !errors.Is(again, goneErr) {
		t.Errorf("asked again at once: %v", again)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	fresh, err := https.New(https.Options{Hosts: []string{host}, Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	if err := fresh.Run(ended); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// Plain http leads to the same page by https, to our own address whatever the
// request says, and carries no promise of https that nobody could believe.
func TestRedirects(t *testing.T) {
	certs, err := https.New(https.Options{Hosts: []string{host}, Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	plain, err := certs.Redirects("https://" + host + ":8443")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		method, host, path string
		status             int
		to                 string
	}{
		{"GET", host, "/r/abc?x=1", 301, "https://" + host + ":8443/r/abc?x=1"},
		{"HEAD", host + ":80", "/", 301, "https://" + host + ":8443/"},
		{"GET", strings.ToUpper(host), "//elsewhere.example/", 301, "https://" + host + ":8443//elsewhere.example/"},
		{"POST", host, "/sign-in", 400, ""},
		{"GET", "elsewhere.example", "/", 421, ""},
		{"GET", host, "/.well-known/acme-challenge/unknown", 404, ""},
		{"GET", "elsewhere.example", "/.well-known/acme-challenge/unknown", 403, ""},
	} {
		r := httptest.NewRequest(c.method, "http://"+c.host+c.path, nil)
		r.Host = c.host
		w := httptest.NewRecorder()
		plain.ServeHTTP(w, r)
		if w.Code != c.status || w.Header().Get("Location") != c.to ||
			w.Header().Get("Strict-Transport-Security") != "" {
			t.Errorf("%+v: %d %s", c, w.Code, w.Header())
		}
	}
	if _, err := certs.Redirects("http://" + host); err == nil {
		t.Error("redirects to plain http")
	}
}

func TestNamesThatCanHaveNone(t *testing.T) {
	t.Parallel()
	for _, hosts := range [][]string{nil, {"localhost"}, {"192.0.2.7"}, {"::1"}, {"*.firm.example"},
		{host, "https://firm.example"}, {"firm.example:443"}, {""}} {
		if _, err := https.New(https.Options{Hosts: hosts}); err == nil {
			t.Errorf("%q is taken", hosts)
		}
	}
}
