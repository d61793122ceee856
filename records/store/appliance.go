package store

import (
	"context"
	"strings"

	"gorm.io/gorm"

	"gaugebook/records"
)

// noDue stands for "nothing due" in the column due: it sorts after every
// date.
const noDue = "9999-99-99"

// Appliance is one appliance in the register. Values holds the fields of the
// appliance section, as last recorded.
type Appliance struct {
	ID         string
	PropertyID string
	Values     records.Values
	Property   records.Property
	Contact    records.Contact
	NextDuty   *records.OpenDuty // the earliest open one, or nil
	LastRecord *RecordLine       // the issued record of the latest visit, or nil
	Retired    bool              // no longer there
	RetiredWhy string
}

type applianceRow struct {
	N                     int64 `gorm:"primaryKey" line:"-"`
	ID                    string
	PropertyN             int64  `line:"properties"`
	Kind                  string `line:"-"`
	MakeModel             string `line:"-"`
	Serial                string `line:"-"`
	Doc                   string `line:"json"`
	Nation                string `line:"-"`
	AddressKey            string `line:"-"`
	Search                string `line:"-"`
	Due                   string `line:"-"`
	DueN                  *int64 `line:"-"`
	LastRecordN           *int64 `line:"-"`
	NoService             bool   `line:"-"`
	NoLandlord            bool   `line:"-"`
	Retired               bool
	RetiredWhy, CreatedAt string
}

func (applianceRow) TableName() string { return "appliances" }

// setValues copies the fields of the appliance section into the row.
func (r *applianceRow) setValues(vs records.Values) error {
	own := records.Values{}
	for key, v := range vs {
		if (&records.Field{Key: key}).Section() == records.ApplianceSection.ID && v.Present() {
			own[key] = v
		}
	}
	doc, err := toJSON(own)
	if err != nil {
		return err
	}
	r.Doc, r.Kind, r.Serial = doc, own.Choice(records.ApplianceKind), own.Text(records.ApplianceSerial)
	r.MakeModel = strings.TrimSpace(own.Text(records.ApplianceMake) + " " + own.Text(records.ApplianceModel))
	return nil
}

// setProperty copies what the register shows and searches of the property.
func (r *applianceRow) setProperty(p records.PropertyEntry, numbers []string) {
	r.Nation, r.AddressKey = string(p.Nation), addressKey(p.Property)
	r.Search = searchWords(append([]string{p.OneLine(), p.Postcode, p.Contact.Name, r.MakeModel, r.Serial},
		numbers...)...)
}

// CreateAppliance adds an appliance at a property. Errors: NotFound.
func (s Register) CreateAppliance(ctx context.Context, actor records.Actor, propertyID string,
	values records.Values) (Appliance, error) {
	var id string
	err := s.write(ctx, actor, func(t *tx) error {
		var p propertyRow
		if err := one(t.Where("id = ?", propertyID), &p, "property", propertyID); err != nil {
			return err
		}
		id = t.newID()
		row := applianceRow{ID: id, PropertyN: p.N, Due: noDue, NoService: true, NoLandlord: true,
			CreatedAt: stamp(t.at)}
		if err := row.setValues(values); err != nil {
			return err
		}
		row.setProperty(p.entry(), nil)
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("appliance added", id, detail{"property": propertyID, "name": row.MakeModel})
	})
	if err != nil {
		return Appliance{}, err
	}
	return s.Appliance(ctx, id)
}

// UpdateAppliance replaces the appliance's values, to correct a mistake made
// before any record is issued; an issued record does it by itself. Errors:
// NotFound.
func (s Register) UpdateAppliance(ctx context.Context, actor records.Actor, id string,
	values records.Values) (Appliance, error) {
	err := s.write(ctx, actor, func(t *tx) error {
		row, err := t.appliance(id)
		if err != nil {
			return err
		}
		was, err := storedValues(row.Doc)
		if err != nil {
			return err
		}
		values = values.Clone()
		for key, v := range was { // no form shows them, so none can mean to clear them
			if records.FieldByKey(key) == nil {
				values[key] = v
			}
		}
		if err := t.saveValues(&row, values); err != nil {
			return err
		}
		if err := t.refresh(row.N); err != nil {
			return err
		}
		return t.log("appliance changed", id, detail{"name": row.MakeModel})
	})
	if err != nil {
		return Appliance{}, err
	}
	return s.Appliance(ctx, id)
}

// RetireAppliance takes an appliance that is no longer there out of the
// register and lifts its open duties. Its records stay. Errors: Invalid
// without a reason, NotFound, Conflict when it is retired already.
func (s Register) RetireAppliance(ctx context.Context, actor records.Actor, id, why string) error {
	why, err := records.CheckReason(why)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		row, err := t.appliance(id)
		if err != nil {
			return err
		}
		if row.Retired {
			return records.Fail(records.Conflict, "the appliance was retired already: "+row.RetiredWhy)
		}
		if err := t.closeDuties(records.Lifted, nil, "appliance retired: "+why, "appliance_n = ?", row.N); err != nil {
			return err
		}
		if err := t.cancelBookings(row.N, "appliance retired: "+why); err != nil {
			return err
		}
		if err := t.Model(&row).Updates(map[string]any{"retired": true, "retired_why": why}).Error; err != nil {
			return err
		}
		if err := t.refresh(row.N); err != nil {
			return err
		}
		return t.log("appliance retired", id, detail{"why": why})
	})
}

