package store

import (
	"context"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
	"gaugebook/records/due"
)

// ReminderKind is the kind of the messages that remind of a duty.
const ReminderKind = "reminder"

// DutyStep is one step of one duty.
type DutyStep struct {
	DutyID string
	Step   due.Step
}

// Reminder is one message about what is due for one customer.
type Reminder struct {
	Steps   []DutyStep
	Message records.Message // its kind and ref are set here
	// Stop is the token of the link by which the customer asks for no more; ""
	// for one that is put in when the message is handed over.
	Stop string
}

type reminderRow struct {
	N                     int64 `gorm:"primaryKey" line:"-"`
	DutyN                 int64 `line:"duties"`
	Weeks                 int
	Channel, ParcelID, At string
}

func (reminderRow) TableName() string { return "reminders" }

// SendReminders puts the messages into the outbox, in one transaction. A
// message of which a duty has been closed, booked or reminded of since then,
// or whose customer asked for no reminders, is left out: the answer says why,
// "" for each that went in. So a step of a duty is never sent twice, whoever
// sends at the same time. Errors: Invalid.
func (s Chase) SendReminders(ctx context.Context, actor records.Actor, reminders []Reminder) (why []string, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		why = make([]string, len(reminders))
		for i, r := range reminders {
			if why[i], err = t.sendReminder(r); err != nil {
				return err
			}
		}
		return nil
	})
	return why, err
}

func (t *tx) sendReminder(r Reminder) (why string, err error) {
	rows, why, err := t.stillDue(r.Steps)
	if err != nil || why != "" {
		return why, err
	}
	for _, row := range rows {
		if !strings.EqualFold(row.Contact.Email, r.Message.ToEmail) {
			return "the contact has another address now", nil
		}
	}
	if r.Stop != "" && (len(r.Stop) < 26 || len(r.Stop) > 100) {
		return "", &records.Error{Kind: records.Invalid, Field: "stop", Want: "a token made by NewToken"}
	}
	m := r.Message
	m.ID, m.Kind, m.Ref = t.newID(), ReminderKind, r.Steps[0].DutyID+" "+r.Steps[0].Step.String()
	if fresh, err := t.enqueue(m); err != nil || !fresh {
		return "this reminder is in the outbox already", err
	}
	if r.Stop != "" {
		if err := t.Create(&stopLinkRow{hashStop(r.Stop), m.ToEmail, stamp(t.at)}).Error; err != nil {
			return "", err
		}
	}
	return "", t.noteReminders(rows, r.Steps, "e-mail", m.ID)
}

// stillDue reads the duties of the steps, in their order, and says why one of
// them is not to be reminded of.
func (t *tx) stillDue(steps []DutyStep) (rows []ChaseRow, why string, err error) {
	if len(steps) == 0 {
		return nil, "", &records.Error{Kind: records.Invalid, Field: "steps", Want: "at least one duty"}
	}
	for _, st := range steps {
		found, err := chaseDuties(t.DB, []string{st.DutyID})
		if err != nil {
			return nil, "", err
		}
		if len(found) == 0 {
			return nil, "", notFound("duty", st.DutyID)
		}
		row := found[0]
		if why := row.Chased().Stopped(); why != "" {
			return nil, why, nil
		}
		if n := len(row.Sent); n > 0 && row.Sent[n-1] >= st.Step {
			return nil, "reminded of already", nil
		}
		rows = append(rows, row)
	}
	return rows, "", nil
}

// noteReminders writes down which steps were sent, here and in the log of
// contacts of each appliance.
func (t *tx) noteReminders(rows []ChaseRow, steps []DutyStep, channel, parcelID string) error {
	notes := map[string][]string{}
	var order []string
	for i, row := range rows {
		var d dutyRow
		if err := one(t.Where("id = ?", row.DutyID), &d, "duty", row.DutyID); err != nil {
			return err
		}
		if err := t.Create(&reminderRow{DutyN: d.N, Weeks: int(steps[i].Step), Channel: channel, ParcelID: parcelID,
			At: stamp(t.at)}).Error; err != nil {
			return err
		}
		if notes[row.ApplianceID] == nil {
			order = append(order, row.ApplianceID)
		}
		notes[row.ApplianceID] = append(notes[row.ApplianceID], string(row.Kind)+" due "+row.Due.Long()+", "+
			steps[i].Step.String())
	}
	for _, id := range order {
		a, err := t.appliance(id)
		if err != nil {
			return err
		}
		row := attemptRow{ID: t.newID(), ApplianceN: a.N, At: stamp(t.at), ActorID: t.actor.ID, ActorName: t.actor.Name,
			How: channel, Note: "Reminder: " + strings.Join(notes[id], "; ")}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		if err := t.log("contact attempt", id, detail{"how": channel, "attempt": row.ID,
			"parcel": parcelID}); err != nil {
			return err
		}
	}
	return nil
}

