package app

import (
	"context"
	"strings"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"

	"gaugebook/records"
	"gaugebook/records/store"
)

// PasswordCost is what hashing a password costs. The zero value is the cost of
// a real register: 46 MiB, one pass, one of the settings that the OWASP password
// storage cheat sheet names as a minimum. Only tests, whose passwords protect
// nothing, ask for another.
type PasswordCost struct{ MemoryKiB uint32 }

func (c PasswordCost) params() *argon2id.Params {
	if c == (PasswordCost{}) {
		c.MemoryKiB = 46 * 1024
	}
	return &argon2id.Params{Memory: c.MemoryKiB, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}
}

// Hash returns the hash to store for a password. A password shorter than 12 or
// longer than 200 characters is an Invalid error.
func (c PasswordCost) Hash(password string) (string, error) {
	if n := utf8.RuneCountInString(password); n < 12 || n > 200 || strings.TrimSpace(password) == "" {
		return "", &records.Error{Kind: records.Invalid, Field: "password", Label: "Password",
			Want: "12 to 200 characters; a few words are easier to remember than symbols"}
	}
	return argon2id.CreateHash(password, c.params())
}

// HashPassword is Hash at the cost of a real register.
func HashPassword(password string) (string, error) { return PasswordCost{}.Hash(password) }

// Accounts is signing in and changing passwords. It compares passwords two at
// once at the most: each takes 46 MiB, and sign-ins must not use up the memory
// of the machine.
type Accounts struct {
	app    *App
	people store.People
	cost   PasswordCost
	slots  chan struct{}
	dummy  string // for people who do not exist, so that they take as long
}

// NewAccounts returns the accounts of a register.
func NewAccounts(a *App) (*Accounts, error) {
	dummy, err := a.Passwords.Hash("nobody has this one")
	return &Accounts{app: a, people: a.Store.People, cost: a.Passwords, slots: make(chan struct{}, 2), dummy: dummy},
		err
}

// SignIn returns the person of an e-mail address if the password is theirs and
// the account is active. A wrong password and a person who does not exist give
// the same answer after the same work.
func (a *Accounts) SignIn(ctx context.Context, email, password string) (p records.Person, ok bool, err error) {
	p, err = a.people.ByEmail(ctx, email)
	if err != nil && records.KindOf(err) != records.NotFound {
		return p, false, err
	}
	ok, err = a.matches(ctx, password, p.PasswordHash)
	return p, ok && p.Active, err
}

// Join sets the first password of an invited person, or a new one in place of
// one forgotten. Kinds: NotFound for a link that does not work; Invalid.
func (a *Accounts) Join(ctx context.Context, token string, p records.Person, password, again string) (records.Person,
	error) {
	hash, err := a.newPassword(ctx, p, password, again)
	if err != nil {
		return p, err
	}
	letters, err := TellHolder(ctx, a.app, p, p.Actor(), "A new password was set with the link that you were sent",
		p.Email)
	if err != nil {
		return p, err
	}
	p, err = a.people.AcceptInvitation(ctx, token, hash, letters...)
	if err == nil {
		a.app.mailWaiting()
	}
	return p, err
}

// Confirms reports whether the password is the person's.
func (a *Accounts) Confirms(ctx context.Context, p records.Person, password string) (bool, error) {
	return a.matches(ctx, password, p.PasswordHash)
}

// ChangePassword changes one's own password and returns the person as they are
// then: their other sessions have ended. Kinds: Invalid.
func (a *Accounts) ChangePassword(ctx context.Context, p records.Person, present, password,
	again string) (records.Person, error) {
	ok, err := a.matches(ctx, present, p.PasswordHash)
	if err != nil {
		return p, err
	}
	if !ok {
		return p, &records.Error{Kind: records.Invalid, Field: "present", Label: "Current password",
			Msg: "this is not your current password"}
	}
	hash, err := a.newPassword(ctx, p, password, again)
	if err != nil {
		return p, err
	}
	letters, err := TellHolder(ctx, a.app, p, p.Actor(), "Your password was changed", p.Email)
	if err != nil {
		return p, err
	}
	if err := a.people.SetPassword(ctx, p.Actor(), p.ID, hash, letters...); err != nil {
		return p, err
	}
	a.app.mailWaiting()
	return a.people.ByID(ctx, p.ID)
}

// matches reports whether the password is the one of the hash. A blank hash
// is checked against a dummy and never matches.
func (a *Accounts) matches(ctx context.Context, password, hash string) (bool, error) {
	select {
	case a.slots <- struct{}{}:
		defer func() { <-a.slots }()
	case <-ctx.Done():
		return false, ctx.Err()
	}
	known := hash != ""
	if !known {
		hash = a.dummy
	}
	ok, err := argon2id.ComparePasswordAndHash(password, hash)
	return ok && known, err
}

// newPassword hashes a password that was typed twice, if it will do for the
// person.
func (a *Accounts) newPassword(ctx context.Context, p records.Person, password,
	again string) (string, error) {
	refuse := func(field, label, want string) error {
		return &records.Error{Kind: records.Invalid, Field: field, Label: label, Want: want}
	}
	if strings.EqualFold(strings.TrimSpace(password), p.Email) {
		return "", refuse("password", "New password", "something other than your e-mail address")
	}
	if again != password {
		return "", refuse("again", "Repeat the new password", "the same password as above")
	}
	return a.app.PasswordOf(ctx, p, password)
}
