package worker

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"testing"
	"time"
)

// Special-purpose addresses as in RFC 6890 (Special-Purpose IP Address
// Registries), and public ones beside them.
func TestMayCall(t *testing.T) {
	for address, want := range map[string]bool{
		"8.8.8.8": true, "1.1.1.1": true, "99.255.255.255": true, "100.128.0.1": true, "172.15.0.1": true,
		"172.32.0.1": true, "198.20.0.1": true, "2606:4700::1111": true, "2a00::1": true,
		"10.1.2.3": false, "172.16.0.1": false, "172.31.255.255": false, "192.168.1.1": false,
		"169.254.169.254": false, "100.64.0.1": false, "0.0.0.0": false, "0.1.2.3": false,
		"127.0.0.1": false, "127.9.9.9": false, "::1": false, "::": false, "224.0.0.1": false,
		"255.255.255.255": false, "240.0.0.1": false, "198.18.0.1": false,
		"192.0.2.1": false, "198.51.100.7": false, "203.0.113.9": false, "192.0.0.8": false, "fe80::1": false,
		"fc00::1": false, "fd12::1": false, "ff02::1": false, "2001:db8::1": false,
		"::ffff:10.0.0.1": false, "::ffff:127.0.0.1": false, "::ffff:8.8.8.8": true, "64:ff9b::a00:1": false,
		"2002:a00:1::1": false, "::10.0.0.1": false, "2001::1": false, "fec0::1": false, "fe80::1%eth0": false,
	} {
		if got := mayCall(netip.MustParseAddr(address), false); got != want {
			t.Errorf("%s may be called: %v", address, got)
		}
	}
	for _, address := range []string{"127.0.0.1", "::1", "::ffff:127.0.0.1"} {
		if !mayCall(netip.MustParseAddr(address), true) {
			t.Errorf("%s is refused though loopback is allowed", address)
		}
	}
	if mayCall(netip.MustParseAddr("10.0.0.1"), true) {
		t.Error("allowing loopback allows a private network")
	}
}

// The address is looked at when the connection is made, so a name that leads
// to this machine is refused whatever it was when it was registered.
func TestClientCallsNoPrivateAddress(t *testing.T) {
	called := false
	here := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { called = true }))
	defer here.Close()
	port := here.Listener.Addr().String()[len("127.0.0.1"):]
	for _, target := range []string{here.URL, "http://localhost" + port, "http://[::ffff:127.0.0.1]" + port,
		"http://0.0.0.0" + port, "http://127.1" + port} {
		res, err := publicClient(false, 2*time.Second).Get(target)
		if err == nil {
			res.Body.Close()
		}
		if err == nil || called {
			t.Errorf("%s was called", target)
		}
		if target == here.URL && !errors.Is(err, errPrivate) {
			t.Errorf("%s: %v", target, err)
		}
	}
	if res, err := publicClient(true, 2*time.Second).Get(here.URL); err != nil || !called {
		t.Errorf("allowed, but %v", err)
	} else {
		res.Body.Close()
	}
}

// The signature is what any tool computes: checked against the HMAC-SHA256 of
// `openssl dgst -sha256 -hmac gbw_secret` over "1764061200.{}".
func TestSignEvent(t *testing.T) {
	const want = "e2bcc373595422e06d53365f2fe3c56e97a1daec48d5a4941a6b58fa004bbfb6"
	if got := SignEvent("gbw_secret", 1764061200, []byte("{}")); got != want {
		t.Errorf("got %s", got)
	}
}
