// Package signin is what an account can ask for besides its password, without
// HTTP: one-time codes from an app (RFC 6238), recovery codes, and passkeys
// (W3C Web Authentication).
package signin

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"strings"
	"sync"
	"time"

	"github.com/go-webauthn/webauthn/webauthn"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
)

// Steps sets up and checks the second step of accounts. Make it with New.
type Steps struct {
	app   *app.App
	steps store.SecondSteps
	// passkeys is nil where the server is reached by an IP address, or not at all.
	passkeys *webauthn.WebAuthn
	host     string
	asked    *challenges
	warned   hourly // who was told of guesses at their codes
}

// New returns the second steps of the accounts of a register.
func New(a *app.App) (*Steps, error) {
	s := &Steps{app: a, steps: a.Store.SecondSteps, asked: newChallenges(a.Now),
		warned: hourly{last: map[string]time.Time{}}}
	base, err := url.Parse(a.BaseURL)
	if err != nil {
		return nil, err
	}
	if base.Hostname() == "" || net.ParseIP(base.Hostname()) != nil {
		return s, nil
	}
	s.host = strings.ToLower(base.Hostname())
	s.passkeys, err = webauthn.New(&webauthn.Config{RPID: s.host, RPDisplayName: "Gaugebook",
		RPOrigins: []string{base.Scheme + "://" + base.Host}})
	if err != nil {
		return nil, fmt.Errorf("passkeys for %s: %w", s.host, err)
	}
	return s, nil
}

// Host is the name that passkeys are bound to, "" where there can be none: they
// need a host name, and the base URL has an IP address.
func (s *Steps) Host() string { return s.host }

// Of returns what the account of a person asks for.
func (s *Steps) Of(ctx context.Context, personID string) (records.SecondStep, error) {
	return s.steps.Of(ctx, personID)
}

// Check checks what somebody entered as their second step: a one-time code or a
// recovery code. It returns which it was, in words. Kinds: Invalid.
func (s *Steps) Check(ctx context.Context, p records.Person, entered string) (by string, err error) {
	code := tidied(entered)
	if isRecoveryCode(code) {
		return records.ByRecoveryCode, s.useRecovery(ctx, p, code)
	}
	return records.ByCode, s.useCode(ctx, p, code)
}

// RemoveCodes takes the one-time codes away from a person's account. Kinds:
// NotFound; Conflict.
func (s *Steps) RemoveCodes(ctx context.Context, p records.Person) error {
	return s.told(ctx, p, p.Actor(), "One-time codes were switched off", func(letters []records.Message) error {
		return s.steps.RemoveCodes(ctx, p.Actor(), p.ID, letters...)
	})
}

// TakeAway takes everything away that the account with an address asks for
// besides its password, for somebody who has lost it all, and ends the sessions.
// Kinds: NotFound.
func (s *Steps) TakeAway(ctx context.Context, by records.Actor, p records.Person) error {
	return s.told(ctx, p, by, "One-time codes, recovery codes and passkeys were taken away",
		func(letters []records.Message) error { return s.steps.TakeAway(ctx, by, p.ID, letters...) })
}

// AskOwners has the firm ask its owners for a second step, or no longer, and
// tells them. Kinds: Conflict.
func (s *Steps) AskOwners(ctx context.Context, by records.Actor, ask bool) error {
	people, err := s.app.Store.People.List(ctx)
	if err != nil {
		return err
	}
	what := "A second step of signing in is no longer asked of owners"
	if ask {
		what = "From now on owners need more than a password: one-time codes or a passkey were made a condition"
	}
	var letters []records.Message
	for _, p := range people {
		if p.Role != records.RoleOwner || !p.Active {
			continue
		}
		more, err := app.TellHolder(ctx, s.app, p, by, what, p.Email)
		if err != nil {
			return err
		}
		letters = append(letters, more...)
	}
	if err := s.steps.AskOwners(ctx, by, ask, letters...); err != nil {
		return err
	}
	s.mailWaiting()
	return nil
}

// EndSession ends one session of a person, and EndSessions all but one; "" keeps
// none. Kinds: NotFound.
func (s *Steps) EndSession(ctx context.Context, p records.Person, id string) error {
	return s.told(ctx, p, p.Actor(), "One of your sessions was ended", func(letters []records.Message) error {
		return s.app.Store.SignIns.End(ctx, p.Actor(), p.ID, id, "ended by "+p.Name, letters...)
	})
}

// EndSessions ends the sessions of a person but one and returns how many.
func (s *Steps) EndSessions(ctx context.Context, by records.Actor, p records.Person, but string) (n int, err error) {
	what := "Everybody who was signed in with your account was signed out"
	if but != "" {
		what = "All your other sessions were ended"
	}
	err = s.told(ctx, p, by, what, func(letters []records.Message) error {
		n, err = s.app.Store.SignIns.EndAll(ctx, by, p.ID, but, "ended by "+by.Name, letters...)
		return err
	})
	return n, err
}

// told makes the letters that tell the holder of an account what has changed, and
// has them sent once the change is made.
func (s *Steps) told(ctx context.Context, p records.Person, by records.Actor, what string,
	change func([]records.Message) error) error {
	letters, err := app.TellHolder(ctx, s.app, p, by, what, p.Email)
	if err != nil {
		return err
	}
	if err := change(letters); err != nil {
		return err
	}
	s.mailWaiting()
	return nil
}

func (s *Steps) mailWaiting() {
	if s.app.MailWaiting != nil {
		s.app.MailWaiting()
	}
}

// WarnOfGuesses tells a person, once an hour at most, that somebody who knows
// their password keeps giving wrong codes.
func (s *Steps) WarnOfGuesses(ctx context.Context, p records.Person) error {
	if !s.warned.first(p.ID, s.app.Now()) {
		return nil
	}
	return s.told(ctx, p, records.SystemActor, "Several wrong codes were given after the right password",
		func(letters []records.Message) error {
			_, err := s.app.Store.Outbox.Enqueue(ctx, records.SystemActor, letters...)
			return err
		})
}

// hourly remembers what was done within the last hour.
type hourly struct {
	mu   sync.Mutex
	last map[string]time.Time
}

// first reports whether something has not been done within the hour, and notes
// that it is done now.
func (h *hourly) first(name string, now time.Time) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	for n, at := range h.last {
		if now.Sub(at) >= time.Hour {
			delete(h.last, n)
		}
	}
	if _, done := h.last[name]; done {
		return false
	}
	h.last[name] = now
	return true
}
