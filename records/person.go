package records

import (
	"net/mail"
	"strings"
	"time"
)

// Role is what a person may do.
type Role string

// The roles.
const (
	RoleOwner    Role = "owner"
	RoleOffice   Role = "office"
	RoleEngineer Role = "engineer"
)

// Roles lists them.
var Roles = []Role{RoleOwner, RoleOffice, RoleEngineer}

// TakesReadings reports whether the role fills in, issues and amends records.
func (r Role) TakesReadings() bool { return r == RoleEngineer || r == RoleOwner }

// InOffice reports whether the role runs the register and writes to customers.
func (r Role) InOffice() bool { return r == RoleOffice || r == RoleOwner }

// Person is somebody who signs in.
type Person struct {
	ID              string
	Name            string
	Email           string
	Role            Role
	Licence         string // of an engineer, with the registration body
	CompetenceUntil Date
	PasswordHash    string
	Active          bool
	// Key is what the key is called by which a program acts for them, "" where
	// they act themselves. It is of the request, not of the account.
	Key string
	// SignIns is counted up when every open session is to end; a session
	// holds while it knows the number.
	SignIns int
}

// Checked returns the person tidied up, or every error in it.
func (p Person) Checked() (Person, error) {
	var c check
	p.Name = c.line("name", "Name", p.Name, 1, maxName)
	p.Licence = c.line("licence", "Licence number", p.Licence, 0, maxNumber)
	p.Email = strings.TrimSpace(p.Email)
	if a, err := mail.ParseAddress(p.Email); err != nil || a.Address != p.Email || len(p.Email) > maxEmail {
		c.add("email", "E-mail", p.Email, "an address such as name@firm.example")
	}
	oneOf(&c, "role", "Role", p.Role, Roles)
	return p, c.err()
}

// Actor is who does something, as the audit log names them.
type Actor struct{ ID, Name string }

// SystemActor is the actor of what the program does by itself.
var SystemActor = Actor{Name: "system"}

// Signatory returns the person as an issued record names them.
func (p Person) Signatory() Signatory {
	return Signatory{ID: p.ID, Name: p.Name, Licence: p.Licence, Key: p.Key}
}

// MayDeclare refuses a person who cannot answer for readings on that day.
// Errors: Forbidden for a closed account, another role, no licence number or a
// competence that has ended.
func (p Person) MayDeclare(day Date) error {
	no := func(msg string) error {
		return &Error{Kind: Forbidden, Field: "engineer", Label: p.Name, Msg: msg}
	}
	switch {
	case !p.Active:
		return no("this account is closed, so it answers for no readings")
	case !p.Role.TakesReadings():
		return no("only an engineer answers for readings")
	case p.Licence == "":
		return no("no licence number is on file, and a record names one: the owner enters it under People")
	case !p.CompetenceUntil.IsZero() && p.CompetenceUntil.Before(day):
		return no("competence expired on " + p.CompetenceUntil.Long() + ", before " + day.Long())
	}
	return nil
}

// Engineer returns the person as the one who took the readings.
func (p Person) Engineer() Engineer {
	return Engineer{Name: p.Name, Licence: p.Licence, CompetenceUntil: p.CompetenceUntil}
}

// Actor returns the person as the one who does something.
func (p Person) Actor() Actor { return Actor{ID: p.ID, Name: p.Name} }

// InvitationLife is how long a link to set a password works.
const InvitationLife = 7 * 24 * time.Hour

// Invitation is a link by which one person sets their password, once.
type Invitation struct {
	ID        string
	PersonID  string
	Token     string // set only where it is made; the store keeps its hash
	MadeBy    string // name
	CreatedAt time.Time
	ExpiresAt time.Time
	EndedAt   time.Time
	EndedWhy  string // used, revoked or replaced; "" while it works or has expired
}

// Open reports whether the link works at a time.
func (i Invitation) Open(now time.Time) bool { return i.EndedAt.IsZero() && now.Before(i.ExpiresAt) }
