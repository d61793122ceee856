package store

import (
	"context"
	"fmt"
	"slices"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"gaugebook/records"
)

type outboxRow struct {
	N                                        int64 `gorm:"primaryKey"`
	ID, Kind, RecordID, Ref, ToName, ToEmail string
	Subject, Text, HTML                      string
	AttachPDF                                bool
	StopURL, State                           string
	Attempts                                 int
	NextAt, LeaseUntil, Receipt, Problem     string
	CreatedAt, UpdatedAt, Token              string
}

func (outboxRow) TableName() string { return "outbox" }

func (r outboxRow) message() records.Message {
	return records.Message{ID: r.ID, Kind: r.Kind, RecordID: r.RecordID, Ref: r.Ref, ToName: r.ToName,
		ToEmail: r.ToEmail, Subject: r.Subject, Text: r.Text, HTML: r.HTML, AttachPDF: r.AttachPDF, StopURL: r.StopURL,
		State: records.MessageState(r.State), Attempts: r.Attempts, NextAt: instant(r.NextAt),
		LeaseUntil: instant(r.LeaseUntil), Receipt: r.Receipt, Problem: r.Problem, CreatedAt: instant(r.CreatedAt),
		UpdatedAt: instant(r.UpdatedAt), Token: r.Token}
}

// messageKey keeps a message from being sent twice.
var messageKey = []clause.Column{{Name: "kind"}, {Name: "record_id"}, {Name: "ref"}, {Name: "to_email"}}

// enqueue adds a message and reports whether it was new.
func (t *tx) enqueue(m records.Message) (bool, error) {
	m, err := m.Checked()
	if err != nil {
		return false, err
	}
	if m.ID == "" {
		m.ID = t.newID()
	}
	if m.NextAt.Before(t.at) {
		m.NextAt = t.at
	}
	row := outboxRow{ID: m.ID, Kind: m.Kind, RecordID: m.RecordID, Ref: m.Ref, ToName: m.ToName, ToEmail: m.ToEmail,
		Subject: m.Subject, Text: m.Text, HTML: m.HTML, AttachPDF: m.AttachPDF, StopURL: m.StopURL, Token: m.Token,
		State: string(records.MessageDue), NextAt: stamp(m.NextAt), CreatedAt: stamp(t.at), UpdatedAt: stamp(t.at)}
	res := t.Clauses(clause.OnConflict{Columns: messageKey, DoNothing: true}).Create(&row)
	if res.Error != nil || res.RowsAffected == 0 {
		return false, res.Error
	}
	return true, t.log("message queued", m.ID, detail{"kind": m.Kind, "record": m.RecordID, "to": m.ToEmail})
}

// enqueueAll adds messages, all or none.
func (t *tx) enqueueAll(messages []records.Message) error {
	for _, m := range messages {
		if _, err := t.enqueue(m); err != nil {
			return err
		}
	}
	return nil
}

// Enqueue adds messages, all or none, and returns how many were new: one with
// the same kind, record, ref and address is not added twice. Errors: Invalid.
func (s Outbox) Enqueue(ctx context.Context, actor records.Actor, messages ...records.Message) (added int, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		added = 0
		for _, m := range messages {
			isNew, err := t.enqueue(m)
			if err != nil {
				return err
			}
			if isNew {
				added++
			}
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	return added, nil
}

// cancelMessages stops what is due about a record that is no longer in force.
func (t *tx) cancelMessages(recordID, why string) error {
	return t.Model(&outboxRow{}).Where("record_id = ? AND state = 'due'", recordID).
		Updates(map[string]any{"state": string(records.MessageFailed), "problem": why, "updated_at": stamp(t.at)}).Error
}

// ClaimDue takes the message that has been due longest and marks it as being
// sent; nil when none is due. A message whose lease ran out before anybody
// said what became of it turns unsure.
func (s Outbox) ClaimDue(ctx context.Context, now time.Time, lease time.Duration) (out *records.Message, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		if _, err := t.makeUnsure("the attempt took too long: it is not known whether the message was accepted",
			"lease_until <= ?", stamp(now)); err != nil {
			return err
		}
		var rows []outboxRow
		due := t.Where("state = 'due' AND next_at <= ?", stamp(now)).Order("next_at, n").Limit(1)
		if err := due.Find(&rows).Error; err != nil || len(rows) == 0 {
			return err
		}
		row := rows[0]
		row.State, row.LeaseUntil, row.UpdatedAt = string(records.MessageSending), stamp(now.Add(lease)), stamp(t.at)
		row.Attempts++
		if err := t.Save(&row).Error; err != nil {
			return err
		}
		m := row.message()
		out = &m
		return nil
	})
	return out, err
}

