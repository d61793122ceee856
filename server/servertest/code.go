package servertest

import (
	"encoding/base32"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"
)

var (
	shownSecret   = regexp.MustCompile(`<p class="code">([A-Z2-7 ]{39})</p>`)
	shownRecovery = regexp.MustCompile(`<li class="code">([a-z2-7-]{19})</li>`)
)

// Phone is somebody's app for one-time codes. They are worked out by a library
// that the server does not use.
type Phone struct {
	tb       testing.TB
	site     *Site
	Secret   string   // as the page showed it
	Recovery []string // codes that the person wrote down
}

// SetUpCodes sets up one-time codes as a person does, and returns their phone and
// the page that comes of it.
func (s *Site) SetUpCodes(c *Client) (*Phone, Page) {
	s.tb.Helper()
	p := c.Post("/account/codes", nil)
	m := shownSecret.FindStringSubmatch(p.Body)
	if p.Status != http.StatusOK || m == nil {
		s.tb.Fatalf("one-time codes are not begun: %d %s\n%s", p.Status, p.Location, Clip(p.Body))
	}
	phone := &Phone{tb: s.tb, site: s, Secret: strings.ReplaceAll(m[1], " ", "")}
	p = c.Post("/account/codes/confirm", Form("code", phone.Code()))
	if p.Status >= http.StatusBadRequest {
		s.tb.Fatalf("the first code is not accepted: %d\n%s", p.Status, Clip(p.Body))
	}
	phone.Recovery = RecoveryCodes(p.Body)
	return phone, p
}

// RecoveryCodes reads them from the page that shows them.
func RecoveryCodes(body string) (codes []string) {
	for _, m := range shownRecovery.FindAllStringSubmatch(body, -1) {
		codes = append(codes, m[1])
	}
	return codes
}

// Code is what the phone shows next: the clock goes on by half a minute, since a
// code counts once.
func (p *Phone) Code() string {
	p.tb.Helper()
	p.site.Clock.Set(p.site.App.Now().Add(30 * time.Second))
	return OneTimeCode(p.tb, p.Secret, p.site.App.Now())
}

// OneTimeCode is what an app for one-time codes shows at an instant.
func OneTimeCode(tb testing.TB, secret string, at time.Time) string {
	tb.Helper()
	if _, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(secret); err != nil || secret == "" {
		tb.Fatalf("the secret is %q: %v", secret, err)
	}
	code, err := totp.GenerateCode(secret, at)
	if err != nil {
		tb.Fatal(err)
	}
	return code
}
