package signin_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/descope/virtualwebauthn"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/servertest"
	"gaugebook/server/signin"
)

// device is somebody's device, which makes and uses passkeys without a browser.
type device struct {
	t    *testing.T
	rp   virtualwebauthn.RelyingParty
	auth virtualwebauthn.Authenticator
	key  virtualwebauthn.Credential
}

const origin = "https://book.tweddle.example:8443"

func newDevice(t *testing.T, p records.Person) *device {
	return &device{t: t,
		rp: virtualwebauthn.RelyingParty{ID: "book.tweddle.example", Name: "Gaugebook", Origin: origin},
		auth: virtualwebauthn.NewAuthenticatorWithOptions(virtualwebauthn.AuthenticatorOptions{UserHandle: []byte(p.ID),
			BackupEligible: true}),
		key: virtualwebauthn.NewCredential(virtualwebauthn.KeyTypeEC2)}
}

func asJSON(t *testing.T, options any, err error) string {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(options)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// made answers what Add wants.
func (d *device) made(options any, err error) string {
	d.t.Helper()
	asked, err := virtualwebauthn.ParseAttestationOptions(asJSON(d.t, options, err))
	if err != nil {
		d.t.Fatal(err)
	}
	return virtualwebauthn.CreateAttestationResponse(d.rp, d.auth, d.key, *asked)
}

// signed answers what Answered wants.
func (d *device) signed(options any, err error) string {
	d.t.Helper()
	asked, err := virtualwebauthn.ParseAssertionOptions(asJSON(d.t, options, err))
	if err != nil {
		d.t.Fatal(err)
	}
	return virtualwebauthn.CreateAssertionResponse(d.rp, d.auth, d.key, *asked)
}

// site is a register reached at a host of its own.
type site struct {
	*servertest.Site
	steps *signin.Steps
	maud  records.Person
}

func start(t *testing.T) site {
	t.Helper()
	s := servertest.Start(t)
	changed := *s.App
	changed.BaseURL = origin
	steps, err := signin.New(&changed)
	if err != nil {
		t.Fatal(err)
	}
	return site{s, steps, s.People[records.RoleEngineer]}
}

// letters are what the holder of an account was told, the newest first.
func (s site) letters(t *testing.T) (said []string) {
	t.Helper()
	all, _, err := s.Store.Outbox.Find(t.Context(), store.OutboxQuery{})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range all {
		if m.Kind == records.AccountKind {
			said = append(said, m.Text)
		}
	}
	return said
}

// later moves the clock: no two letters are of one instant.
func (s site) later(by time.Duration) { s.Clock.Set(s.App.Now().Add(by)) }

func (s site) added(t *testing.T) *device {
	t.Helper()
	d := newDevice(t, s.maud)
	recovery, err := s.steps.Add(t.Context(), s.maud, "work phone", d.made(s.steps.AskToAdd(t.Context(), s.maud)))
	if err != nil || len(recovery) != 10 {
		t.Fatalf("%d recovery codes, %v", len(recovery), err)
	}
	return d
}

func TestPasskeyFromAddingToRemoval(t *testing.T) {
	s := start(t)
	ctx := t.Context()
	d := s.added(t)
	for i := range 3 {
		d.key.Counter = uint32(i + 1)
		p, err := s.steps.Answered(ctx, records.Person{}, d.signed(s.steps.Ask(ctx, records.Person{})))
		if err != nil || p.ID != s.maud.ID {
			t.Fatalf("sign-in %d: %s, %v", i, p.ID, err)
		}
	}
	d.key.Counter++
	if p, err := s.steps.Answered(ctx, s.maud, d.signed(s.steps.Ask(ctx, s.maud))); err != nil || p.ID != s.maud.ID {
		t.Errorf("confirmed: %v", err)
	}
	has, err := s.steps.Of(ctx, s.maud.ID)
	if err != nil || len(has.Passkeys) != 1 || has.Passkeys[0].Count != d.key.Counter || has.Recovery != 10 {
		t.Errorf("on file: %+v, %v", has, err)
	}
	second := newDevice(t, s.maud)
	s.later(time.Second)
	if recovery, err := s.steps.Add(ctx, s.maud, "tablet", second.made(s.steps.AskToAdd(ctx, s.maud))); err != nil ||
		len(recovery) != 0 {
		t.Errorf("a second one: %d recovery codes, %v", len(recovery), err)
	}
	if err := s.steps.Rename(ctx, s.maud, has.Passkeys[0].ID, "old phone"); err != nil {
		t.Error(err)
	}
	s.later(time.Second)
	if err := s.steps.Remove(ctx, s.maud, has.Passkeys[0].ID); err != nil {
		t.Error(err)
	}
	d.key.Counter++
	if _, err := s.steps.Answered(ctx, records.Person{},
		d.signed(s.steps.Ask(ctx, records.Person{}))); records.KindOf(err) != records.Invalid {
		t.Errorf("a removed one: %v", err)
	}
	said := strings.Join(s.letters(t), "\n")
	if strings.Count(said, "A passkey was added") != 2 || !strings.Contains(said, "A passkey was removed") {
		t.Errorf("told %s", said)
	}
}

// Whatever does not hold is refused in the same words, and nothing on file
// changes.
func TestPasskeyAnswersRefused(t *testing.T) {
	s := start(t)
	ctx := t.Context()
	good := s.added(t)
	good.key.Counter = 10
	if _, err := s.steps.Answered(ctx, s.maud, good.signed(s.steps.Ask(ctx, s.maud))); err != nil {
		t.Fatal(err)
	}
	nobody := records.Person{}
	for name, answer := range map[string]func(d *device) string{
		"another origin": func(d *device) string {
			d.rp.Origin = "https://book.tweddle.example" // without the port
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"a site of nearly the same name": func(d *device) string {
			d.rp.Origin = "https://book.tweddle.example.evil.example:8443"
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"another host's passkey": func(d *device) string {
			d.rp.ID = "tweddle.example"
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"user not verified": func(d *device) string {
			d.auth.Options.UserNotVerified = true
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"nobody at the device": func(d *device) string {
			d.auth.Options.UserNotPresent = true
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"another key": func(d *device) string {
			id := d.key.ID
			d.key = virtualwebauthn.NewCredential(virtualwebauthn.KeyTypeEC2)
			d.key.ID, d.key.Counter = id, 99
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"a passkey that is not on file": func(d *device) string {
			d.key = virtualwebauthn.NewCredential(virtualwebauthn.KeyTypeEC2)
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"of another person": func(d *device) string {
			d.auth.Options.UserHandle = []byte(s.People[records.RoleOwner].ID)
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"other backup flags": func(d *device) string {
			d.auth.Options.BackupEligible = false
			return d.signed(s.steps.Ask(ctx, nobody))
		},
		"answered too late": func(d *device) string {
			answer := d.signed(s.steps.Ask(ctx, nobody))
			s.later(6 * time.Minute)
			return answer
		},
		"answered twice": func(d *device) string {
			answer := d.signed(s.steps.Ask(ctx, nobody))
			d.key.Counter--
			if _, err := s.steps.Answered(ctx, nobody, answer); err != nil {
				t.Errorf("the first time: %v", err)
			}
			return answer
		},
		"of a challenge to confirm": func(d *device) string { return d.signed(s.steps.Ask(ctx, s.maud)) },
		"of a challenge to add":     func(d *device) string { return d.signed(s.steps.AskToAdd(ctx, s.maud)) },
		"not JSON":                  func(*device) string { return "{" },
		"nothing":                   func(*device) string { return "" },
		"an empty object":           func(*device) string { return "{}" },
	} {
		d := *good
		if name != "answered twice" {
			d.key.Counter = 50
		} else {
			d.key.Counter = 11
		}
		if p, err := s.steps.Answered(ctx, nobody, answer(&d)); records.KindOf(err) != records.Invalid ||
			err.Error() != "Passkey: it was not accepted; try again, or use another way" {
			t.Errorf("%s: %s let in, %v", name, p.Name, err)
		}
	}
	has, err := s.steps.Of(ctx, s.maud.ID)
	if err != nil || has.Passkeys[0].Count != 11 {
		t.Errorf("on file: %+v, %v", has.Passkeys, err)
	}
	if _, err := s.steps.Answered(ctx, s.People[records.RoleOwner], good.signed(s.steps.Ask(ctx,
		s.maud))); records.KindOf(err) != records.Invalid {
		t.Errorf("another person confirms with it: %v", err)
	}
}

// A count that goes back may be that of a copy: it is refused, logged, and the
// holder told.
func TestCopiedPasskey(t *testing.T) {
	s := start(t)
	ctx := t.Context()
	d := s.added(t)
	d.key.Counter = 1000
	if _, err := s.steps.Answered(ctx, s.maud, d.signed(s.steps.Ask(ctx, s.maud))); err != nil {
		t.Fatal(err)
	}
	for _, back := range []uint32{4, 1000, 0} {
		s.later(time.Second)
		d.key.Counter = back
		if _, err := s.steps.Answered(ctx, records.Person{},
			d.signed(s.steps.Ask(ctx, records.Person{}))); records.KindOf(err) != records.Invalid {
			t.Errorf("the count is %d after 1000: %v", back, err)
		}
	}
	log, err := s.Store.Audit.Find(ctx, store.AuditQuery{Subject: s.maud.ID, Limit: 20})
	if err != nil || !slices.ContainsFunc(log, func(e store.AuditEntry) bool {
		return e.What == "passkey refused, which may have been copied"
	}) {
		t.Errorf("the log: %v", err)
	}
	if said := s.letters(t); len(said) != 4 || !strings.Contains(strings.Join(said, ""),
		"“work phone”, was refused") {
		t.Errorf("told %d times: %v", len(said), said)
	}
	s.Prove()
}

// What a browser sends to add a passkey is held to the same.
func TestAddingRefused(t *testing.T) {
	s := start(t)
	ctx := t.Context()
	other := s.People[records.RoleOwner]
	for name, answer := range map[string]func(d *device) string{
		"another origin": func(d *device) string {
			d.rp.Origin = "http://book.tweddle.example:8443"
			return d.made(s.steps.AskToAdd(ctx, s.maud))
		},
		"asked for another": func(d *device) string { return d.made(s.steps.AskToAdd(ctx, other)) },
		"user not verified": func(d *device) string {
			d.auth.Options.UserNotVerified = true
			return d.made(s.steps.AskToAdd(ctx, s.maud))
		},
		"nonsense": func(*device) string { return `{"id":"x"}` },
	} {
		_, err := s.steps.Add(ctx, s.maud, "phone", answer(newDevice(t, s.maud)))
		if records.KindOf(err) != records.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	d := newDevice(t, s.maud)
	answer := d.made(s.steps.AskToAdd(ctx, s.maud))
	if _, err := s.steps.Add(ctx, s.maud, "  ", answer); records.KindOf(err) != records.Invalid ||
		!strings.Contains(err.Error(), "Name of the passkey") {
		t.Errorf("without a name: %v", err)
	}
	if _, err := s.steps.Add(ctx, s.maud, "phone", answer); records.KindOf(err) != records.Invalid {
		t.Errorf("the same answer again: %v", err)
	}
	if has, err := s.steps.Of(ctx, s.maud.ID); err != nil || has.Set() || has.Recovery != 0 {
		t.Errorf("on file: %+v, %v", has, err)
	}
}

// A server reached by an IP address has no passkeys and says why.
func TestPasskeysNeedAName(t *testing.T) {
	s := servertest.Start(t)
	for base, want := range map[string]string{"http://127.0.0.1:8180": "", "http://[::1]:8180": "",
		"http://localhost:8180": "localhost", "https://Records.Example": "records.example"} {
		changed := *s.App
		changed.BaseURL = base
		steps, err := signin.New(&changed)
		if err != nil || steps.Host() != want {
			t.Errorf("%s: %q, %v", base, steps.Host(), err)
			continue
		}
		_, err = steps.AskToAdd(t.Context(), s.People[records.RoleOwner])
		if (want == "") != (records.KindOf(err) == records.Conflict) {
			t.Errorf("%s: %v", base, err)
		}
	}
}