// RecoverSending is for the start of the one process that sends: whatever was
// being sent when the last one ended turns unsure. It returns how many.
func (s Outbox) RecoverSending(ctx context.Context) (n int, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		n, err = t.makeUnsure("the program stopped while sending: it is not known whether the message was accepted",
			"1 = 1")
		return err
	})
	return n, err
}

func (t *tx) makeUnsure(why, where string, args ...any) (int, error) {
	var rows []outboxRow
	if err := t.Where("state = 'sending'").Where(where, args...).Find(&rows).Error; err != nil {
		return 0, err
	}
	for _, row := range rows {
		if err := t.Model(&row).Updates(map[string]any{"state": string(records.MessageUnsure), "problem": why,
			"updated_at": stamp(t.at)}).Error; err != nil {
			return 0, err
		}
		if err := t.log("message unsure", row.ID, detail{"why": why}); err != nil {
			return 0, err
		}
	}
	return len(rows), nil
}

// MarkSent says that the mail server accepted the message. Errors: NotFound;
// Conflict when it was not being sent.
func (s Outbox) MarkSent(ctx context.Context, id, receipt string) error {
	return s.mark(ctx, records.SystemActor, id, records.MessageSent, detail{"receipt": receipt},
		map[string]any{"receipt": receipt, "problem": ""})
}

// MarkRetry says that the attempt failed for now and when to try again.
// Errors: as MarkSent.
func (s Outbox) MarkRetry(ctx context.Context, id string, next time.Time, problem string) error {
	return s.mark(ctx, records.SystemActor, id, records.MessageDue, detail{"problem": problem, "next": stamp(next)},
		map[string]any{"next_at": stamp(next), "problem": problem})
}

// MarkFailed says that the message was refused for good. Errors: as MarkSent.
func (s Outbox) MarkFailed(ctx context.Context, id, problem string) error {
	return s.mark(ctx, records.SystemActor, id, records.MessageFailed, detail{"problem": problem},
		map[string]any{"problem": problem})
}

// MarkUnsure says that it is not known whether the message was accepted.
// Errors: as MarkSent.
func (s Outbox) MarkUnsure(ctx context.Context, id, problem string) error {
	return s.mark(ctx, records.SystemActor, id, records.MessageUnsure, detail{"problem": problem},
		map[string]any{"problem": problem})
}

// SettleSent says, for a person who has found out, that an unsure message did
// arrive. Errors: as MarkSent.
func (s Outbox) SettleSent(ctx context.Context, actor records.Actor, id, how string) error {
	return s.mark(ctx, actor, id, records.MessageSent, detail{"settled": how},
		map[string]any{"receipt": "settled by " + actor.Name + ": " + how, "problem": ""})
}

// mark moves a message on that is being sent or unsure: late news about an
// unsure one is still news.
func (s Outbox) mark(ctx context.Context, actor records.Actor, id string, to records.MessageState, d detail,
	set map[string]any) error {
	return s.move(ctx, actor, id, []records.MessageState{records.MessageSending, records.MessageUnsure}, to, d, set)
}

