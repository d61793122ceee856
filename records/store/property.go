package store

import (
	"context"
	"strings"

	"gaugebook/records"
)

type propertyRow struct {
	N                                           int64 `gorm:"primaryKey" line:"-"`
	ID, Line1, Line2, Town, Postcode, Nation    string
	ContactName, ContactEmail                   string
	ContactPhone, ContactTenure, ContactAddress string
	CreatedAt                                   string
}

func (propertyRow) TableName() string { return "properties" }

func propertyRowOf(p records.PropertyEntry) propertyRow {
	return propertyRow{ID: p.ID, Line1: p.Line1, Line2: p.Line2, Town: p.Town, Postcode: p.Postcode,
		Nation: string(p.Nation), ContactName: p.Contact.Name, ContactEmail: p.Contact.Email,
		ContactPhone: p.Contact.Phone, ContactTenure: string(p.Contact.Tenure), ContactAddress: p.Contact.Address}
}

func (r propertyRow) entry() records.PropertyEntry {
	return records.PropertyEntry{ID: r.ID, Property: r.property(), Contact: records.Contact{Name: r.ContactName,
		Email: r.ContactEmail, Phone: r.ContactPhone, Tenure: records.Tenure(r.ContactTenure),
		Address: r.ContactAddress}}
}

func (r propertyRow) property() records.Property {
	return records.Property{Line1: r.Line1, Line2: r.Line2, Town: r.Town, Postcode: r.Postcode,
		Nation: records.Nation(r.Nation)}
}

// addressKey sorts by postcode, then by the first line with house numbers as
// numbers: neighbours stand together, in the order of the street.
func addressKey(p records.Property) string {
	var b strings.Builder
	b.WriteString(p.Postcode + " ")
	digits := ""
	flush := func() {
		if digits != "" {
			b.WriteString(strings.Repeat("0", max(0, 6-len(digits))) + digits)
			digits = ""
		}
	}
	for _, r := range strings.ToLower(p.Line1 + " " + p.Line2) {
		if r >= '0' && r <= '9' {
			digits += string(r)
			continue
		}
		flush()
		b.WriteRune(r)
	}
	flush()
	return b.String()
}

// CreateProperty adds a property and gives it an id. Errors: Invalid.
func (s Register) CreateProperty(ctx context.Context, actor records.Actor,
	p records.PropertyEntry) (records.PropertyEntry, error) {
	p, err := p.Checked()
	if err != nil {
		return p, err
	}
	err = s.write(ctx, actor, func(t *tx) error {
		p.ID = t.newID()
		row := propertyRowOf(p)
		row.CreatedAt = stamp(t.at)
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("property added", p.ID, detail{"address": p.OneLine()})
	})
	return p, err
}

// saveProperty stores a property in place of old, and what the register shows
// of it at its appliances.
func (t *tx) saveProperty(old propertyRow, p records.PropertyEntry) error {
	row := propertyRowOf(p)
	row.N, row.CreatedAt = old.N, old.CreatedAt
	if err := t.Save(&row).Error; err != nil {
		return err
	}
	return t.refreshAt(row.N)
}

// refreshAt refreshes the appliances of a property.
func (t *tx) refreshAt(property int64) error {
	var at []int64
	if err := t.Model(&applianceRow{}).Where("property_n = ?", property).Pluck("n", &at).Error; err != nil {
		return err
	}
	for _, n := range at {
		if err := t.refresh(n); err != nil {
			return err
		}
	}
	return nil
}

// UpdateProperty changes address and contact, also where the register of
// appliances shows them. Records keep what they were made with. Errors:
// Invalid, NotFound.
func (s Register) UpdateProperty(ctx context.Context, actor records.Actor,
	p records.PropertyEntry) (records.PropertyEntry, error) {
	p, err := p.Checked()
	if err != nil {
		return p, err
	}
	err = s.write(ctx, actor, func(t *tx) error {
		var old propertyRow
		if err := one(t.Where("id = ?", p.ID), &old, "property", p.ID); err != nil {
			return err
		}
		if err := t.saveProperty(old, p); err != nil {
			return err
		}
		return t.log("property changed", p.ID, detail{"address": p.OneLine(), "was": old.property().OneLine()})
	})
	return p, err
}

// Property returns a property by id. Errors: NotFound.
func (s Register) Property(ctx context.Context, id string) (records.PropertyEntry, error) {
	var row propertyRow
	err := one(s.read(ctx).Where("id = ?", id), &row, "property", id)
	return row.entry(), explain(err)
}

// PropertiesIn returns the properties with a postcode, so that an address is
// not entered twice. Errors: Invalid.
func (s Register) PropertiesIn(ctx context.Context, postcode string) ([]records.PropertyEntry, error) {
	code, err := records.NormalPostcode(postcode)
	if err != nil {
		return nil, err
	}
	var rows []propertyRow
	err = s.read(ctx).Where("postcode = ?", code).Order("n").Limit(500).Find(&rows).Error
	return mapped(rows, propertyRow.entry), explain(err)
}
