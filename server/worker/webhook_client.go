package worker

import (
	"errors"
	"net"
	"net/http"
	"net/netip"
	"syscall"
	"time"

	"gaugebook/records"
)

// errPrivate refuses an address that is not out on the internet.
var errPrivate = errors.New("the name leads to a private address, which is not called")

// plainProblem says what went wrong in words for the log, without what the
// network said: an error text must not tell of a network that the owner of
// the webhook cannot see.
func plainProblem(err error) error {
	var timeout net.Error
	switch {
	case errors.Is(err, errPrivate):
		return errPrivate
	case errors.As(err, &timeout) && timeout.Timeout():
		return errors.New("no answer in time")
	case errors.Is(err, syscall.ECONNREFUSED):
		return errors.New("the connection was refused")
	}
	var unknown *net.DNSError
	if errors.As(err, &unknown) {
		return errors.New("the name is not known")
	}
	return errors.New("the connection failed or was broken off")
}

// publicClient calls public addresses only, and this machine if loopback is
// allowed. The address is looked at when the connection is made, so that a
// name cannot lead elsewhere after it was checked. Redirects are not followed
// and no proxy is used.
func publicClient(loopback bool, patience time.Duration) *http.Client {
	dialer := &net.Dialer{Timeout: patience, Control: func(_, address string, _ syscall.RawConn) error {
		at, err := netip.ParseAddrPort(address)
		if err != nil || !mayCall(at.Addr(), loopback) {
			return errPrivate
		}
		return nil
	}}
	return &http.Client{
		Timeout:       patience,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{DialContext: dialer.DialContext, TLSHandshakeTimeout: patience,
			ResponseHeaderTimeout: patience,
			MaxIdleConns:          10, IdleConnTimeout: 30 * time.Second, MaxResponseHeaderBytes: 64 << 10},
	}
}

// mayCall reports whether an address may be called.
func mayCall(a netip.Addr, loopback bool) bool {
	if a.Unmap().WithZone("").IsLoopback() {
		return loopback
	}
	return records.PublicAddress(a)
}
