package worker

import (
	"errors"
	"net"
	"net/http"
	"net/netip"
	"syscall"
	"time"
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

// specialNetworks are the networks that are not out on the internet beside those that
// netip knows: the special-purpose registries of RFC 6890 and its updates.
// The last three embed an IPv4 address that could be a private one.
var specialNetworks = []netip.Prefix{
	netip.MustParsePrefix("0.0.0.0/8"), netip.MustParsePrefix("100.64.0.0/10"), netip.MustParsePrefix("192.0.0.0/24"),
	netip.MustParsePrefix("192.0.2.0/24"),
	netip.MustParsePrefix("192.88.99.0/24"), netip.MustParsePrefix("198.18.0.0/15"),
	netip.MustParsePrefix("198.51.100.0/24"), netip.MustParsePrefix("203.0.113.0/24"),
	netip.MustParsePrefix("240.0.0.0/4"), netip.MustParsePrefix("100::/64"), netip.MustParsePrefix("2001:db8::/32"),
	netip.MustParsePrefix("fec0::/10"),
	netip.MustParsePrefix("64:ff9b::/96"), netip.MustParsePrefix("64:ff9b:1::/48"), netip.MustParsePrefix("2001::/32"),
	netip.MustParsePrefix("2002::/16"), netip.MustParsePrefix("::/96"),
}

// mayCall reports whether an address may be called.
func mayCall(a netip.Addr, loopback bool) bool {
	a = a.Unmap().WithZone("")
	if a.IsLoopback() {
		return loopback
	}
	if !a.IsGlobalUnicast() || a.IsPrivate() || a.IsLinkLocalUnicast() {
		return false
	}
	for _, p := range specialNetworks {
		if p.Contains(a) {
			return false
		}
	}
	return true
}
