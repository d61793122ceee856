package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// ContactRequest is a customer's wish to have their details put right, from
// the page of their record. Nothing changes until somebody confirms it.
type ContactRequest struct {
	ID       string
	Record   RecordLine
	Issued   records.Contact // of the person the record was issued to, maybe long ago
	Was      records.Contact // as on file when it was asked
	Wanted   records.Contact // Was with another name, telephone or e-mail
	At       time.Time
	Outdated bool // the contact on file is not Was any more
}

type contactRequestRow struct {
	N                                 int64 `gorm:"primaryKey" line:"-"`
	ID                                string
	RecordN                           int64 `line:"records"`
	PropertyN                         int64 `line:"properties"`
	Name, Phone, Email                string
	Was                               string `line:"json"`
	At, SettledAt, SettledBy, Outcome string
}

func (contactRequestRow) TableName() string { return "contact_requests" }

// wanted returns the contact on file when the customer asked and what they
// want it to be. How they hold the property is not theirs to change here.
func (r contactRequestRow) wanted() (was, wanted records.Contact, err error) {
	err = fromJSON(r.Was, &was)
	wanted = was
	wanted.Name, wanted.Phone, wanted.Email = r.Name, r.Phone, r.Email
	return was, wanted, err
}

// AskContact stores a customer's wish; a later one about the same record takes
// the place of one that still waits. Errors: Invalid, also when nothing would
// change; NotFound; Conflict for too many on one day.
func (s Requests) AskContact(ctx context.Context, recordID, name, phone, email string) (id string, err error) {
	err = s.write(ctx, records.Actor{Name: "customer"}, func(t *tx) error {
		var r recordRow
		if err := one(t.Where("id = ? AND number <> ''", recordID), &r, "issued record", recordID); err != nil {
			return err
		}
		var p propertyRow
		at := t.Where("n = (SELECT property_n FROM appliances WHERE n = ?)", r.ApplianceN)
		if err := at.Take(&p).Error; err != nil {
			return err
		}
		was := p.entry().Contact
		want := was
		want.Name, want.Phone, want.Email = name, phone, email
		if want.Tenure == "" {
			want.Tenure = records.OwnerOccupier // only to be checked: it is not stored
		}
		want, err := want.Checked()
		if err != nil {
			return err
		}
		if want.Name == was.Name && want.Phone == was.Phone && want.Email == was.Email {
			return &records.Error{Kind: records.Invalid, Msg: "these are the details on file already",
				Want: "what is to be different"}
		}
		var today int64
		if err := t.Model(&contactRequestRow{}).Where("record_n = ? AND at > ?", r.N,
			stamp(t.at.Add(-24*time.Hour))).Count(&today).Error; err != nil {
			return err
		}
		if today >= openRequests {
			return records.Fail(records.Conflict, "several changes were asked for today already: call the firm instead")
		}
		before, err := toJSON(was)
		if err != nil {
			return err
		}
		if err := t.Model(&contactRequestRow{}).Where("record_n = ? AND settled_at = ''", r.N).
			Updates(map[string]any{"settled_at": stamp(t.at), "settled_by": "a later request",
				"outcome": "refused"}).Error; err != nil {
			return err
		}
		row := contactRequestRow{ID: t.newID(), RecordN: r.N, PropertyN: p.N, Name: want.Name, Phone: want.Phone,
			Email: want.Email, Was: before, At: stamp(t.at)}
		id = row.ID
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("contact change requested", recordID, detail{"request": id})
	})
	return id, err
}

// Contacts returns the wishes that wait, oldest first.
func (s Requests) Contacts(ctx context.Context) (out []ContactRequest, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var rows []contactRequestRow
		if err := db.Where("settled_at = ''").Order("n").Limit(500).Find(&rows).Error; err != nil {
			return err
		}
		out, err = mappedErr(rows, func(r contactRequestRow) (ContactRequest, error) {
			c := ContactRequest{ID: r.ID, At: instant(r.At)}
			if c.Was, c.Wanted, err = r.wanted(); err != nil {
				return c, err
			}
			lines, err := findLines(db.Where("r.n = ?", r.RecordN))
			if err != nil {
				return c, err
			}
			c.Record = lines[0]
			_, issued, err := readRecord(db, c.Record.ID)
			if err != nil {
				return c, err
			}
			c.Issued = issued.Contact
			var p propertyRow
			err = db.Where("n = ?", r.PropertyN).Take(&p).Error
			c.Outdated = p.entry().Contact != c.Was
			return c, err
		})
		return err
	})
	return out, err
}

// ConfirmContact changes the property's contact as the customer asked. Errors:
// NotFound; Invalid; Conflict when it was settled already or the contact on
// file has changed since.
func (s Requests) ConfirmContact(ctx context.Context, actor records.Actor, id string) error {
	return s.settleContact(ctx, actor, id, "confirmed", func(t *tx, r contactRequestRow) error {
		var p propertyRow
		if err := t.Where("n = ?", r.PropertyN).Take(&p).Error; err != nil {
			return err
		}
		was, wanted, err := r.wanted()
		if err != nil {
			return err
		}
		if p.entry().Contact != was {
			return records.Fail(records.Conflict, "the contact on file has changed since the customer asked: "+
				"compare the two and change it on the page of the address")
		}
		if wanted, err = wanted.Checked(); err != nil {
			return err
		}
		return t.saveContact(p, wanted)
	})
}

// RefuseContact settles a wish without changing anything. Errors: NotFound;
// Conflict when it was settled already.
func (s Requests) RefuseContact(ctx context.Context, actor records.Actor, id string) error {
	return s.settleContact(ctx, actor, id, "refused", func(*tx, contactRequestRow) error { return nil })
}

func (s Requests) settleContact(ctx context.Context, actor records.Actor, id, outcome string,
	do func(*tx, contactRequestRow) error) error {
	return s.write(ctx, actor, func(t *tx) error {
		var row contactRequestRow
		if err := one(t.Where("id = ?", id), &row, "request", id); err != nil {
			return err
		}
		if row.SettledAt != "" {
			return records.Fail(records.Conflict, "the request was "+row.Outcome+" by "+row.SettledBy)
		}
		if err := do(t, row); err != nil {
			return err
		}
		if err := t.Model(&row).Updates(map[string]any{"settled_at": stamp(t.at), "settled_by": t.actor.Name,
			"outcome": outcome}).Error; err != nil {
			return err
		}
		return t.log("contact change "+outcome, id, nil)
	})
}

// saveContact changes the contact of a property, also in the register.
func (t *tx) saveContact(p propertyRow, c records.Contact) error {
	e := p.entry()
	e.Contact = c
	if err := t.saveProperty(p, e); err != nil {
		return err
	}
	return t.log("contact changed", p.ID, nil)
}
