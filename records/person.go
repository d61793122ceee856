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
