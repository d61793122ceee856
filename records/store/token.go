package store

import (
	"context"
	"strings"

	"gaugebook/records"
)

// Tokens are put into a message when it is handed over: whoever reads the
// outbox, a backup or the page of a message finds only what stands for one.

// LinkToken has a message carry the token of a customer's link.
func LinkToken(linkID string) string { return "link " + linkID }

const (
	inviteToken = "invite "
	// StopToken has a message carry a token by which its customer asks for no
	// more reminders.
	StopToken = "stop"
)

// unknownToken is what a link has until its message is handed over: nobody
// knows it.
func unknownToken(token string) string {
	if token == "" {
		return NewToken()
	}
	return token
}

// PutIn makes the token that a message is to carry and returns it; "" for a
// message that carries none. A link then opens with that token and no longer
// with the one of an earlier attempt, which reached nobody; links to stop
// reminders all work. Errors: NotFound; Conflict when the link has been ended.
func (s Outbox) PutIn(ctx context.Context, messageID string) (token string, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		var m outboxRow
		if err := one(t.Where("id = ?", messageID), &m, "message", messageID); err != nil || m.Token == "" {
			return err
		}
		token = NewToken()
		if m.Token == StopToken {
			return t.Create(&stopLinkRow{hashStop(token), m.ToEmail, stamp(t.at)}).Error
		}
		kind, id, _ := strings.Cut(m.Token, " ")
		update := t.Exec("UPDATE links SET token_hash = ? WHERE id = ? AND revoked_at = ''", hashToken(token), id)
		if kind+" " == inviteToken {
			update = t.Exec("UPDATE invites SET token_hash = ? WHERE id = ? AND ended_at = ''", hashInvite(token), id)
		}
		if update.Error == nil && update.RowsAffected == 0 {
			return records.Fail(records.Conflict, "the link in it has been ended")
		}
		return update.Error
	})
	return token, err
}

// keepOld makes a link of its own for a message that may have arrived and is
// sent again: the one that the customer may have goes on working.
func (t *tx) keepOld(m outboxRow) (token string, err error) {
	kind, id, _ := strings.Cut(m.Token, " ")
	if kind != "link" || m.State != string(records.MessageUnsure) {
		return m.Token, nil
	}
	var l linkRow
	if err := one(t.Where("id = ?", id), &l, "link", id); err != nil {
		return "", err
	}
	l.N, l.ID, l.TokenHash = 0, t.newID(), hashToken(NewToken())
	return LinkToken(l.ID), t.Create(&l).Error
}
