package store

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"gaugebook/records"
)

type firmRow struct {
	One int    `gorm:"primaryKey;autoIncrement:false" line:"-"`
	Doc string `line:"json"`
}

func (firmRow) TableName() string { return "firm" }

// Firm returns the firm's details; all blank until they are first saved.
func (s Settings) Firm(ctx context.Context) (records.Firm, error) {
	f, err := readFirm(s.read(ctx))
	return f, explain(err)
}

func readFirm(db *gorm.DB) (f records.Firm, err error) {
	var rows []firmRow
	if err := db.Limit(1).Find(&rows).Error; err != nil || len(rows) == 0 {
		return f, err
	}
	return f, fromJSON(rows[0].Doc, &f)
}

// SaveFirm stores the firm's details. Errors: Invalid.
func (s Settings) SaveFirm(ctx context.Context, actor records.Actor, f records.Firm) error {
	var errs records.Errors
	f.Name = records.CheckLine(&errs, "name", "Name of the firm", f.Name, 1, 80)
	f.Address = records.CheckLine(&errs, "address", "Address", f.Address, 0, 200)
	f.Phone = records.CheckLine(&errs, "phone", "Telephone", f.Phone, 0, 30)
	f.Email = records.CheckLine(&errs, "email", "E-mail", f.Email, 0, 120)
	f.Registration = records.CheckLine(&errs, "registration", "Registration number", f.Registration, 0, 40)
	if len(errs) > 0 {
		return errs
	}
	doc, err := toJSON(f)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		if err := t.put(&firmRow{1, doc}); err != nil {
			return err
		}
		return t.log("firm changed", "firm", detail{"firm": f})
	})
}

type instrumentRow struct {
	ID                                      string `gorm:"primaryKey"`
	Kind, Make, Model, Serial, CalibratedOn string
	CalibrationDue                          string
	Accuracy                                string `line:"json"`
}

func (instrumentRow) TableName() string { return "instruments" }

func (r instrumentRow) instrument() (in records.Instrument, err error) {
	in = records.Instrument{ID: r.ID, Kind: r.Kind, Make: r.Make, Model: r.Model, Serial: r.Serial,
		CalibratedOn: date(r.CalibratedOn), CalibrationDue: date(r.CalibrationDue)}
	if r.Accuracy != "[]" { // none stated
		err = fromJSON(r.Accuracy, &in.Accuracy)
	}
	return in, err
}

// Instruments returns the firm's instruments, the one due for calibration
// first at the top.
func (s Settings) Instruments(ctx context.Context) ([]records.Instrument, error) {
	var rows []instrumentRow
	if err := s.read(ctx).Order("calibration_due, kind, serial").Find(&rows).Error; err != nil {
		return nil, explain(err)
	}
	instruments, err := mappedErr(rows, instrumentRow.instrument)
	return instruments, explain(err)
}

// SaveInstrument adds an instrument, giving it an id if it has none, or
// changes the one with its id. Errors: Invalid.
func (s Settings) SaveInstrument(ctx context.Context, actor records.Actor,
	in records.Instrument) (records.Instrument, error) {
	var errs records.Errors
	in.ID = records.CheckLine(&errs, "id", "Id", in.ID, 0, 40)
	in.Make = records.CheckLine(&errs, "make", "Make", in.Make, 0, 60)
	in.Model = records.CheckLine(&errs, "model", "Model", in.Model, 0, 60)
	in.Serial = records.CheckLine(&errs, "serial", "Serial number", in.Serial, 1, 40)
	if !slices.Contains(records.InstrumentKinds, in.Kind) {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: "kind", Label: "Kind", Value: clip(in.Kind),
			Want: fmt.Sprintf("one of %v", records.InstrumentKinds)})
	}
	if !in.CalibratedOn.IsZero() && !in.CalibrationDue.IsZero() && !in.CalibrationDue.After(in.CalibratedOn) {
		errs = append(errs, &records.Error{Kind: records.Invalid, Field: "calibration_due", Label: "Calibration due",
			Value: in.CalibrationDue.String(), Want: "a date after the calibration"})
	}
	if err := in.CheckedAccuracy(); err != nil {
		var more records.Errors
		if !errors.As(err, &more) {
			return in, err
		}
		errs = append(errs, more...)
	}
	if len(errs) > 0 {
		return in, errs
	}
	accuracy := "[]"
	if len(in.Accuracy) > 0 {
		var err error
		if accuracy, err = toJSON(in.Accuracy); err != nil {
			return in, err
		}
	}
	err := s.write(ctx, actor, func(t *tx) error {
		if in.ID == "" {
			in.ID = t.newID()
		}
		row := instrumentRow{ID: in.ID, Kind: in.Kind, Make: in.Make, Model: in.Model, Serial: in.Serial,
			CalibratedOn: in.CalibratedOn.String(), CalibrationDue: in.CalibrationDue.String(),
			Accuracy: accuracy}
		if err := t.put(&row); err != nil {
			return err
		}
		return t.log("instrument saved", in.ID, detail{"instrument": in})
	})
	return in, err
}

type dropBandsRow struct {
	Edition string `gorm:"primaryKey"`
	Fuel    string `gorm:"primaryKey"`
	Doc     string `line:"json"`
}

func (dropBandsRow) TableName() string { return "drop_bands" }

// DropBands returns the permissible-drop tables that the owner has entered.
func (s Settings) DropBands(ctx context.Context) ([]records.DropBands, error) {
	bands, err := readDropBands(s.read(ctx))
	return bands, explain(err)
}

func readDropBands(db *gorm.DB) ([]records.DropBands, error) {
	var rows []dropBandsRow
	if err := db.Order("edition, fuel").Find(&rows).Error; err != nil {
		return nil, err
	}
	return mappedErr(rows, func(r dropBandsRow) (b records.DropBands, err error) {
		return b, fromJSON(r.Doc, &b)
	})
}

// SaveDropBands stores the table of an edition and fuel in place of the
// earlier one. Errors: Invalid, as DropBands.Checked says.
func (s Settings) SaveDropBands(ctx context.Context, actor records.Actor, b records.DropBands) error {
	b, err := b.Checked()
	if err != nil {
		return err
	}
	doc, err := toJSON(b)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		if err := t.put(&dropBandsRow{b.Edition, b.Fuel, doc}); err != nil {
			return err
		}
		return t.log("permissible drops entered", b.Edition+" "+b.Fuel, detail{"bands": b})
	})
}

// checkBands refuses a table that a rule would read and that no form would
// have accepted. One that no rule reads decides nothing and is kept.
func checkBands(v map[string]any) error {
	var b records.DropBands
	if err := fromJSON(text(v, "doc"), &b); err != nil {
		return err
	}
	if b.Edition != text(v, "edition") || b.Fuel != text(v, "fuel") {
		return errors.New("the table is of another edition or fuel than its line says")
	}
	if !b.Used() {
		return nil
	}
	_, err := b.Checked()
	return err
}
