package mail_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"io"
	"math/big"
	"net"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	smtpd "github.com/emersion/go-smtp"

	"gaugebook/server/mail"
)

// mailServer is a real SMTP server on loopback whose answers a test sets.
type mailServer struct {
	mu       sync.Mutex
	letters  []received
	sender   error   // answer to MAIL FROM
	rcpt     []error // answers to RCPT TO, first to last; then accept
	data     []error // answers to the content, likewise
	user     string
	password string
	mechs    []string
	server   *smtpd.Server
}

type received struct {
	from, to string
	options  smtpd.MailOptions
	content  []byte
	secure   bool
	signedIn string
}

func (s *mailServer) got() []received {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]received(nil), s.letters...)
}

// start listens and gives the settings that reach the server in the clear.
func (s *mailServer) start(t *testing.T, implicit *tls.Config) mail.SMTP {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	where := settingsFor(t, l)
	if implicit != nil {
		l = tls.NewListener(l, implicit)
	}
	if s.server == nil {
		s.server = &smtpd.Server{}
	}
	fresh := smtpd.NewServer(smtpd.BackendFunc(func(c *smtpd.Conn) (smtpd.Session, error) {
		return &session{server: s, conn: c}, nil
	}))
	fresh.Domain = "mx.example.test"
	fresh.TLSConfig = s.server.TLSConfig
	fresh.MaxMessageBytes = s.server.MaxMessageBytes
	fresh.EnableSMTPUTF8 = s.server.EnableSMTPUTF8
	fresh.AllowInsecureAuth = s.server.AllowInsecureAuth
	fresh.ErrorLog = quiet{}
	s.server = fresh
	done := make(chan struct{})
	go func() { defer close(done); _ = fresh.Serve(l) }()
	t.Cleanup(func() { _ = fresh.Close(); _ = l.Close(); <-done })
	return where
}

func settingsFor(t *testing.T, l net.Listener) mail.SMTP {
	t.Helper()
	host, portText, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	port, err := strconv.Atoi(portText)
	if err != nil {
		t.Fatal(err)
	}
	return mail.SMTP{Host: host, Port: port, Encryption: mail.EncryptNone, HELO: "office.example.test",
		Timeout: time.Minute}
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

type session struct {
	server   *mailServer
	conn     *smtpd.Conn
	letter   received
	signedIn string
}

func next(answers *[]error) error {
	if len(*answers) == 0 {
		return nil
	}
	err := (*answers)[0]
	*answers = (*answers)[1:]
	return err
}

func (s *session) Mail(from string, opts *smtpd.MailOptions) error {
	s.server.mu.Lock()
	defer s.server.mu.Unlock()
	if s.server.user != "" && s.signedIn == "" {
		return &smtpd.SMTPError{Code: 530, EnhancedCode: smtpd.EnhancedCode{5, 7, 0},
			Message: "Authentication required"}
	}
	_, secure := s.conn.TLSConnectionState()
	s.letter = received{from: from, options: *opts, secure: secure, signedIn: s.signedIn}
	return s.server.sender
}

func (s *session) Rcpt(to string, _ *smtpd.RcptOptions) error {
	s.server.mu.Lock()
	defer s.server.mu.Unlock()
	s.letter.to = to
	return next(&s.server.rcpt)
}

func (s *session) Data(r io.Reader) error {
	content, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	s.server.mu.Lock()
	defer s.server.mu.Unlock()
	if err := next(&s.server.data); err != nil {
		return err
	}
	s.letter.content = content
	s.server.letters = append(s.server.letters, s.letter)
	return nil
}

func (s *session) Reset()        {}
func (s *session) Logout() error { return nil }

func (s *session) AuthMechanisms() []string { return s.server.mechs }

func (s *session) Auth(mech string) (sasl.Server, error) {
	check := func(user, password string) error {
		if user != s.server.user || password != s.server.password {
			return &smtpd.SMTPError{Code: 535, EnhancedCode: smtpd.EnhancedCode{5, 7, 8},
				Message: "Credentials invalid"}
		}
		s.signedIn = mech + " " + user
		return nil
	}
	switch mech {
	case "PLAIN":
		return sasl.NewPlainServer(func(_, user, password string) error { return check(user, password) }), nil
	case "LOGIN":
		return &loginServer{check: check}, nil
	}
	return nil, errors.New("no such mechanism")
}

// loginServer is the server's side of LOGIN, which the SASL library no longer has.
type loginServer struct {
	check func(user, password string) error
	step  int
	user  string
}

func (l *loginServer) Next(response []byte) ([]byte, bool, error) {
	l.step++
	switch l.step {
	case 1:
		return []byte("Username:"), false, nil
	case 2:
		l.user = string(response)
		return []byte("Password:"), false, nil
	}
	return nil, true, l.check(l.user, string(response))
}

// certificate makes a throw-away authority for 127.0.0.1.
func certificate(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test only"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(cert)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}, pool
}
