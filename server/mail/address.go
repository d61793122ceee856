package mail

import (
	netmail "net/mail"
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

// ParseAddress reads one address as a person types it, `name@domain` or
// `Name <name@domain>`. An international domain is turned into its ASCII form.
// The error is a *FieldError that names field and value.
func ParseAddress(field, value string) (Address, error) {
	trimmed := strings.Trim(value, " \t")
	if err := checkLine(field, trimmed, 1, maxEmail+maxNameLength+3); err != nil {
		return Address{}, err
	}
	parsed, err := netmail.ParseAddress(trimmed)
	if err != nil {
		return Address{}, &FieldError{field, value, emailAccepted}
	}
	local, domain, _ := cutLast(parsed.Address, "@")
	ascii, err := idna.Lookup.ToASCII(domain)
	if err != nil {
		return Address{}, &FieldError{field, value, emailAccepted}
	}
	a := Address{Name: strings.TrimSpace(parsed.Name), Email: local + "@" + ascii}
	if err := a.validate(field); err != nil {
		return Address{}, err
	}
	return a, nil
}

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

func cutLast(s, sep string) (before, after string, found bool) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+len(sep):], true
}