func (t *tx) appliance(id string) (applianceRow, error) {
	var row applianceRow
	err := one(t.Where("id = ?", id), &row, "appliance", id)
	return row, err
}

func (t *tx) saveValues(row *applianceRow, vs records.Values) error {
	if err := row.setValues(vs); err != nil {
		return err
	}
	return t.Model(row).Select("doc", "kind", "serial", "make_model").Updates(row).Error
}

// refresh brings the columns that the register reads in line with the
// property, the duties and the records of the appliance. Whatever changes one
// of those calls it in the same transaction.
func (t *tx) refresh(n int64) error {
	var row applianceRow
	if err := t.Where("n = ?", n).Take(&row).Error; err != nil {
		return err
	}
	var p propertyRow
	if err := t.Where("n = ?", row.PropertyN).Take(&p).Error; err != nil {
		return err
	}
	var open []dutyRow
	if err := t.Where("appliance_n = ? AND state = 'open'", n).Order("due, n").Find(&open).Error; err != nil {
		return err
	}
	row.Due, row.DueN, row.LastRecordN, row.NoService, row.NoLandlord = noDue, nil, nil, true, true
	for i, d := range open {
		if i == 0 {
			row.Due, row.DueN = d.Due, &open[i].N
		}
		row.NoService = row.NoService && d.Kind != string(records.AnnualService)
		row.NoLandlord = row.NoLandlord && d.Kind != string(records.LandlordCheckDue)
	}
	var last []int64
	err := t.Model(&recordRow{}).Where("appliance_n = ? AND stage = 'issued'", n).
		Order("work_date DESC, n DESC").Limit(1).Pluck("n", &last).Error
	if err != nil {
		return err
	}
	if len(last) > 0 {
		row.LastRecordN = &last[0]
	}
	var numbers []string
	issued := t.Model(&recordRow{}).Where("appliance_n = ? AND number <> ''", n).Order("n")
	if err := issued.Pluck("number", &numbers).Error; err != nil {
		return err
	}
	row.setProperty(p.entry(), numbers)
	err = t.Model(&dutyRow{}).
		Where("appliance_n = ? AND (appliance_kind <> ? OR nation <> ?)", n, row.Kind, row.Nation).
		Updates(map[string]any{"appliance_kind": row.Kind, "nation": row.Nation}).Error
	if err != nil {
		return err
	}
	return t.Model(&row).Select("nation", "address_key", "search", "due", "due_n", "last_record_n", "no_service",
		"no_landlord").Updates(&row).Error
}

// Appliance returns an appliance by id. Errors: NotFound.
func (s Register) Appliance(ctx context.Context, id string) (a Appliance, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var row applianceRow
		if err := one(db.Where("id = ?", id), &row, "appliance", id); err != nil {
			return err
		}
		var p propertyRow
		if err := db.Where("n = ?", row.PropertyN).Take(&p).Error; err != nil {
			return err
		}
		a, err = readAppliance(db, row, p)
		return err
	})
	return a, err
}

// AppliancesAt returns the appliances of a property, retired ones last.
// Errors: NotFound.
func (s Register) AppliancesAt(ctx context.Context, propertyID string) (out []Appliance, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var p propertyRow
		if err := one(db.Where("id = ?", propertyID), &p, "property", propertyID); err != nil {
			return err
		}
		var rows []applianceRow
		if err := db.Where("property_n = ?", p.N).Order("retired, n").Find(&rows).Error; err != nil {
			return err
		}
		out, err = mappedErr(rows, func(r applianceRow) (Appliance, error) { return readAppliance(db, r, p) })
		return err
	})
	return out, err
}

func readAppliance(db *gorm.DB, row applianceRow, p propertyRow) (Appliance, error) {
	e := p.entry()
	a := Appliance{ID: row.ID, PropertyID: e.ID, Property: e.Property, Contact: e.Contact, Retired: row.Retired,
		RetiredWhy: row.RetiredWhy}
	var err error
	if a.Values, err = storedValues(row.Doc); err != nil {
		return a, err
	}
	if row.DueN != nil {
		duties, err := findDuties(db.Where("d.n = ?", *row.DueN))
		if err != nil {
			return a, err
		}
		a.NextDuty = &duties[0]
	}
	if row.LastRecordN != nil {
		lines, err := findLines(db.Where("r.n = ?", *row.LastRecordN))
		if err != nil {
			return a, err
		}
		a.LastRecord = &lines[0]
	}
	return a, nil
}
