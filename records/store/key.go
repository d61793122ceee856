package store

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"gaugebook/records"
)

// MostKeys is how many keys in use one person may have.
const MostKeys = 20

// keyPrefix lets a person, or a program that looks for leaked secrets, see
// what a key is for.
const keyPrefix = "gbk_"

// Key lets a program do what its person may do.
type Key struct {
	ID        string
	PersonID  string
	Label     string // what it was made for
	Token     string // set only where the key is made; the store keeps its hash
	Scope     records.KeyScope
	CreatedAt time.Time
	ExpiresAt time.Time // zero: never
	LastUsed  time.Time // to the hour; zero: never
	RevokedAt time.Time // zero while it holds
}

// KeyTerms are what a key is good for: so much, for so long; 0 is for ever.
type KeyTerms struct {
	Scope records.KeyScope
	Life  time.Duration
}

// Ended reports whether a key works no longer.
func (k Key) Ended(now time.Time) bool {
	return !k.RevokedAt.IsZero() || !k.ExpiresAt.IsZero() && !now.Before(k.ExpiresAt)
}

type keyRow struct {
	N                                         int64 `gorm:"primaryKey"`
	ID, PersonID, Label, TokenHash, CreatedAt string
	RevokedAt, Scope                          string
	ExpiresAt, LastUsedAt                     string
}

func (keyRow) TableName() string { return "keys" }

func (r keyRow) key() Key {
	return Key{ID: r.ID, PersonID: r.PersonID, Label: r.Label, CreatedAt: instant(r.CreatedAt),
		RevokedAt: instant(r.RevokedAt), Scope: records.KeyScope(r.Scope), ExpiresAt: instant(r.ExpiresAt),
		LastUsed: instant(r.LastUsedAt)}
}

// hashKey needs no salt and no slow hash: a key has 130 random bits, which
// cannot be guessed.
func hashKey(token string) string {
	sum := sha256.Sum256([]byte("gaugebook key\n" + token))
	return hex.EncodeToString(sum[:])
}

// NewKey makes a key for a person and returns it with its token, which is
// shown only once. Without terms it enters readings and never expires. Errors:
// Invalid without a label, and for an issuing key that somebody else makes;
// NotFound; Conflict when the person has MostKeys in use.
func (s People) NewKey(ctx context.Context, actor records.Actor, personID, label string, terms ...KeyTerms) (Key,
	error) {
	good := KeyTerms{Scope: records.KeyEnters}
	if len(terms) > 0 {
		good = terms[0]
	}
	var errs records.Errors
	if !slices.Contains(records.KeyScopes, good.Scope) {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: "scope", Label: "What it may do",
			Value: clip(string(good.Scope)), Want: "read, enter or issue"})
	} else if good.Scope == records.KeyIssues && actor.ID != personID {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: "scope", Label: "What it may do",
			Msg: "a key that issues records is made by its holder alone, under Your sign-in"})
	}
	if label = records.CheckLine(&errs, "label", "What it is for", label, 1, 60); len(errs) > 0 {
		return Key{}, errs
	}
	token := keyPrefix + strings.ToLower(rand.Text())
	var row keyRow
	err := s.write(ctx, actor, func(t *tx) error {
		var p personRow
		if err := one(t.Where("id = ?", personID), &p, "person", personID); err != nil {
			return err
		}
		var used int64
		inUse := t.Model(&keyRow{}).Where("person_id = ? AND revoked_at = ''", personID)
		if err := inUse.Count(&used).Error; err != nil {
			return err
		}
		if used >= MostKeys {
			return records.Fail(records.Conflict, fmt.Sprintf("there are %d keys in use: revoke one first", used))
		}
		row = keyRow{ID: t.newID(), PersonID: personID, Label: label, TokenHash: hashKey(token), CreatedAt: stamp(t.at),
			Scope: string(good.Scope)}
		if good.Life > 0 {
			row.ExpiresAt = stamp(t.at.Add(good.Life))
		}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("key made", row.ID, detail{"person": personID, "label": label, "scope": good.Scope})
	})
	if err != nil {
		return Key{}, err
	}
	k := row.key()
	k.Token = token
	return k, nil
}

// usedEvery is how often the use of a key is written down.
const usedEvery = time.Hour

// ByKey returns whose key it is, active or not, with the name and scope of
// the key, and notes that it was used. Errors: NotFound, also
// for a key that has been revoked.
func (s People) ByKey(ctx context.Context, token string) (records.Person, error) {
	var row struct {
		Person     personRow `gorm:"embedded"`
		Label      string
		Scope      string
		LastUsedAt string
		KeyN       int64
	}
	now := s.opt.Now()
	res := s.read(ctx).Table("people p").Joins("JOIN keys k ON k.person_id = p.id").
		Select(peopleTable.list("p")+", k.label, k.scope, k.last_used_at, k.n AS key_n").
		Where("k.token_hash = ? AND k.revoked_at = '' AND (k.expires_at = '' OR k.expires_at > ?)", hashKey(token),
			stamp(now)).
		Limit(1).Find(&row)
	err := res.Error
	if err == nil && res.RowsAffected == 0 {
		err = records.Fail(records.NotFound, "there is no such key") // which must not be echoed
	}
	if err != nil {
		return records.Person{}, explain(err)
	}
	p := row.Person.person()
	p.Key, p.KeyScope = row.Label, records.KeyScope(row.Scope)
	if now.Sub(instant(row.LastUsedAt)) < usedEvery {
		return p, nil
	}
	return p, s.write(ctx, p.Actor(), func(t *tx) error {
		return t.Model(&keyRow{}).Where("n = ?", row.KeyN).Update("last_used_at", stamp(t.at)).Error
	})
}

// Keys returns a person's keys without their tokens, those in use first, the
// newest first.
func (s People) Keys(ctx context.Context, personID string) ([]Key, error) {
	var rows []keyRow
	err := s.read(ctx).Where("person_id = ?", personID).Order("revoked_at <> '', n DESC").Limit(200).Find(&rows).Error
	return mapped(rows, keyRow.key), explain(err)
}

// RevokeKey ends a key of a person for good; one that was revoked stays so.
// Errors: NotFound, also for the key of somebody else.
func (s People) RevokeKey(ctx context.Context, actor records.Actor, personID, id string) error {
	return s.write(ctx, actor, func(t *tx) error {
		var row keyRow
		if err := one(t.Where("id = ? AND person_id = ?", id, personID), &row, "key", id); err != nil {
			return err
		}
		if row.RevokedAt != "" {
			return nil
		}
		if err := t.Model(&row).Update("revoked_at", stamp(t.at)).Error; err != nil {
			return err
		}
		return t.log("key revoked", id, detail{"person": personID, "label": row.Label})
	})
}
