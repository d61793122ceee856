package server

import (
	"context"
	"strings"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"

	"gaugebook/records"
)

// passwordCost is what one check costs: 46 MiB, one pass. It is one of the
// settings that the OWASP password storage cheat sheet names as a minimum.
var passwordCost = &argon2id.Params{Memory: 46 * 1024, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// passwordCheck compares passwords, at most two at once: each takes 46 MiB,
// and sign-ins must not use up the memory of the machine.
type passwordCheck struct {
	slots chan struct{}
	dummy string // for people who do not exist, so that they take as long
}

func newPasswordCheck() (passwordCheck, error) {
	dummy, err := argon2id.CreateHash("nobody has this one", passwordCost)
	return passwordCheck{slots: make(chan struct{}, 2), dummy: dummy}, err
}

// matches reports whether the password is the one of the hash. A blank hash
// is checked against a dummy and never matches.
func (p passwordCheck) matches(ctx context.Context, password, hash string) (bool, error) {
	select {
	case p.slots <- struct{}{}:
		defer func() { <-p.slots }()
	case <-ctx.Done():
		return false, ctx.Err()
	}
	known := hash != ""
	if !known {
		hash = p.dummy
	}
	ok, err := argon2id.ComparePasswordAndHash(password, hash)
	return ok && known, err
}

// HashPassword returns the hash to store for a password. A password shorter
// than 12 or longer than 200 characters is an Invalid error.
func HashPassword(password string) (string, error) {
	if n := utf8.RuneCountInString(password); n < 12 || n > 200 || strings.TrimSpace(password) == "" {
		return "", &records.Error{Kind: records.Invalid, Field: "password", Label: "Password",
			Want: "12 to 200 characters; a few words are easier to remember than signs"}
	}
	return argon2id.CreateHash(password, passwordCost)
}
