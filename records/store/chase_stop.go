package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"time"

	"gorm.io/gorm/clause"

	"gaugebook/records"
)

// Suppression is an address that gets no reminders. Records that are issued
// still go there: they were asked for.
type Suppression struct {
	Email string
	How   string // how the customer said so
	By    string // who noted it; the customer, for the link in a message
	At    time.Time
}

type suppressionRow struct {
	Email           string `gorm:"primaryKey"`
	How, ByName, At string
}

func (suppressionRow) TableName() string { return "suppressions" }

func (r suppressionRow) suppression() Suppression {
	return Suppression{Email: r.Email, How: r.How, By: r.ByName, At: instant(r.At)}
}

type stopLinkRow struct {
	TokenHash     string `gorm:"primaryKey"`
	Email, MadeAt string
}

func (stopLinkRow) TableName() string { return "stop_links" }

// hashStop needs no salt: a token has more random bits than can be guessed.
func hashStop(token string) string {
	sum := sha256.Sum256([]byte("gaugebook stop\n" + token))
	return hex.EncodeToString(sum[:])
}

// StopLink returns the address that a link of a reminder belongs to. The
// links never run out. Errors: NotFound.
func (s Chase) StopLink(ctx context.Context, token string) (email string, err error) {
	var rows []stopLinkRow
	err = s.read(ctx).Where("token_hash = ?", hashStop(token)).Limit(1).Find(&rows).Error
	if err == nil && len(rows) == 0 {
		err = records.Fail(records.NotFound, "this link is not known here") // which must not be echoed
	}
	if err != nil {
		return "", explain(err)
	}
	return rows[0].Email, nil
}

// StopReminders has an address get no more reminders, also of those that wait
// in the outbox. Doing it again changes nothing. Errors: Invalid.
func (s Chase) StopReminders(ctx context.Context, actor records.Actor, email, how string) error {
	var errs records.Errors
	email = records.CheckLine(&errs, "email", "E-mail", email, 3, 120)
	how = records.CheckLine(&errs, "how", "How the customer said so", how, 1, 200)
	if len(errs) > 0 {
		return errs
	}
	return s.write(ctx, actor, func(t *tx) error {
		row := suppressionRow{Email: email, How: how, ByName: actor.Name, At: stamp(t.at)}
		res := t.Clauses(clause.OnConflict{DoNothing: true}).Create(&row)
		if res.Error != nil || res.RowsAffected == 0 {
			return res.Error
		}
		err := t.Model(&outboxRow{}).Where("kind = ? AND to_email = ? AND state = 'due'", ReminderKind, email).
			Updates(map[string]any{"state": string(records.MessageFailed),
				"problem": "the customer asked for no reminders", "updated_at": stamp(t.at)}).Error
		if err != nil {
			return err
		}
		return t.log("reminders stopped", email, detail{"how": how})
	})
}

// ResumeReminders lets an address get reminders again, because the customer
// asked for it. Errors: Invalid without saying how they asked; NotFound.
func (s Chase) ResumeReminders(ctx context.Context, actor records.Actor, email, why string) error {
	why, err := records.CheckReason(why)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		res := t.Where("email = ?", email).Delete(&suppressionRow{})
		if res.Error == nil && res.RowsAffected == 0 {
			return notFound("address without reminders", email)
		}
		if res.Error != nil {
			return res.Error
		}
		return t.log("reminders resumed", email, detail{"why": why})
	})
}

// Suppressed returns the entry of an address, nil if it gets reminders.
func (s Chase) Suppressed(ctx context.Context, email string) (*Suppression, error) {
	var rows []suppressionRow
	err := s.read(ctx).Where("email = ?", email).Limit(1).Find(&rows).Error
	if err != nil || len(rows) == 0 || email == "" {
		return nil, explain(err)
	}
	out := rows[0].suppression()
	return &out, nil
}

// Suppressions returns the addresses that get no reminders, newest first.
func (s Chase) Suppressions(ctx context.Context) ([]Suppression, error) {
	var rows []suppressionRow
	err := s.read(ctx).Order("at DESC, email").Limit(500).Find(&rows).Error
	return mapped(rows, suppressionRow.suppression), explain(err)
}
