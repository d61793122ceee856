package store

import (
	"context"
	"crypto/rand"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"gaugebook/records"
)

type webhookRow struct {
	N                                          int64 `gorm:"primaryKey"`
	ID, URL, Secret, Events, MadeBy, CreatedAt string
	// duties due on this day or later are announced once they are late
	LateFrom string
	EndedAt  string
}

func (webhookRow) TableName() string { return "webhooks" }

func (r webhookRow) webhook() (records.Webhook, error) {
	w := records.Webhook{ID: r.ID, URL: r.URL, MadeBy: r.MadeBy, CreatedAt: instant(r.CreatedAt),
		EndedAt: instant(r.EndedAt)}
	return w, fromJSON(r.Events, &w.Events)
}

// Add registers an address and makes its secret, which is shown
// only once. Duties that are late already are not announced. Errors: Invalid for an
// address that is not https (http to this machine, if loopback is allowed) or
// for no event; Conflict beyond MostWebhooks.
func (s Webhooks) Add(ctx context.Context, actor records.Actor, rawURL string, events []records.WebhookEvent,
	today records.Date, loopback bool) (records.Webhook, error) {
	address, events, err := records.CheckWebhook(rawURL, events, loopback)
	if err != nil {
		return records.Webhook{}, err
	}
	list, err := toJSON(events)
	if err != nil {
		return records.Webhook{}, err
	}
	row := webhookRow{URL: address, Secret: "gbw_" + strings.ToLower(rand.Text()), Events: list, MadeBy: actor.Name,
		LateFrom: today.String()}
	err = s.write(ctx, actor, func(t *tx) error {
		var used int64
		if err := t.Model(&webhookRow{}).Where("ended_at = ''").Count(&used).Error; err != nil {
			return err
		}
		if used >= records.MostWebhooks {
			return records.Fail(records.Conflict, fmt.Sprintf("there are %d webhooks in use: end one first", used))
		}
		row.ID, row.CreatedAt = t.newID(), stamp(t.at)
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("webhook added", row.ID, detail{"url": address, "events": events})
	})
	if err != nil {
		return records.Webhook{}, err
	}
	w, err := row.webhook()
	w.Secret = row.Secret
	return w, err
}

// List returns every webhook without its secret, those in use first.
func (s Webhooks) List(ctx context.Context) ([]records.Webhook, error) {
	var rows []webhookRow
	if err := s.read(ctx).Order("ended_at <> '', n DESC").Limit(200).Find(&rows).Error; err != nil {
		return nil, explain(err)
	}
	return mappedErr(rows, webhookRow.webhook)
}

// ByID returns one webhook without its secret. Errors: NotFound.
func (s Webhooks) ByID(ctx context.Context, id string) (records.Webhook, error) {
	var row webhookRow
	if err := one(s.read(ctx).Where("id = ?", id), &row, "webhook", id); err != nil {
		return records.Webhook{}, explain(err)
	}
	return row.webhook()
}

// End ends a webhook for good; what it was not told yet is not sent
// any more. Errors: NotFound.
func (s Webhooks) End(ctx context.Context, actor records.Actor, id string) error {
	return s.write(ctx, actor, func(t *tx) error {
		var row webhookRow
		if err := one(t.Where("id = ?", id), &row, "webhook", id); err != nil {
			return err
		}
		if row.EndedAt != "" {
			return nil
		}
		if err := t.Model(&webhookRow{}).Where("n = ?", row.N).Update("ended_at", stamp(t.at)).Error; err != nil {
			return err
		}
		err := t.Model(&deliveryRow{}).Where("webhook_n = ? AND state IN ('due', 'sending')", row.N).
			Updates(map[string]any{"state": string(records.WebhookFailed), "problem": "the webhook was ended",
				"lease_until": "", "updated_at": stamp(t.at)}).Error
		if err != nil {
			return err
		}
		return t.log("webhook ended", id, detail{"url": row.URL})
	})
}

// listening returns the webhooks in use that want an event.
func listening(db *gorm.DB, event records.WebhookEvent) (out []webhookRow, err error) {
	var rows []webhookRow
	if err := db.Where("ended_at = ''").Order("n").Find(&rows).Error; err != nil {
		return nil, err
	}
	for _, row := range rows {
		w, err := row.webhook()
		if err != nil {
			return nil, err
		}
		if slices.Contains(w.Events, event) {
			out = append(out, row)
		}
	}
	return out, nil
}

