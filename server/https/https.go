// Package https lets the server speak https itself, with certificates that it
// gets and renews by ACME (RFC 8555), for a machine without a proxy in front.
package https

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"
)

// Options say for which names certificates are got, and from whom.
type Options struct {
	Hosts []string // as browsers ask for them
	Dir   string   // that keys and certificates are kept in
	// Email is told by the authority when something is wrong with a certificate;
	// it may be blank.
	Email string
	// Directory is the ACME address of the authority; blank for the public one
	// that the library names.
	Directory string
	// Roots are trusted when talking to the authority; nil for those of the
	// machine.
	Roots *x509.CertPool
}

// Certificates gets certificates and keeps them in force.
type Certificates struct {
	hosts   []string
	manager *autocert.Manager
	now     func() time.Time

	failed error // of the last try, which was at
	tried  time.Time
}

// New checks the options. No certificate is asked for yet. Errors name the host
// that cannot have one.
func New(o Options) (*Certificates, error) {
	if len(o.Hosts) == 0 {
		return nil, errors.New("no name to get a certificate for")
	}
	for _, host := range o.Hosts {
		if net.ParseIP(host) != nil || !strings.Contains(host, ".") || strings.ContainsAny(host, ":/*@ ") {
			return nil, fmt.Errorf("%q: give a name such as records.firm.example", host)
		}
	}
	client := &acme.Client{DirectoryURL: o.Directory, UserAgent: "gaugebook"}
	if o.Roots != nil {
		transport := http.DefaultTransport.(*http.Transport).Clone()
		transport.TLSClientConfig = &tls.Config{RootCAs: o.Roots, MinVersion: tls.VersionTLS12}
		client.HTTPClient = &http.Client{Transport: transport}
	}
	return &Certificates{hosts: o.Hosts, now: time.Now, manager: &autocert.Manager{Prompt: autocert.AcceptTOS,
		Cache: autocert.DirCache(o.Dir), HostPolicy: autocert.HostWhitelist(o.Hosts...), Email: o.Email,
		Client: client}}, nil
}

// TLS is how to answer browsers, and the authority's questions.
func (c *Certificates) TLS() *tls.Config {
	config := c.manager.TLSConfig()
	config.MinVersion = tls.VersionTLS12
	return config
}

// leastLeft is how long a certificate must still hold: they are renewed a month
// before their end, or after two thirds of their time.
const leastLeft = 3 * 24 * time.Hour

// nextTry is how long after a failure the authority is asked again: it counts
// failures, and gives nothing for a while to who has many.
const nextTry = 20 * time.Minute

// Run gets the certificates that are not there yet, so that the first visitor
// need not wait, and says when one cannot be had or renewed. It is run now and
// then, not by two at once.
func (c *Certificates) Run(ctx context.Context) error {
	if c.failed != nil && c.now().Sub(c.tried) < nextTry {
		return c.failed
	}
	err := c.get(ctx)
	c.failed, c.tried = err, c.now()
	if ctx.Err() != nil {
		c.failed = nil
	}
	return err
}

func (c *Certificates) get(ctx context.Context) error {
	var errs []error
	for _, host := range c.hosts {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		cert, err := c.manager.GetCertificate(&tls.ClientHelloInfo{ServerName: host,
			CipherSuites:     []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256},
			SignatureSchemes: []tls.SignatureScheme{tls.ECDSAWithP256AndSHA256},
			SupportedCurves:  []tls.CurveID{tls.CurveP256}})
		if err != nil {
			errs = append(errs, fmt.Errorf("no certificate for %s: %w", host, err))
			continue
		}
		life := cert.Leaf.NotAfter.Sub(cert.Leaf.NotBefore)
		if left := cert.Leaf.NotAfter.Sub(c.now()); left < min(leastLeft, life/6) {
			errs = append(errs, fmt.Errorf("the certificate for %s ends on %s and has not been renewed", host,
				cert.Leaf.NotAfter.Format(time.RFC3339)))
		}
	}
	return errors.Join(errs...)
}

// Expires returns until when the certificate for a name holds that is kept in a
// folder; the zero time if there is none.
func Expires(dir, host string) (time.Time, error) {
	rest, err := autocert.DirCache(dir).Get(context.Background(), host)
	if errors.Is(err, autocert.ErrCacheMiss) {
		return time.Time{}, nil
	}
	for err == nil {
		var block *pem.Block
		if block, rest = pem.Decode(rest); block == nil {
			return time.Time{}, fmt.Errorf("there is no certificate in what is kept for %s", host)
		}
		if block.Type == "CERTIFICATE" {
			leaf, err := x509.ParseCertificate(block.Bytes)
			if err != nil {
				return time.Time{}, err
			}
			return leaf.NotAfter, nil
		}
	}
	return time.Time{}, err
}

// Redirects answers plain http: the authority's questions, and everybody else
// with the same page at the address of the server. What was posted was already
// sent in the clear, so it is refused.
func (c *Certificates) Redirects(base string) (http.Handler, error) {
	to, err := url.Parse(base)
	if err != nil || to.Scheme != "https" {
		return nil, fmt.Errorf("%q is not an https address", base)
	}
	return c.manager.HTTPHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host, _, err := net.SplitHostPort(r.Host)
		if err != nil {
			host = r.Host
		}
		switch {
		case !slices.Contains(c.hosts, strings.ToLower(host)):
			http.Error(w, "no such server", http.StatusMisdirectedRequest)
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			http.Error(w, "come by https", http.StatusBadRequest)
		default:
			http.Redirect(w, r, "https://"+to.Host+r.URL.RequestURI(), http.StatusMovedPermanently)
		}
	})), nil
}
