package store

import (
	"context"
	"errors"

	"gorm.io/gorm"

	"gaugebook/records"
)

type ownerLimitRow struct {
	Rule string `gorm:"primaryKey"`
	Kind string `gorm:"primaryKey"`
	Doc  string `line:"json"`
}

func (ownerLimitRow) TableName() string { return "owner_limits" }

// OwnerLimits returns the levels that the owner entered and the limits to be
// guarded.
func (s Settings) OwnerLimits(ctx context.Context) ([]records.OwnerLimit, error) {
	limits, err := readOwnerLimits(s.read(ctx))
	return limits, explain(err)
}

func readOwnerLimits(db *gorm.DB) ([]records.OwnerLimit, error) {
	var rows []ownerLimitRow
	if err := db.Order("rule, kind").Find(&rows).Error; err != nil {
		return nil, err
	}
	return mappedErr(rows, func(r ownerLimitRow) (o records.OwnerLimit, err error) {
		return o, fromJSON(r.Doc, &o)
	})
}

// SaveOwnerLimit stores a limit in place of the earlier one of its rule and
// kind. Errors: Invalid, as OwnerLimit.Checked says.
func (s Settings) SaveOwnerLimit(ctx context.Context, actor records.Actor, o records.OwnerLimit) error {
	o, err := o.Checked()
	if err != nil {
		return err
	}
	doc, err := toJSON(o)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		if err := t.put(&ownerLimitRow{o.Rule, o.Kind, doc}); err != nil {
			return err
		}
		return t.log("limit of the owner entered", o.Rule+" "+o.Kind, detail{"limit": o})
	})
}

// RemoveOwnerLimit takes a limit away again, if it is there.
func (s Settings) RemoveOwnerLimit(ctx context.Context, actor records.Actor, rule, kind string) error {
	return s.write(ctx, actor, func(t *tx) error {
		if err := t.Where("rule = ? AND kind = ?", rule, kind).Delete(&ownerLimitRow{}).Error; err != nil {
			return err
		}
		return t.log("limit of the owner removed", rule+" "+kind, detail{})
	})
}

// checkOwnerLimit refuses a limit that no form would have accepted.
func checkOwnerLimit(v map[string]any) error {
	var o records.OwnerLimit
	if err := fromJSON(text(v, "doc"), &o); err != nil {
		return err
	}
	if o.Rule != text(v, "rule") || o.Kind != text(v, "kind") {
		return errors.New("the limit is of another rule or kind than its line says")
	}
	_, err := o.Checked()
	return err
}
