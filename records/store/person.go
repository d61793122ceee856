package store

import (
	"context"
	"net/mail"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"gaugebook/records"
)

// Role is what a person may do.
type Role string

// The roles.
const (
	Owner    Role = "owner"
	Office   Role = "office"
	Engineer Role = "engineer"
)

// Roles lists them.
var Roles = []Role{Owner, Office, Engineer}

// Person is somebody who signs in.
type Person struct {
	ID              string
	Name            string
	Email           string
	Role            Role
	Licence         string // of an engineer, with the registration body
	CompetenceUntil records.Date
	PasswordHash    string
	Active          bool
	// SignIns is counted up when every open session is to end; a session
	// holds while it knows the number.
	SignIns int
}

type personRow struct {
	ID              string `gorm:"primaryKey"`
	Name            string
	Email           string
	Role            string
	Licence         string
	CompetenceUntil string
	PasswordHash    string
	Active          bool
	CreatedAt       string
	SignIns         int
}

func (personRow) TableName() string { return "people" }

func (p Person) row() personRow {
	return personRow{ID: p.ID, Name: p.Name, Email: p.Email, Role: string(p.Role), Licence: p.Licence,
		CompetenceUntil: p.CompetenceUntil.String(), PasswordHash: p.PasswordHash, Active: p.Active}
}

func (r personRow) person() Person {
	return Person{ID: r.ID, Name: r.Name, Email: r.Email, Role: Role(r.Role), Licence: r.Licence,
		CompetenceUntil: date(r.CompetenceUntil), PasswordHash: r.PasswordHash, Active: r.Active,
		SignIns: r.SignIns}
}

func (p Person) checked() (Person, error) {
	var errs records.Errors
	p.Name = line(&errs, "name", "Name", p.Name, 1, 80)
	p.Licence = line(&errs, "licence", "Licence number", p.Licence, 0, 40)
	p.Email = strings.TrimSpace(p.Email)
	if a, err := mail.ParseAddress(p.Email); err != nil || a.Address != p.Email || len(p.Email) > 120 {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: "email", Label: "E-mail",
			Value: clip(p.Email), Want: "an address such as name@firm.example"})
	}
	if !slices.Contains(Roles, p.Role) {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: "role", Label: "Role",
			Value: clip(string(p.Role)), Want: "one of owner, office, engineer"})
	}
	if len(errs) > 0 {
		return p, errs
	}
	return p, nil
}

// line trims s and asks for one line of least to most characters.
func line(errs *records.Errors, field, label, s string, least, most int) string {
	s = strings.TrimSpace(s)
	n := utf8.RuneCountInString(s)
	if n < least || n > most || !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl) {
		want := "one line of at most " + records.FormatNumber(float64(most), 0) + " characters"
		if n < least {
			want = "this; it cannot be left blank"
		}
		*errs = append(*errs, &records.Error{Kind: records.Invalid, Field: field, Label: label, Value: clip(s),
			Want: want})
	}
	return s
}

// reason asks for one to 400 characters that say why something was done.
func reason(why string) (string, error) {
	var errs records.Errors
	why = line(&errs, "why", "Reason", why, 1, 400)
	if len(errs) > 0 {
		return why, errs
	}
	return why, nil
}

// CreatePerson adds a person and gives them an id. Errors: Invalid; Conflict
// when the e-mail address is taken.
func (s People) Create(ctx context.Context, actor Actor, p Person) (Person, error) {
	p, err := p.checked()
	if err != nil {
		return Person{}, err
	}
	err = s.write(ctx, actor, func(t *tx) error {
		p.ID = t.newID()
		row := p.row()
		row.CreatedAt = stamp(t.at)
		if err := t.free(p); err != nil {
			return err
		}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("person added", p.ID, detail{"name": p.Name, "role": p.Role})
	})
	return p, err
}

// free refuses an e-mail address that somebody else has.
func (t *tx) free(p Person) error {
	var others int64
	if err := t.Model(&personRow{}).Where("email = ? AND id <> ?", p.Email, p.ID).Count(&others).Error; err != nil ||
		others == 0 {
		return err
	}
	return &records.Error{Kind: records.Conflict, Field: "email", Label: "E-mail", Value: clip(p.Email),
		Msg: "somebody else has this address"}
}

// UpdatePerson changes everything but the password, which SetPassword does.
// Closing an account ends its sessions, keys and links.
// Errors: Invalid; NotFound; Conflict when the e-mail address is taken or no
// active owner would be left.
func (s People) Update(ctx context.Context, actor Actor, p Person) (Person, error) {
	p, err := p.checked()
	if err != nil {
		return Person{}, err
	}
	err = s.write(ctx, actor, func(t *tx) error {
		var old personRow
		if err := one(t.Where("id = ?", p.ID), &old, "person", p.ID); err != nil {
			return err
		}
		if err := t.free(p); err != nil {
			return err
		}
		p.PasswordHash = old.PasswordHash
		row := p.row()
		// A model of its own: gorm writes the new values into it.
		if err := t.Model(&personRow{}).Where("id = ?", p.ID).Select("name", "email", "role", "licence",
			"competence_until", "active").Updates(&row).Error; err != nil {
			return err
		}
		var owners int64
		if err := t.Model(&personRow{}).Where("role = ? AND active = 1", Owner).Count(&owners).Error; err != nil {
			return err
		}
		if owners == 0 && Role(old.Role) == Owner && old.Active {
			return records.Fail(records.Conflict, "this is the last active owner: make somebody else an owner first")
		}
		if old.Active && !p.Active {
			if err := t.shutOut(p.ID); err != nil {
				return err
			}
		}
		if !strings.EqualFold(old.Email, p.Email) { // the link went to the old address
			if _, err := t.endInvites(p.ID, "revoked"); err != nil {
				return err
			}
		}
		return t.log("person changed", p.ID, detail{"name": p.Name, "role": p.Role, "active": p.Active})
	})
	return p, err
}

// SetPassword stores the hash of a new password and ends the person's open
// sessions. Errors: NotFound.
func (s People) SetPassword(ctx context.Context, actor Actor, id, hash string) error {
	return s.write(ctx, actor, func(t *tx) error { return t.setPassword(id, hash) })
}

// Person returns a person by id. Errors: NotFound.
func (s People) ByID(ctx context.Context, id string) (Person, error) {
	return s.person(ctx, "id = ?", id)
}

// PersonByEmail returns a person by e-mail address, in any case. Errors:
// NotFound.
func (s People) ByEmail(ctx context.Context, email string) (Person, error) {
	return s.person(ctx, "email = ?", strings.TrimSpace(email))
}

func (s People) person(ctx context.Context, where, key string) (Person, error) {
	var row personRow
	err := one(s.read(ctx).Where(where, key), &row, "person", key)
	return row.person(), explain(err)
}

// People returns everybody, by name.
func (s People) List(ctx context.Context) ([]Person, error) {
	var rows []personRow
	err := s.read(ctx).Order("name COLLATE NOCASE, id").Find(&rows).Error
	return mapped(rows, personRow.person), explain(err)
}
