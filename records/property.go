package records

import (
	"net/mail"
	"regexp"
	"strings"
	"unicode"
)

// Nation decides which duties and which emergency number apply.
type Nation string

// The nations.
const (
	England         Nation = "England"
	Wales           Nation = "Wales"
	Scotland        Nation = "Scotland"
	NorthernIreland Nation = "Northern Ireland"
)

// Nations lists them.
var Nations = []Nation{England, Wales, Scotland, NorthernIreland}

// Property is an address.
type Property struct {
	Line1    string `json:"line1"`
	Line2    string `json:"line2,omitempty"`
	Town     string `json:"town"`
	Postcode string `json:"postcode"`
	Nation   Nation `json:"nation"`
}

// OneLine returns the address in one line.
func (p Property) OneLine() string {
	var parts []string
	for _, s := range []string{p.Line1, p.Line2, p.Town, p.Postcode} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, ", ")
}

// Tenure is how a contact holds the property.
type Tenure string

// The tenures.
const (
	OwnerOccupier Tenure = "owner-occupier"
	Landlord      Tenure = "landlord"
	Tenant        Tenure = "tenant"
	Agent         Tenure = "agent"
)

// Tenures lists them.
var Tenures = []Tenure{OwnerOccupier, Landlord, Tenant, Agent}

// Contact is a person to write to.
type Contact struct {
	Name   string `json:"name"`
	Email  string `json:"email,omitempty"`
	Phone  string `json:"phone,omitempty"`
	Tenure Tenure `json:"tenure"`
	// where it differs from the property; a landlord's must be on the check record
	Address string `json:"address,omitempty"`
}

// postcodeShape is the shape of a postcode after upper-casing; it does not
// prove that the postcode exists. Source: the letter rules published with the
// government's bulk data transfer specification of 12 November 2015.
var postcodeShape = regexp.MustCompile(`^(GIR 0AA|(?:[A-PR-UWYZ][0-9]{1,2}|[A-PR-UWYZ][A-HK-Y][0-9]{1,2}|` +
	`[A-PR-UWYZ][0-9][A-HJKPSTUW]|[A-PR-UWYZ][A-HK-Y][0-9][ABEHMNPRVWXY]) [0-9][ABD-HJLNP-UW-Z]{2})$`)

// NormalPostcode upper-cases a postcode and puts one space before its last
// three characters. A wrong shape is an Invalid error.
func NormalPostcode(s string) (string, error) {
	var b strings.Builder
	for _, r := range strings.ToUpper(s) {
		if !unicode.IsSpace(r) {
			b.WriteRune(r)
		}
	}
	p := b.String()
	if len(p) > 3 {
		p = p[:len(p)-3] + " " + p[len(p)-3:]
	}
	if !postcodeShape.MatchString(p) {
		return "", &Error{Kind: Invalid, Field: "postcode", Label: "Postcode", Value: clip(s),
			Want: "a postcode such as AB12 3XY"}
	}
	return p, nil
}

// Checked returns the property tidied up, or every error in it.
func (p Property) Checked() (Property, error) {
	var c check
	p.Line1 = c.line("line1", "First line of the address", p.Line1, 1, maxLine1)
	p.Line2 = c.line("line2", "Second line", p.Line2, 0, maxLine2)
	p.Town = c.line("town", "Town", p.Town, 1, maxTown)
	if code, err := NormalPostcode(p.Postcode); err != nil {
		c.errs = append(c.errs, err.(*Error))
	} else {
		p.Postcode = code
	}
	oneOf(&c, "nation", "Nation", p.Nation, Nations)
	return p, c.err()
}

// Checked returns the contact tidied up, or every error in it.
func (k Contact) Checked() (Contact, error) {
	var c check
	k.Name = c.line("name", "Name", k.Name, 1, maxName)
	k.Phone = c.line("phone", "Telephone", k.Phone, 0, maxPhone)
	k.Address = c.line("address", "Address", k.Address, 0, maxAddress)
	k.Email = c.line("email", "E-mail", k.Email, 0, maxEmail)
	if k.Email != "" {
		if a, err := mail.ParseAddress(k.Email); err != nil || a.Address != k.Email {
			c.add("email", "E-mail", k.Email, "an address such as name@firm.example")
		}
	}
	oneOf(&c, "tenure", "Relationship to the property", k.Tenure, Tenures)
	return k, c.err()
}

// The most characters that entries outside the sections may have, and the
// most entries of a list. Check enforces them, Schema states them.
const (
	maxLine1, maxLine2, maxTown   = 100, 100, 60
	maxName, maxPhone, maxAddress = 80, 30, 200
	maxEmail, maxFirm, maxMake    = 120, 120, 60
	maxNumber                     = 40 // licence, registration, serial, id
	maxRule, maxTold, maxNote     = 60, 120, 2000
	maxInstruments, maxEntries    = 20, 200
)

// check gathers field errors.
type check struct{ errs Errors }

func (c *check) add(field, label, value, want string) {
	c.errs = append(c.errs, &Error{Kind: Invalid, Field: field, Label: label, Value: clip(value), Want: want})
}

func (c *check) err() error {
	if len(c.errs) == 0 {
		return nil
	}
	return c.errs
}

// line trims s and asks for one line of least to most characters.
func oneOf[T ~string](c *check, field, label string, v T, all []T) {
	names := make([]string, len(all))
	for i, a := range all {
		if a == v {
			return
		}
		names[i] = string(a)
	}
	c.add(field, label, string(v), "one of "+strings.Join(names, ", "))
}
