package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"

	"gaugebook/records"
)

type inviteRow struct {
	N                                          int64 `gorm:"primaryKey"`
	ID, PersonID, TokenHash, MadeBy, CreatedAt string
	ExpiresAt, EndedAt                         string
	EndedWhy                                   string
}

func (inviteRow) TableName() string { return "invites" }

func (r inviteRow) invite() records.Invitation {
	return records.Invitation{ID: r.ID, PersonID: r.PersonID, MadeBy: r.MadeBy, CreatedAt: instant(r.CreatedAt),
		ExpiresAt: instant(r.ExpiresAt), EndedAt: instant(r.EndedAt), EndedWhy: r.EndedWhy}
}

func hashInvite(token string) string {
	sum := sha256.Sum256([]byte("gaugebook invite\n" + token))
	return hex.EncodeToString(sum[:])
}

// Invite makes a link for a person, in place of one that still works, and
// puts the letter that brings it into the outbox, all or nothing. The token that
// it returns works until the letter is handed over with one of its own. The present
// password works until a new one is set. Errors: NotFound; Conflict for a
// closed account; Invalid from the letter.
func (s People) Invite(ctx context.Context, actor records.Actor, personID string,
	letter func(records.Person, records.Invitation) records.Message) (records.Invitation, error) {
	out := records.Invitation{Token: NewToken()}
	err := s.write(ctx, actor, func(t *tx) error {
		var p personRow
		if err := one(t.Where("id = ?", personID), &p, "person", personID); err != nil {
			return err
		}
		if !p.Active {
			return records.Fail(records.Conflict, "this account is closed: open it first")
		}
		if _, err := t.endInvites(personID, "replaced"); err != nil {
			return err
		}
		row := inviteRow{ID: t.newID(), PersonID: personID, TokenHash: hashInvite(out.Token), MadeBy: t.actor.Name,
			CreatedAt: stamp(t.at), ExpiresAt: stamp(t.at.Add(records.InvitationLife))}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		token := out.Token
		out = row.invite()
		out.Token = token
		m := letter(p.person(), out)
		m.Ref, m.Token = row.ID, inviteToken+row.ID
		if _, err := t.enqueue(m); err != nil {
			return err
		}
		return t.log("person invited", personID, detail{"invite": row.ID})
	})
	return out, err
}

// endInvites ends the links of a person that still work and stops their
// letters; it returns how many.
func (t *tx) endInvites(personID, why string) (int, error) {
	var rows []inviteRow
	if err := t.Where("person_id = ? AND ended_at = ''", personID).Find(&rows).Error; err != nil {
		return 0, err
	}
	for _, r := range rows {
		if err := t.Model(&inviteRow{}).Where("n = ?", r.N).Updates(map[string]any{"ended_at": stamp(t.at),
			"ended_why": why}).Error; err != nil {
			return 0, err
		}
		err := t.Model(&outboxRow{}).Where("kind = ? AND record_id = '' AND ref = ? AND state = 'due'",
			records.InvitationKind,
			r.ID).
			Updates(map[string]any{"state": string(records.MessageFailed), "problem": "not sent: the link was " + why,
				"updated_at": stamp(t.at)}).Error
		if err != nil {
			return 0, err
		}
	}
	return len(rows), nil
}

// RevokeInvitation ends the link that a person has. Errors: NotFound when there
// is none that works.
func (s People) RevokeInvitation(ctx context.Context, actor records.Actor, personID string) error {
	return s.write(ctx, actor, func(t *tx) error {
		n, err := t.endInvites(personID, "revoked")
		if err == nil && n == 0 {
			err = records.Fail(records.NotFound, "there is no invitation to take back")
		}
		if err != nil {
			return err
		}
		return t.log("invitation revoked", personID, nil)
	})
}

// noInvite is the one answer to a link that is none, was used, revoked or has
// expired: whoever holds it learns no more.
func noInvite() error {
	return records.Fail(records.NotFound,
		"this link does not work, or no longer: ask the owner of the firm for a new one")
}

// Invited returns the person a link is for. Opening it does not use it up: mail
// programs open links too. Errors: NotFound.
func (s People) Invited(ctx context.Context, token string) (records.Person, error) {
	var rows []personRow
	err := s.read(ctx).Where(`active = 1 AND id = (
		SELECT person_id FROM invites WHERE token_hash = ? AND ended_at = '' AND expires_at > ?)`,
		hashInvite(token), stamp(s.opt.Now())).
		Limit(1).Find(&rows).Error
	if err == nil && len(rows) == 0 {
		err = noInvite()
	}
	if err != nil {
		return records.Person{}, explain(err)
	}
	return rows[0].person(), nil
}

// AcceptInvitation sets the person's password, uses the link up and ends the
// sessions that were open. Letters tell the holder of it. Errors: NotFound for a
// link that does not work.
func (s People) AcceptInvitation(ctx context.Context, token, hash string,
	letters ...records.Message) (p records.Person, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		var rows []inviteRow
		if err := t.Where("token_hash = ? AND ended_at = '' AND expires_at > ?", hashInvite(token),
			stamp(t.at)).Limit(1).Find(&rows).Error; err != nil {
			return err
		}
		if len(rows) == 0 {
			return noInvite()
		}
		var row personRow
		if err := t.Where("id = ? AND active = 1", rows[0].PersonID).Limit(1).Find(&row).Error; err != nil {
			return err
		}
		if row.ID == "" {
			return noInvite()
		}
		t.actor = records.Actor{ID: row.ID, Name: row.Name}
		if _, err := t.endInvites(row.ID, "used"); err != nil {
			return err
		}
		if err := t.setPassword(row.ID, hash); err != nil {
			return err
		}
		if err := t.Where("id = ?", row.ID).Take(&row).Error; err != nil {
			return err
		}
		p = row.person()
		return t.enqueueAll(letters)
	})
	return p, err
}

// Invitations returns each person's latest link, by the person's id.
func (s People) Invitations(ctx context.Context) (map[string]records.Invitation, error) {
	var rows []inviteRow
	err := s.read(ctx).Where("n IN (SELECT max(n) FROM invites GROUP BY person_id)").Find(&rows).Error
	out := make(map[string]records.Invitation, len(rows))
	for _, r := range rows {
		out[r.PersonID] = r.invite()
	}
	return out, explain(err)
}

// setPassword stores a hash and ends the open sessions.
func (t *tx) setPassword(id, hash string) error {
	res := t.Exec("UPDATE people SET password_hash = ? WHERE id = ?", hash, id)
	if res.Error == nil && res.RowsAffected == 0 {
		return notFound("person", id)
	}
	if res.Error != nil {
		return res.Error
	}
	if err := t.endSessions(id, "password changed"); err != nil {
		return err
	}
	return t.log("password changed", id, nil)
}

// shutOut ends the sessions, keys and links of a person whose account was
// closed.
func (t *tx) shutOut(id string) error {
	if err := t.endSessions(id, "account closed"); err != nil {
		return err
	}
	if _, err := t.endInvites(id, "revoked"); err != nil {
		return err
	}
	var keys []keyRow
	if err := t.Where("person_id = ? AND revoked_at = ''", id).Find(&keys).Error; err != nil {
		return err
	}
	for _, k := range keys {
		if err := t.Model(&keyRow{}).Where("n = ?", k.N).Update("revoked_at", stamp(t.at)).Error; err != nil {
			return err
		}
		if err := t.log("key revoked", k.ID, detail{"person": id, "label": k.Label,
			"why": "account closed"}); err != nil {
			return err
		}
	}
	return nil
}
