package account_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

// signInFrom tries from an address, through a proxy on this machine.
func signInFrom(c *servertest.Client, address, email, password string) int {
	c.Header.Set("X-Forwarded-For", address)
	return c.Post("/sign-in", url.Values{"email": {email}, "password": {password}}).Status
}

// One who guesses keeps nobody out but themselves, neither a colleague on a
// device that they have used nor one on a new device.
func TestGuessingLocksNobodyOut(t *testing.T) {
	site := servertest.Start(t, func(c *server.Config) { c.SignInPerMinute = 4 })
	email := site.People[records.RoleEngineer].Email
	known := site.Guest()
	if got := signInFrom(known, "192.0.2.10", email, servertest.Password); got != 303 {
		t.Fatalf("sign-in: %d", got)
	}
	known.Post("/sign-out", nil)

	guesser := site.Guest()
	refused := 0
	for range 40 {
		if signInFrom(guesser, "198.51.100.1", email, "guess guess guess") == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused < 30 {
		t.Errorf("%d of 40 guesses from one address were refused", refused)
	}
	if got := signInFrom(site.Guest(), "192.0.2.20", email, servertest.Password); got != 303 {
		t.Errorf("the person, from elsewhere on a new device: %d", got)
	}
	// Many addresses use the account's attempts up, but not those of the device.
	for i := range 40 {
		signInFrom(site.Guest(), "203.0.113."+string(rune('1'+i%9)), email, "guess guess guess")
	}
	if got := signInFrom(site.Guest(), "192.0.2.21", email, servertest.Password); got != http.StatusTooManyRequests {
		t.Errorf("a new device while many guess: %d", got)
	}
	if got := signInFrom(known, "192.0.2.10", email, servertest.Password); got != 303 {
		t.Errorf("the known device: %d", got)
	}
	known.Post("/sign-out", nil)
	// The device is known for its person only, and its own attempts run out too.
	for range 5 {
		signInFrom(known, "192.0.2.10", email, "guess guess guess")
	}
	if got := signInFrom(known, "192.0.2.10", email, servertest.Password); got != http.StatusTooManyRequests {
		t.Errorf("guesses on a known device are not counted: %d", got)
	}
}

// All clients of a proxy on this machine have limits of their own, and one /64
// has one.
func TestLimitsAreOfClientsBehindTheProxy(t *testing.T) {
	site := servertest.Start(t, func(c *server.Config) { c.SignInPerMinute = 2 })
	for _, address := range []string{"192.0.2.1", "192.0.2.2", "192.0.2.3", "2001:db8:0:1::1"} {
		if got := signInFrom(site.Guest(), address, "x"+address+"@tweddle.example", "guess"); got != 422 {
			t.Errorf("from %s: %d", address, got)
		}
	}
	signInFrom(site.Guest(), "2001:db8:0:1::2", "y@tweddle.example", "guess")
	if got := signInFrom(site.Guest(), "2001:db8:0:1::3", "z@tweddle.example", "guess"); got != 429 {
		t.Errorf("a third address of one /64: %d", got)
	}
}

// What is posted to sign in is not kept.
func TestSignInKeepsNothingThatIsPosted(t *testing.T) {
	site := servertest.Start(t)
	c := site.Guest()
	for size, want := range map[int]int{1_900_000: http.StatusRequestEntityTooLarge, 60_000: 422} {
		p := c.Post("/sign-in", url.Values{"email": {strings.Repeat("x", size)}, "password": {"p"}})
		if p.Status != want || len(p.Body) > 20_000 {
			t.Errorf("an address of %d signs: %d, answered with %d", size, p.Status, len(p.Body))
		}
	}
}

// What the browser keeps of the pages is cleared.
func TestSignOutClearsTheCache(t *testing.T) {
	site := servertest.Start(t)
	c := site.As(records.RoleEngineer)
	if p := c.Post("/sign-out", nil); p.Header.Get("Clear-Site-Data") != `"cache"` {
		t.Errorf("Clear-Site-Data: %q", p.Header.Get("Clear-Site-Data"))
	}
}