// ReminderStands says, just before a message is handed over, why it should
// not be sent any more, or "": a reminder waits in the outbox while the mail
// server is away, and meanwhile the visit may have been made. The duties of
// such a message that are still due may then be reminded of again.
func (s Chase) ReminderStands(ctx context.Context, messageID string) (why string, err error) {
	err = s.write(ctx, records.SystemActor, func(t *tx) error {
		var ids []string
		if err := t.Raw(`SELECT d.id FROM reminders r JOIN duties d ON d.n = r.duty_n
			WHERE r.parcel_id = ? ORDER BY r.n`, messageID).Scan(&ids).Error; err != nil {
			return err
		}
		rows, err := chaseDuties(t.DB, ids)
		if err != nil {
			return err
		}
		if len(rows) == 0 {
			why = "nothing in it is due any more"
			return nil
		}
		var due []string
		for _, row := range rows {
			if stopped := row.Chased().Stopped(); stopped != "" {
				why = stopped
			} else {
				due = append(due, row.DutyID)
			}
		}
		if why == "" || len(due) == 0 {
			return nil
		}
		return t.Exec("DELETE FROM reminders WHERE parcel_id = ? AND duty_n IN (SELECT n FROM duties WHERE id IN ?)",
			messageID, due).Error
	})
	return why, err
}

// Letter is a reminder on paper.
type Letter struct {
	Date    records.Date `json:"date"`
	Name    string       `json:"name"`
	Address []string     `json:"address"` // lines under the name
	Due     []LetterDuty `json:"due"`
	Steps   []DutyStep   `json:"steps"`
}

// LetterDuty is one thing that a letter says is due.
type LetterDuty struct {
	Kind      records.DutyKind `json:"kind"`
	Due       records.Date     `json:"due"`
	Appliance string           `json:"appliance"`
	Property  records.Property `json:"property"`
}

// LetterBatch is letters that were printed together.
type LetterBatch struct {
	ID      string
	At      time.Time
	By      string
	Firm    records.Firm
	Letters []Letter
}

type letterBatchRow struct {
	N             int64 `gorm:"primaryKey" line:"-"`
	ID            string
	Doc           string `line:"json"`
	ActorName, At string
}

func (letterBatchRow) TableName() string { return "letter_batches" }

type letterDoc struct {
	Firm    records.Firm `json:"firm"`
	Letters []Letter     `json:"letters"`
}

func (r letterBatchRow) batch() (LetterBatch, error) {
	var d letterDoc
	err := fromJSON(r.Doc, &d)
	return LetterBatch{ID: r.ID, At: instant(r.At), By: r.ActorName, Firm: d.Firm, Letters: d.Letters}, err
}

// AddLetters keeps the letters to be printed and notes them as sent; the
// batch can be printed again. Letters whose duty needs none any more are left
// out, and the answer says why, as SendReminders does. Errors: Invalid;
// Conflict when no letter is left.
func (s Chase) AddLetters(ctx context.Context, actor records.Actor, firm records.Firm,
	letters []Letter) (b LetterBatch, why []string, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		b = LetterBatch{ID: t.newID(), At: t.at, By: actor.Name, Firm: firm}
		why = make([]string, len(letters))
		for i, l := range letters {
			rows, no, err := t.stillDue(l.Steps)
			if err != nil {
				return err
			}
			if why[i] = no; no != "" {
				continue
			}
			if err := t.noteReminders(rows, l.Steps, "letter", b.ID); err != nil {
				return err
			}
			b.Letters = append(b.Letters, l)
		}
		if len(b.Letters) == 0 {
			return records.Fail(records.Conflict, "no letter is left to print: "+
				strings.Join(slices.Compact(slices.Clone(why)), ", "))
		}
		doc, err := toJSON(letterDoc{firm, b.Letters})
		if err != nil {
			return err
		}
		return t.Create(&letterBatchRow{ID: b.ID, Doc: doc, ActorName: actor.Name, At: stamp(t.at)}).Error
	})
	return b, why, err
}

// LetterBatch returns letters that were printed together. Errors: NotFound.
func (s Chase) LetterBatch(ctx context.Context, id string) (LetterBatch, error) {
	var row letterBatchRow
	if err := one(s.read(ctx).Where("id = ?", id), &row, "batch of letters", id); err != nil {
		return LetterBatch{}, explain(err)
	}
	b, err := row.batch()
	return b, explain(err)
}

// LetterBatches returns the latest batches, newest first.
func (s Chase) LetterBatches(ctx context.Context) (out []LetterBatch, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var rows []letterBatchRow
		if err := db.Order("n DESC").Limit(20).Find(&rows).Error; err != nil {
			return err
		}
		out, err = mappedErr(rows, letterBatchRow.batch)
		return err
	})
	return out, err
}
