package store

import (
	"context"
	"encoding/base64"
	"fmt"
	"strings"

	"gaugebook/records"
)

// MostPasskeys is how many one person may have.
const MostPasskeys = 20

type (
	passkeyRow struct {
		N            int64 `gorm:"primaryKey"`
		ID           string
		PersonID     string
		Name         string
		CredentialID string
		Host         string
		PublicKey    string
		Flags        int
		SignCount    int64
		Transports   string
		AAGUID       string `gorm:"column:aaguid"`
		MadeAt       string
		UsedAt       string
	}
)

func (passkeyRow) TableName() string { return "passkeys" }

func (r passkeyRow) passkey() records.Passkey {
	return records.Passkey{ID: r.ID, PersonID: r.PersonID, Name: r.Name, CredentialID: bytesOf(r.CredentialID),
		Host: r.Host, PublicKey: bytesOf(r.PublicKey), Flags: byte(r.Flags), Count: uint32(r.SignCount),
		Transports: strings.Fields(r.Transports), AAGUID: bytesOf(r.AAGUID), MadeAt: instant(r.MadeAt),
		UsedAt: instant(r.UsedAt)}
}

// AddPasskey adds a passkey to its person's account. Recovery codes come with it
// where the account had nothing before. Letters tell the holder. Errors: Invalid
// without a name; NotFound; Conflict for one that an account has already, or more
// than MostPasskeys.
func (s SecondSteps) AddPasskey(ctx context.Context, actor records.Actor, p records.Passkey, recovery []string,
	letters ...records.Message) error {
	var errs records.Errors
	if p.Name = records.CheckLine(&errs, "name", "Name of the passkey", p.Name, 1, 60); len(errs) > 0 {
		return errs
	}
	return s.write(ctx, actor, func(t *tx) error {
		if err := one(t.Where("id = ?", p.PersonID), &personRow{}, "person", p.PersonID); err != nil {
			return err
		}
		row := passkeyRow{ID: t.newID(), PersonID: p.PersonID, Name: p.Name, Host: p.Host,
			CredentialID: base64.StdEncoding.EncodeToString(p.CredentialID),
			PublicKey:    base64.StdEncoding.EncodeToString(p.PublicKey),
			Flags:        int(p.Flags), SignCount: int64(p.Count), Transports: strings.Join(p.Transports, " "),
			AAGUID: base64.StdEncoding.EncodeToString(p.AAGUID), MadeAt: stamp(t.at)}
		var has, same int64
		if err := t.Model(&passkeyRow{}).Where("person_id = ?", p.PersonID).Count(&has).Error; err != nil {
			return err
		}
		if err := t.Model(&passkeyRow{}).Where("credential_id = ?", row.CredentialID).Count(&same).Error; err != nil {
			return err
		}
		switch {
		case same > 0:
			return records.Fail(records.Conflict, "this passkey is on file already")
		case has >= MostPasskeys:
			return records.Fail(records.Conflict, fmt.Sprintf("there are %d passkeys: remove one first", has))
		}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		if err := s.putRecovery(t, p.PersonID, recovery); err != nil {
			return err
		}
		if err := t.log("passkey added", p.PersonID, detail{"passkey": row.ID, "name": p.Name}); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// Passkey finds a passkey by the id that its device gave it. Errors: NotFound.
func (s SecondSteps) Passkey(ctx context.Context, credentialID []byte) (records.Passkey, error) {
	var row passkeyRow
	err := one(s.read(ctx).Where("credential_id = ?", base64.StdEncoding.EncodeToString(credentialID)), &row, "passkey",
		"")
	return row.passkey(), explain(err)
}

// UsePasskey keeps how a passkey stands after it was used. Errors: Conflict when
// its count has not gone up, as that of a copied one would not; a device that
// does not count always says 0.
func (s SecondSteps) UsePasskey(ctx context.Context, p records.Passkey) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		res := t.Exec(`UPDATE passkeys SET flags = ?, sign_count = ?, used_at = ?
			WHERE id = ? AND (sign_count < ? OR sign_count = 0 AND ? = 0)`, int(p.Flags), int64(p.Count), stamp(t.at),
			p.ID, int64(p.Count), int64(p.Count))
		if res.Error == nil && res.RowsAffected == 0 {
			return records.Fail(records.Conflict, "this passkey has been used elsewhere in the meantime: try again")
		}
		return res.Error
	})
}

// PasskeyCopied notes that a passkey counts as if there were two of it. Letters
// tell the holder.
func (s SecondSteps) PasskeyCopied(ctx context.Context, p records.Passkey, letters ...records.Message) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		if err := t.log("passkey refused, which may have been copied", p.PersonID, detail{"passkey": p.ID,
			"name": p.Name}); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}

// RenamePasskey gives a person's passkey another name. Errors: Invalid; NotFound.
func (s SecondSteps) RenamePasskey(ctx context.Context, actor records.Actor, personID, id, name string) error {
	var errs records.Errors
	if name = records.CheckLine(&errs, "name", "Name of the passkey", name, 1, 60); len(errs) > 0 {
		return errs
	}
	return s.write(ctx, actor, func(t *tx) error {
		var row passkeyRow
		if err := one(t.Where("id = ? AND person_id = ?", id, personID), &row, "passkey", id); err != nil {
			return err
		}
		if err := t.Model(&row).Update("name", name).Error; err != nil {
			return err
		}
		return t.log("passkey renamed", personID, detail{"passkey": id, "name": name})
	})
}

// RemovePasskey takes a passkey away from an account. Errors: NotFound; Conflict
// as for RemoveCodes.
func (s SecondSteps) RemovePasskey(ctx context.Context, actor records.Actor, personID, id string,
	letters ...records.Message) error {
	return s.write(ctx, actor, func(t *tx) error {
		var row passkeyRow
		if err := one(t.Where("id = ? AND person_id = ?", id, personID), &row, "passkey", id); err != nil {
			return err
		}
		if err := t.Delete(&row).Error; err != nil {
			return err
		}
		if err := s.oneLess(t, personID); err != nil {
			return err
		}
		if err := t.log("passkey removed", personID, detail{"passkey": id, "name": row.Name}); err != nil {
			return err
		}
		return t.enqueueAll(letters)
	})
}
