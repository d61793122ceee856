// Package httpstest is a real certificate authority on loopback, for tests.
package httpstest

import (
	"crypto/x509"
	"encoding/binary"
	"encoding/pem"
	"io"
	"log"
	"net"
	"net/http/httptest"
	"testing"

	"github.com/letsencrypt/pebble/v2/ca"
	"github.com/letsencrypt/pebble/v2/db"
	"github.com/letsencrypt/pebble/v2/va"
	"github.com/letsencrypt/pebble/v2/wfe"
	"golang.org/x/net/dns/dnsmessage"
)

// names is a name server that has every name be this machine.
func names(t testing.TB) (address string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				defer conn.Close()
				for answerName(conn) == nil {
				}
			}()
		}
	}()
	return l.Addr().String()
}

func answerName(conn net.Conn) error {
	var length uint16
	if err := binary.Read(conn, binary.BigEndian, &length); err != nil {
		return err
	}
	buf := make([]byte, length)
	if _, err := io.ReadFull(conn, buf); err != nil {
		return err
	}
	var m dnsmessage.Message
	if err := m.Unpack(buf); err != nil {
		return err
	}
	m.Response, m.Additionals = true, nil
	if q := m.Questions[0]; q.Type == dnsmessage.TypeA {
		m.Answers = []dnsmessage.Resource{{
			Header: dnsmessage.ResourceHeader{Name: q.Name, Type: q.Type, Class: q.Class},
			Body:   &dnsmessage.AResource{A: [4]byte{127, 0, 0, 1}},
		}}
	}
	out, err := m.Pack()
	if err != nil {
		return err
	}
	_, err = conn.Write(append(binary.BigEndian.AppendUint16(nil, uint16(len(out))), out...))
	return err
}

// Authority is a certificate authority that speaks ACME on loopback.
type Authority struct {
	Directory string         // its address
	Roots     *x509.CertPool // what to trust when talking to it
	PEM       []byte         // the same
	Issues    *x509.CertPool // what its certificates are trusted by
}

// New starts an authority that asks back at a port of this machine, whatever
// name a certificate is asked for.
func New(t testing.TB, tlsPort int) Authority {
	t.Helper()
	t.Setenv("PEBBLE_VA_NOSLEEP", "1")
	t.Setenv("PEBBLE_WFE_NONCEREJECT", "0")
	quiet, memory := log.New(io.Discard, "", 0), db.NewMemoryStore()
	issuer := ca.New(quiet, memory, "", "ecdsa", 0, 1, map[string]ca.Profile{"default": {Description: "default"}})
	front := wfe.New(quiet, memory, va.New(quiet, 1, tlsPort, true, names(t), memory), issuer,
		[]string{"authority.example"}, true, false, 0, 0)
	server := httptest.NewTLSServer(front.Handler())
	t.Cleanup(server.Close)
	a := Authority{Directory: server.URL + wfe.DirectoryPath, Roots: x509.NewCertPool(), Issues: x509.NewCertPool(),
		PEM: pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw})}
	a.Roots.AddCert(server.Certificate())
	a.Issues.AddCert(issuer.GetRootCert(0).Cert)
	return a
}
