package mail

import (
	"strings"

	"golang.org/x/net/idna"
)

// Address is a mailbox with an optional display name.
type Address struct {
	Name  string
	Email string // name@domain in ASCII; an international domain in its xn-- form
}

// Limits of RFC 5321 section 4.5.3.1.
const (
	maxLocalPart = 64
	maxEmail     = 254 // a path of 256 less its angle brackets
)

const emailAccepted = "an address such as name@example.org: ASCII before the @, a full domain after it"

// validate accepts only a dot-atom local part. Quoted local parts and those
// outside ASCII need an agreement with every server on the way (RFC 6531);
// a clear refusal in the office is worth more than a letter that bounces later.
func (a Address) validate(field string) error {
	if err := checkLine(field+".Name", a.Name, 0, maxNameLength); err != nil {
		return err
	}
	field += ".Email"
	if err := checkLine(field, a.Email, 1, maxEmail); err != nil {
		return err
	}
	refused := &FieldError{field, a.Email, emailAccepted}
	local, domain, found := strings.Cut(a.Email, "@")
	if !found || !isDotAtom(local) || len(local) > maxLocalPart || !isDotAtom(domain) ||
		!strings.Contains(domain, ".") {
		return refused
	}
	if ascii, err := idna.Lookup.ToASCII(domain); err != nil || !strings.EqualFold(ascii, domain) {
		return refused
	}
	return nil
}

// isDotAtom tests RFC 5322 section 3.2.3.
func isDotAtom(s string) bool {
	const special = "!#$%&'*+-/=?^_`{|}~"
	for _, atom := range strings.Split(s, ".") {
		outside := func(r rune) bool {
			letter := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9'
			return !letter && !strings.ContainsRune(special, r)
		}
		if atom == "" || strings.ContainsFunc(atom, outside) {
			return false
		}
	}
	return true
}