// eventBody is what is sent, the same on every attempt.
type eventBody struct {
	ID    string               `json:"id"`
	Event records.WebhookEvent `json:"event"`
	Time  time.Time            `json:"time"`
	Data  any                  `json:"data"`
}

// recordEvent is the data of an event of a record. It tells nothing of people
// or the address: a program that may know asks the API.
type recordEvent struct {
	RecordID    string           `json:"record_id"`
	ApplianceID string           `json:"appliance_id"`
	Number      string           `json:"number"`
	Purpose     records.Purpose  `json:"purpose"`
	WorkDate    string           `json:"work_date"`
	Standing    records.Standing `json:"standing"`
	SHA256      string           `json:"sha256"`
	Replaces    string           `json:"replaces,omitempty"`
	ReplacedBy  string           `json:"replaced_by,omitempty"`
	Why         string           `json:"why,omitempty"`
}

// announceRecord puts in, for whoever listens, what happened to a record. It
// is part of the transaction in which it happened.
func (t *tx) announceRecord(event records.WebhookEvent, row recordRow) error {
	hooks, err := listening(t.DB, event)
	if err != nil || len(hooks) == 0 {
		return err
	}
	var a applianceRow
	if err := t.Select("id").Where("n = ?", row.ApplianceN).Take(&a).Error; err != nil {
		return err
	}
	data := recordEvent{RecordID: row.ID, ApplianceID: a.ID, Number: row.Number, Purpose: records.Purpose(row.Purpose),
		WorkDate: row.WorkDate, Standing: records.Standing(row.Standing), SHA256: row.SHA256, Replaces: row.Replaces,
		ReplacedBy: row.ReplacedBy, Why: row.WithdrawnWhy}
	return t.announce(hooks, string(event)+":"+row.ID, event, data)
}

// announce puts an event in for each webhook, unless that has it already.
func (t *tx) announce(hooks []webhookRow, id string, event records.WebhookEvent, data any) error {
	body, err := toJSON(eventBody{ID: id, Event: event, Time: t.at, Data: data})
	if err != nil {
		return err
	}
	for _, h := range hooks {
		row := deliveryRow{ID: t.newID(), WebhookN: h.N, EventID: id, Event: string(event), Body: body,
			State: string(records.WebhookDue), NextAt: stamp(t.at), CreatedAt: stamp(t.at), UpdatedAt: stamp(t.at)}
		if err := t.Clauses(clause.OnConflict{DoNothing: true}).Create(&row).Error; err != nil {
			return err
		}
	}
	return nil
}

// dutyEvent is the data of a duty that is late.
type dutyEvent struct {
	DutyID      string           `json:"duty_id"`
	ApplianceID string           `json:"appliance_id"`
	Kind        records.DutyKind `json:"kind"`
	Due         string           `json:"due"`
}

// lateBatch is how many duties one transaction announces.
const lateBatch = 200

var lateUntold = "SELECT " + dutyTable.list("d") + " FROM duties d" + by("duties_open") + `
	WHERE d.state = 'open' AND d.due >= ? AND d.due < ?
	AND NOT EXISTS (SELECT 1 FROM webhook_deliveries w
		WHERE w.webhook_n = ? AND w.event_id = 'duty.late:' || d.id)
	ORDER BY d.due, d.n LIMIT ?`

// AnnounceLate puts in, for each webhook that listens, the duties that became
// late since it was made, each once, and returns how many.
func (s Webhooks) AnnounceLate(ctx context.Context, today records.Date) (total int, err error) {
	for more := true; more; {
		more = false
		err = s.write(ctx, records.SystemActor, func(t *tx) error {
			hooks, err := listening(t.DB, records.EventDutyLate)
			if err != nil {
				return err
			}
			for _, h := range hooks {
				var duties []dutyRow
				late := t.Raw(lateUntold, h.LateFrom, today.String(), h.N, lateBatch)
				if err := late.Scan(&duties).Error; err != nil {
					return err
				}
				for _, d := range duties {
					var a applianceRow
					if err := t.Select("id").Where("n = ?", d.ApplianceN).Take(&a).Error; err != nil {
						return err
					}
					if err := t.announce([]webhookRow{h}, string(records.EventDutyLate)+":"+d.ID, records.EventDutyLate,
						dutyEvent{DutyID: d.ID, ApplianceID: a.ID, Kind: records.DutyKind(d.Kind),
							Due: d.Due}); err != nil {
						return err
					}
				}
				total += len(duties)
				more = more || len(duties) == lateBatch
			}
			return nil
		})
		if err != nil {
			return total, err
		}
	}
	return total, nil
}