// Requeue has a message that failed or is unsure sent again, at once. The
// customer may get an unsure one twice, so only a person decides it. Errors:
// NotFound; Conflict in any other state.
func (s Outbox) Requeue(ctx context.Context, actor records.Actor, id string) error {
	from := []records.MessageState{records.MessageFailed, records.MessageUnsure}
	return s.move(ctx, actor, id, from, records.MessageDue, detail{"requeued": true},
		map[string]any{"next_at": stamp(s.opt.Now()), "problem": "", "token": ""})
}

func (s Outbox) move(ctx context.Context, actor records.Actor, id string, from []records.MessageState,
	to records.MessageState, d detail, set map[string]any) error {
	return s.write(ctx, actor, func(t *tx) (err error) {
		row, err := byID[outboxRow](t, "message", id)
		if err != nil {
			return err
		}
		set["state"], set["lease_until"], set["updated_at"] = string(to), "", stamp(t.at)
		if !slices.Contains(from, records.MessageState(row.State)) {
			return records.Fail(records.Conflict, fmt.Sprintf("the message is %s and cannot become %s", row.State, to))
		}
		if _, again := set["token"]; again {
			if set["token"], err = t.keepOld(row); err != nil {
				return err
			}
		}
		if err := t.Model(&row).Updates(set).Error; err != nil {
			return err
		}
		return t.log("message "+string(to), id, d)
	})
}

// aboutAccounts are the kinds of message that are about somebody's account.
var aboutAccounts = []string{records.InvitationKind, records.AccountKind}

// OutboxQuery asks for messages; blank fields ask for all.
type OutboxQuery struct {
	State    records.MessageState
	RecordID string
	Customer bool   // leave out what is about people's accounts
	After    string // cursor of the page before
	Limit    int
}

// Find returns messages, newest first, and the cursor of the next page.
// Errors: Invalid for a cursor that is none.
func (s Outbox) Find(ctx context.Context, q OutboxQuery) (messages []records.Message, next string, err error) {
	_, before, err := readCursor("outbox", q.After)
	if err != nil {
		return nil, "", err
	}
	limit := pageSize(q.Limit)
	db := s.read(ctx).Order("n DESC").Limit(limit + 1)
	if q.State != "" {
		db = db.Where("state = ?", q.State)
	}
	if q.RecordID != "" {
		db = db.Where("record_id = ?", q.RecordID)
	}
	if q.Customer {
		db = db.Where("kind NOT IN ?", aboutAccounts)
	}
	if before > 0 {
		db = db.Where("n < ?", before)
	}
	var rows []outboxRow
	if err := db.Find(&rows).Error; err != nil {
		return nil, "", explain(err)
	}
	rows, next = paged(rows, limit, func(last outboxRow) string { return cursor("outbox", "", last.N) })
	return mapped(rows, outboxRow.message), next, nil
}

// Message returns one message. Errors: NotFound.
func (s Outbox) Message(ctx context.Context, id string) (records.Message, error) {
	var row outboxRow
	err := one(s.read(ctx).Where("id = ?", id), &row, "message", id)
	return row.message(), explain(err)
}

// Counts returns how many messages are in each state but sent, which is most of
// them. Customer leaves out what is about people's accounts.
func (s Outbox) Counts(ctx context.Context, customer bool) (map[records.MessageState]int, error) {
	out := map[records.MessageState]int{}
	err := s.view(ctx, func(db *gorm.DB) error {
		for _, state := range records.UnsentStates {
			q := db.Model(&outboxRow{}).Where("state = ?", state)
			if customer {
				q = q.Where("kind NOT IN ?", aboutAccounts)
			}
			var n int64
			if err := q.Count(&n).Error; err != nil {
				return err
			}
			out[state] = int(n)
		}
		return nil
	})
	return out, err
}

// OldestDue returns since when the message is due that has been due longest; the
// zero time where none is.
func (s Outbox) OldestDue(ctx context.Context) (time.Time, error) {
	var at string
	err := s.read(ctx).Raw("SELECT coalesce(min(next_at), '') FROM outbox WHERE state = 'due'").Scan(&at).Error
	return instant(at), explain(err)
}
