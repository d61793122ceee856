package store

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// Link is a customer's private link to one issued record.
type Link struct {
	ID         string
	RecordID   string
	Token      string // set only where a link is made; the store keeps its hash. "": see Outbox.PutIn
	ForName    string // the person it was given to
	ForEmail   string // where it was sent; "" when nobody said
	ExpiresAt  time.Time
	RevokedAt  time.Time // zero while it holds
	RevokedWhy string
	CreatedAt  time.Time
}

// Usable reports whether the link opens its record at that time.
func (l Link) Usable(at time.Time) bool { return l.RevokedAt.IsZero() && at.Before(l.ExpiresAt) }

// NewToken returns a random token of at least 128 bits for a link.
func NewToken() string { return strings.ToLower(rand.Text()) }

type linkRow struct {
	N                                       int64 `gorm:"primaryKey"`
	ID                                      string
	RecordN                                 int64
	TokenHash, ForName, ForEmail, ExpiresAt string
	RevokedAt, RevokedWhy                   string
	CreatedAt                               string
}

func (linkRow) TableName() string { return "links" }

type linkView struct {
	Link     linkRow `gorm:"embedded"`
	RecordID string
}

func (v linkView) link() Link {
	l := v.Link
	return Link{ID: l.ID, RecordID: v.RecordID, ForName: l.ForName, ForEmail: l.ForEmail,
		ExpiresAt: instant(l.ExpiresAt), RevokedAt: instant(l.RevokedAt), RevokedWhy: l.RevokedWhy,
		CreatedAt: instant(l.CreatedAt)}
}

func findLinks(q *gorm.DB) ([]Link, error) {
	var rows []linkView
	err := q.Table("links l").Joins("JOIN records r ON r.n = l.record_n").
		Select(linkTable.list("l") + ", r.id AS record_id").Order("l.n").Find(&rows).Error
	return mapped(rows, linkView.link), err
}

func hashToken(token string) string {
	sum := sha256.Sum256([]byte("gaugebook link\n" + token))
	return hex.EncodeToString(sum[:])
}

func (t *tx) addLink(recordN int64, l Link) (linkRow, error) {
	var errs records.Errors
	l.ForName = records.CheckLine(&errs, "for_name", "Given to", l.ForName, 0, 80)
	l.ForEmail = records.CheckLine(&errs, "for_email", "Sent to", l.ForEmail, 0, 120)
	if l.Token == "" {
		l.Token = NewToken() // which nobody knows: its message gets another
	}
	if l.ID == "" {
		l.ID = t.newID()
	}
	if len(l.Token) < 26 || len(l.Token) > 100 {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: "token", Want: "a token made by NewToken"})
	}
	if !l.ExpiresAt.After(t.at) {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: "expires_at", Label: "Holds until",
			Value: stamp(l.ExpiresAt), Want: "a time to come"})
	}
	if len(errs) > 0 {
		return linkRow{}, errs
	}
	row := linkRow{ID: l.ID, RecordN: recordN, TokenHash: hashToken(l.Token), ForName: l.ForName,
		ForEmail: l.ForEmail, ExpiresAt: stamp(l.ExpiresAt), CreatedAt: stamp(t.at)}
	return row, t.Create(&row).Error
}

// AddTo makes a private link to an issued record and returns it with its token,
// which is shown only once. For a contact with an e-mail address, it shows
// whatever was issued to the same address at the same property. Errors: Invalid;
// NotFound, also for a draft.
func (s Links) AddTo(ctx context.Context, actor records.Actor, recordID string, to records.Contact,
	expires time.Time) (Link, error) {
	token := NewToken()
	var out []Link
	err := s.write(ctx, actor, func(t *tx) error {
		var r recordRow
		if err := one(t.Where("id = ? AND number <> ''", recordID), &r, "issued record", recordID); err != nil {
			return err
		}
		row, err := t.addLink(r.N, Link{Token: token, ForName: to.Name, ForEmail: to.Email, ExpiresAt: expires})
		if err != nil {
			return err
		}
		if out, err = findLinks(t.Where("l.n = ?", row.N)); err != nil {
			return err
		}
		return t.log("link made", row.ID, detail{"record": recordID, "for": row.ForName, "sent_to": row.ForEmail})
	})
	if err != nil {
		return Link{}, err
	}
	out[0].Token = token
	return out[0], nil
}

// ByToken returns the link with a token, whether or not it still holds: see
// Usable. Errors: NotFound.
func (s Links) ByToken(ctx context.Context, token string) (Link, error) {
	links, err := findLinks(s.read(ctx).Where("l.token_hash = ?", hashToken(token)))
	if err == nil && len(links) == 0 {
		err = records.Fail(records.NotFound, "there is no such link")
	}
	if err != nil {
		return Link{}, explain(err)
	}
	return links[0], nil
}

// OfRecord returns the links to a record, without their tokens.
func (s Links) OfRecord(ctx context.Context, recordID string) ([]Link, error) {
	links, err := findLinks(s.read(ctx).Where("r.id = ?", recordID))
	return links, explain(err)
}

// End ends a link before its time; one that was revoked stays so.
// Errors: Invalid without a reason, NotFound.
func (s Links) End(ctx context.Context, actor records.Actor, id, why string) error {
	why, err := records.CheckReason(why)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		var row linkRow
		if err := one(t.Where("id = ?", id), &row, "link", id); err != nil {
			return err
		}
		if row.RevokedAt != "" {
			return nil
		}
		if err := t.Model(&row).Updates(map[string]any{"revoked_at": stamp(t.at),
			"revoked_why": why}).Error; err != nil {
			return err
		}
		return t.log("link revoked", id, detail{"why": why})
	})
}

// Seen returns the issued records that the holder of a link may see,
// the latest visit first: its own, and those at the same property that were
// issued to the same e-mail address. What was issued to somebody who lived
// there before, or after, is not among them.
func (s Links) Seen(ctx context.Context, l Link) (lines []RecordLine, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		_, own, err := readRecord(db, l.RecordID)
		if err != nil {
			return err
		}
		email := l.ForEmail
		if email == "" {
			email = own.Contact.Email
		}
		q := db.Where(`r.number <> '' AND p.n = (
			SELECT a.property_n FROM records o JOIN appliances a ON a.n = o.appliance_n WHERE o.id = ?)`, l.RecordID)
		if email == "" {
			q = q.Where("r.id = ?", l.RecordID)
		} else {
			q = q.Where("r.id = ? OR lower("+textIn("r.doc", "customer", "email")+") = lower(?)", l.RecordID, email)
		}
		lines, err = findLines(q.Order("r.work_date DESC, r.n DESC").Limit(500))
		return err
	})
	return lines, err
}
