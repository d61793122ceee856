package mail

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"
	"time"
)

// Encryption says how the connection to the server is protected.
type Encryption string

const (
	// EncryptNone sends in the clear: for a server on the same machine.
	EncryptNone Encryption = "none"
	// EncryptStartTLS begins in the clear and insists on STARTTLS (RFC 3207):
	// a server that does not offer it is refused.
	EncryptStartTLS Encryption = "starttls"
	// EncryptTLS encrypts from the first byte (RFC 8314).
	EncryptTLS Encryption = "tls"
)

const (
	defaultTimeout = 30 * time.Second
	// RFC 5321 section 4.5.3.2.6 asks a client to wait ten minutes for the
	// answer to the last line: giving up earlier makes letters Unsure.
	defaultAcceptTimeout = 10 * time.Minute
)

// SMTP sends each letter over a connection of its own to one submission server.
type SMTP struct {
	Host     string
	Port     int // 0: 587 for starttls, 465 for tls, 25 for none
	Username string
	// Password is never written to a log or an error by this package.
	Password   string
	Encryption Encryption
	// HELO is the name this machine gives itself; empty means its host name.
	HELO string
	// Timeout limits each single step, not the whole; 0 means 30 s.
	Timeout time.Duration
	// AcceptTimeout limits the wait for the answer to the last line of the
	// letter; 0 means 10 min.
	AcceptTimeout time.Duration
	// Roots are the certificates trusted; nil means those of the system.
	Roots *x509.CertPool
}

// String leaves the password out.
func (s SMTP) String() string {
	return fmt.Sprintf("smtp %s (%s, user %q)", s.address(), s.Encryption, s.Username)
}

// GoString leaves the password out as well.
func (s SMTP) GoString() string { return s.String() }

// Validate reports the first setting that cannot be used, as a *FieldError.
func (s SMTP) Validate() error {
	if s.Host == "" || strings.ContainsFunc(s.Host, notInHost) {
		return &FieldError{"Host", s.Host, "the server's name or IP address"}
	}
	if s.Port < 0 || s.Port > 65535 {
		return &FieldError{"Port", strconv.Itoa(s.Port), "1 to 65535, or 0 for the usual port"}
	}
	switch s.Encryption {
	case EncryptNone, EncryptStartTLS, EncryptTLS:
	default:
		return &FieldError{"Encryption", string(s.Encryption), "none, starttls or tls"}
	}
	if strings.ContainsFunc(s.HELO, notInHost) {
		return &FieldError{"HELO", s.HELO, "a host name, or empty for this machine's own"}
	}
	if s.Username == "" && s.Password != "" {
		return &FieldError{"Username", "", "a name to go with the password"}
	}
	if s.Username != "" && s.Encryption == EncryptNone && !isLoopback(s.Host) {
		return &FieldError{"Encryption", string(s.Encryption),
			"starttls or tls: a password is not sent in the clear to another machine"}
	}
	if s.Timeout < 0 || s.AcceptTimeout < 0 {
		return &FieldError{"Timeout", s.Timeout.String() + ", " + s.AcceptTimeout.String(), "0 or more"}
	}
	return nil
}

func notInHost(r rune) bool { return r <= ' ' || r > '~' || strings.ContainsRune("/@<>", r) }

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (s SMTP) address() string {
	port := s.Port
	if port == 0 {
		port = map[Encryption]int{EncryptNone: 25, EncryptStartTLS: 587, EncryptTLS: 465}[s.Encryption]
	}
	return net.JoinHostPort(s.Host, strconv.Itoa(port))
}

func (s SMTP) tlsConfig() *tls.Config {
	return &tls.Config{ServerName: s.Host, RootCAs: s.Roots, MinVersion: tls.VersionTLS12}
}

func (s SMTP) helo() string {
	if s.HELO != "" {
		return s.HELO
	}
	name, err := os.Hostname()
	if err != nil || name == "" || strings.ContainsFunc(name, notInHost) {
		return "localhost"
	}
	return name
}

func orDefault(d, fallback time.Duration) time.Duration {
	if d == 0 {
		return fallback
	}
	return d
}
