package store

import (
	"context"
	"strings"

	"gaugebook/records"
)

type personRow struct {
	ID                                          string `gorm:"primaryKey"`
	Name, Email, Role, Licence, CompetenceUntil string
	PasswordHash                                string `line:"-"`
	Active                                      bool
	CreatedAt                                   string
	SignIns                                     int `line:"-"`
}

func (personRow) TableName() string { return "people" }

func personRowOf(p records.Person) personRow {
	return personRow{ID: p.ID, Name: p.Name, Email: p.Email, Role: string(p.Role), Licence: p.Licence,
		CompetenceUntil: p.CompetenceUntil.String(), PasswordHash: p.PasswordHash, Active: p.Active}
}

func (r personRow) person() records.Person {
	return records.Person{ID: r.ID, Name: r.Name, Email: r.Email, Role: records.Role(r.Role), Licence: r.Licence,
		CompetenceUntil: date(r.CompetenceUntil), PasswordHash: r.PasswordHash, Active: r.Active, SignIns: r.SignIns}
}

// Create adds a person and gives them an id. Errors: Invalid; Conflict
// when the e-mail address is taken.
func (s People) Create(ctx context.Context, actor records.Actor, p records.Person) (records.Person, error) {
	p, err := p.Checked()
	if err != nil {
		return records.Person{}, err
	}
	err = s.write(ctx, actor, func(t *tx) error {
		p.ID = t.newID()
		row := personRowOf(p)
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
func (t *tx) free(p records.Person) error {
	var others int64
	if err := t.Model(&personRow{}).Where("email = ? AND id <> ?", p.Email, p.ID).Count(&others).Error; err != nil ||
		others == 0 {
		return err
	}
	return &records.Error{Kind: records.Conflict, Field: "email", Label: "E-mail", Value: clip(p.Email),
		Msg: "somebody else has this address"}
}

// Update changes everything but the password, which SetPassword does.
// Closing an account ends its sessions, keys and links. Letters tell the holder
// of it. Errors: Invalid; NotFound; Conflict when the e-mail address is taken or
// no active owner would be left.
func (s People) Update(ctx context.Context, actor records.Actor, p records.Person,
	letters ...records.Message) (records.Person, error) {
	p, err := p.Checked()
	if err != nil {
		return records.Person{}, err
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
		row := personRowOf(p)
		// A model of its own: gorm writes the new values into it.
		if err := t.Model(&personRow{}).Where("id = ?", p.ID).Select("*").
			Omit("id", "password_hash", "created_at", "sign_ins").Updates(&row).Error; err != nil {
			return err
		}
		var owners int64
		active := t.Model(&personRow{}).Where("role = ? AND active = 1", records.RoleOwner)
		if err := active.Count(&owners).Error; err != nil {
			return err
		}
		if owners == 0 && records.Role(old.Role) == records.RoleOwner && old.Active {
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
		if err := t.enqueueAll(letters); err != nil {
			return err
		}
		return t.log("person changed", p.ID, detail{"name": p.Name, "role": p.Role, "active": p.Active})
	})
	return p, err
}

// SetPassword stores the hash of a new password and ends the person's open
// sessions. Letters tell the holder of it. Errors: NotFound.
func (s People) SetPassword(ctx context.Context, actor records.Actor, id, hash string,
	letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		if err := t.setPassword(id, hash); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// ByID returns a person by id. Errors: NotFound.
func (s People) ByID(ctx context.Context, id string) (records.Person, error) {
	return s.person(ctx, "id = ?", id)
}

// ByEmail returns a person by e-mail address, in any case. Errors:
// NotFound.
func (s People) ByEmail(ctx context.Context, email string) (records.Person, error) {
	return s.person(ctx, "email = ?", strings.TrimSpace(email))
}

func (s People) person(ctx context.Context, where, key string) (records.Person, error) {
	var row personRow
	err := one(s.read(ctx).Where(where, key), &row, "person", key)
	return row.person(), explain(err)
}

// List returns everybody, by name.
func (s People) List(ctx context.Context) ([]records.Person, error) {
	var rows []personRow
	err := s.read(ctx).Order(alphabetical("name") + ", id").Find(&rows).Error
	return mapped(rows, personRow.person), explain(err)
}
