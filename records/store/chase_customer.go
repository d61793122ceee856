package store

import (
	"context"

	"gorm.io/gorm"

	"gaugebook/records"
)

// Customer is everything of one contact: the properties whose contact has the
// same e-mail address, or the same name and telephone where there is none.
type Customer struct {
	Contact    records.Contact
	Stopped    *Suppression // nil if they get reminders
	Properties []records.PropertyEntry
	Appliances []Appliance // in use, by property
	Duties     []ChaseRow  // open ones that visits fulfil, by date
	Log        []CustomerAttempt
	Bookings   []records.Booking
}

// CustomerAttempt is an entry of the chase log with the appliance it is about.
type CustomerAttempt struct {
	records.ContactAttempt
	ApplianceID string
	Appliance   string
}

// customerMost bounds each list of a customer's page.
const customerMost = 300

// Customer returns what is known of the contact of a property. Errors:
// NotFound.
func (s Chase) Customer(ctx context.Context, propertyID string) (c Customer, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var p propertyRow
		if err := one(db.Where("id = ?", propertyID), &p, "property", propertyID); err != nil {
			return err
		}
		c.Contact = p.entry().Contact
		own, err := sameContact(db, p)
		if err != nil {
			return err
		}
		ns := make([]int64, len(own))
		for i, row := range own {
			ns[i] = row.N
			c.Properties = append(c.Properties, row.entry())
			var rows []applianceRow
			if err := db.Where("property_n = ? AND retired = 0", row.N).Order("n").Limit(customerMost).
				Find(&rows).Error; err != nil {
				return err
			}
			for _, r := range rows {
				a, err := readAppliance(db, r, row)
				if err != nil {
					return err
				}
				c.Appliances = append(c.Appliances, a)
			}
		}
		return c.read(db, ns)
	})
	if err != nil {
		return c, err
	}
	c.Stopped, err = s.Suppressed(ctx, c.Contact.Email)
	return c, err
}

func sameContact(db *gorm.DB, p propertyRow) ([]propertyRow, error) {
	if p.ContactEmail == "" && p.ContactName == "" {
		return []propertyRow{p}, nil
	}
	q := db.Where("contact_name <> '' AND "+sameText("contact_name")+
		" AND contact_email = '' AND contact_phone = ? AND contact_address = ?",
		p.ContactName, p.ContactPhone, p.ContactAddress)
	if p.ContactEmail != "" {
		q = db.Where("contact_email <> '' AND "+sameText("contact_email"), p.ContactEmail)
	}
	var rows []propertyRow
	err := q.Order("n").Limit(customerMost).Find(&rows).Error
	return rows, err
}

func (c *Customer) read(db *gorm.DB, propertyNs []int64) error {
	var rows []chaseRow
	err := db.Raw(chaseColumns+"duties d"+by("duties_appliance")+chaseJoins+`d.state = 'open' AND d.kind IN ?
		AND d.appliance_n IN (SELECT n FROM appliances WHERE property_n IN ? AND retired = 0)
		ORDER BY d.due, d.n LIMIT ?`, ChaseKinds, propertyNs, customerMost).Scan(&rows).Error
	if err != nil {
		return err
	}
	c.Duties = mapped(rows, chaseRow.row)
	var log []struct {
		Attempt     attemptRow `gorm:"embedded"`
		ApplianceID string
		Appliance   string
	}
	err = db.Raw("SELECT "+attemptTable.list("k")+`, a.id AS appliance_id, a.make_model AS appliance
		FROM contact_attempts k JOIN appliances a ON a.n = k.appliance_n
		WHERE a.property_n IN ? ORDER BY k.n DESC LIMIT ?`, propertyNs, customerMost).Scan(&log).Error
	if err != nil {
		return err
	}
	for _, k := range log {
		c.Log = append(c.Log, CustomerAttempt{k.Attempt.attempt(), k.ApplianceID, k.Appliance})
	}
	c.Bookings, err = findBookings(db, "bookings_appliance",
		"b.appliance_n IN (SELECT n FROM appliances WHERE property_n IN ?) ORDER BY b.on_date DESC, b.n DESC LIMIT ?",
		propertyNs, customerMost)
	return err
}
