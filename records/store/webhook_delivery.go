package store

import (
	"context"
	"time"

	"gaugebook/records"
)

type deliveryRow struct {
	N                             int64 `gorm:"primaryKey"`
	ID                            string
	WebhookN                      int64
	EventID, Event, Body, State   string
	Attempts                      int
	NextAt, LeaseUntil            string
	Status                        int
	Problem, CreatedAt, UpdatedAt string
}

func (deliveryRow) TableName() string { return "webhook_deliveries" }

func (r deliveryRow) delivery() records.WebhookDelivery {
	return records.WebhookDelivery{ID: r.ID, EventID: r.EventID, Event: records.WebhookEvent(r.Event),
		Body: []byte(r.Body), State: records.WebhookDeliveryState(r.State), Attempts: r.Attempts,
		NextAt: instant(r.NextAt), Status: r.Status, Problem: r.Problem, CreatedAt: instant(r.CreatedAt),
		UpdatedAt: instant(r.UpdatedAt)}
}

// ClaimDelivery takes the event that has been due longest and marks it as
// being sent; nil when none is due. One whose lease ran out is due again. What is
// due for the webhooks named is left alone: they are being told something.
func (s Webhooks) ClaimDelivery(ctx context.Context, now time.Time, lease time.Duration,
	busy ...string) (out *records.WebhookDelivery, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		err := t.Model(&deliveryRow{}).Where("state = 'sending' AND lease_until <= ?", stamp(now)).
			Updates(map[string]any{"state": "due", "lease_until": "", "problem": "the attempt was interrupted",
				"updated_at": stamp(t.at)}).Error
		if err != nil {
			return err
		}
		var rows []deliveryRow
		due := t.Where("state = 'due' AND next_at <= ?", stamp(now)).Order("next_at, n").Limit(1)
		if len(busy) > 0 {
			due = due.Where("webhook_n NOT IN (SELECT n FROM webhooks WHERE id IN ?)", busy)
		}
		if err := due.Find(&rows).Error; err != nil || len(rows) == 0 {
			return err
		}
		row := rows[0]
		row.State, row.LeaseUntil, row.UpdatedAt = string(records.WebhookSending), stamp(now.Add(lease)), stamp(t.at)
		row.Attempts++
		if err := t.Save(&row).Error; err != nil {
			return err
		}
		var hook webhookRow
		if err := t.Where("n = ?", row.WebhookN).Take(&hook).Error; err != nil {
			return err
		}
		d := row.delivery()
		d.WebhookID, d.URL, d.Secret = hook.ID, hook.URL, hook.Secret
		out = &d
		return nil
	})
	return out, err
}

// RecoverDeliveries makes what was being sent when the last process ended due
// again. It is for the start of the one process that sends.
func (s Webhooks) RecoverDeliveries(ctx context.Context) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		return t.Model(&deliveryRow{}).Where("state = 'sending'").Updates(map[string]any{"state": "due",
			"lease_until": "", "updated_at": stamp(t.at)}).Error
	})
}

// MarkDelivered says that the receiver accepted the event.
func (s Webhooks) MarkDelivered(ctx context.Context, id string, status int) error {
	return s.markDelivery(ctx, id, map[string]any{"state": string(records.WebhookDelivered), "status": status,
		"problem": ""},
		time.Time{})
}

// MarkUndelivered says that an attempt failed, with the status of the answer
// or 0, and when to try again; zero means never. What else is due for the same
// webhook waits as long, so that one address that is down keeps nobody else
// waiting.
func (s Webhooks) MarkUndelivered(ctx context.Context, id string, status int, problem string, next time.Time) error {
	state := records.WebhookDue
	if next.IsZero() {
		state = records.WebhookFailed
	}
	set := map[string]any{"state": string(state), "status": status, "problem": clip(problem)}
	if !next.IsZero() {
		set["next_at"] = stamp(next)
	}
	return s.markDelivery(ctx, id, set, next)
}

func (s Webhooks) markDelivery(ctx context.Context, id string, set map[string]any, wait time.Time) error {
	return s.write(ctx, records.SystemActor, func(t *tx) error {
		var row deliveryRow
		if err := one(t.Where("id = ?", id), &row, "delivery", id); err != nil {
			return err
		}
		if row.State != string(records.WebhookSending) {
			return records.Fail(records.Conflict, "the delivery is "+row.State+", not being sent")
		}
		set["lease_until"], set["updated_at"] = "", stamp(t.at)
		if err := t.Model(&deliveryRow{}).Where("n = ?", row.N).Updates(set).Error; err != nil {
			return err
		}
		if wait.IsZero() {
			return nil
		}
		return t.Model(&deliveryRow{}).Where("webhook_n = ? AND state = 'due' AND next_at < ?", row.WebhookN,
			stamp(wait)).Update("next_at", stamp(wait)).Error
	})
}

// Resend has a delivery of a webhook sent again, at once, with the same id
// and body. Errors: NotFound; Conflict while it is on its way, or when the
// webhook has been ended.
func (s Webhooks) Resend(ctx context.Context, actor records.Actor, webhookID, id string) error {
	return s.write(ctx, actor, func(t *tx) error {
		var hook webhookRow
		if err := one(t.Where("id = ?", webhookID), &hook, "webhook", webhookID); err != nil {
			return err
		}
		var row deliveryRow
		if err := one(t.Where("id = ? AND webhook_n = ?", id, hook.N), &row, "delivery", id); err != nil {
			return err
		}
		switch {
		case hook.EndedAt != "":
			return records.Fail(records.Conflict, "the webhook has been ended")
		case row.State == string(records.WebhookSending):
			return records.Fail(records.Conflict, "it is on its way just now")
		}
		err := t.Model(&deliveryRow{}).Where("n = ?", row.N).Updates(map[string]any{"state": string(records.WebhookDue),
			"attempts": 0, "next_at": stamp(t.at), "problem": "", "updated_at": stamp(t.at)}).Error
		if err != nil {
			return err
		}
		return t.log("webhook event sent again", webhookID, detail{"event": row.EventID})
	})
}

// Deliveries returns what a webhook was told, newest first, and the cursor of
// the next page. Errors: Invalid for a cursor that is none; NotFound.
func (s Webhooks) Deliveries(ctx context.Context, webhookID, after string,
	limit int) (out []records.WebhookDelivery, next string, err error) {
	_, before, err := readCursor("delivery", after)
	if err != nil {
		return nil, "", err
	}
	var hook webhookRow
	if err := one(s.read(ctx).Where("id = ?", webhookID), &hook, "webhook", webhookID); err != nil {
		return nil, "", explain(err)
	}
	limit = pageSize(limit)
	db := s.read(ctx).Where("webhook_n = ?", hook.N).Order("n DESC").Limit(limit + 1)
	if before > 0 {
		db = db.Where("n < ?", before)
	}
	var rows []deliveryRow
	if err := db.Find(&rows).Error; err != nil {
		return nil, "", explain(err)
	}
	rows, next = paged(rows, limit, func(last deliveryRow) string { return cursor("delivery", "", last.N) })
	out = mapped(rows, deliveryRow.delivery)
	for i := range out {
		out[i].WebhookID, out[i].URL = hook.ID, hook.URL
	}
	return out, next, nil
}
