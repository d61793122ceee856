package store

import (
	"gaugebook/records"
)

// again handles an appliance that is on file.
func (l *lister) again(p *listPlace, a listAppliance, item ListItem) error {
	place := merged(p.entry, item)
	values, changed := a.values.Clone(), place != p.entry
	for key, v := range item.Values {
		if !values[key].Equal(v) {
			values[key], changed = v, true
		}
	}
	// A record in force or a service that is due already says more than the list.
	dutied := item.Duty != nil && a.row.NoService && a.row.LastRecordN == nil
	if !l.opt.Update || a.row.Retired || !changed && !dutied {
		l.count.Left++
		return nil
	}
	l.count.Updated++
	if dutied {
		l.count.Duties++
	}
	if l.tx == nil {
		p.entry = place
		return nil
	}
	return l.update(p, place, a.row, values, item, dutied)
}

// merged is the property as the list has it, blanks as they were.
func merged(e records.PropertyEntry, item ListItem) records.PropertyEntry {
	if item.Property.Line2 != "" {
		e.Line2 = item.Property.Line2
	}
	e.Town, e.Nation = item.Property.Town, item.Property.Nation
	if item.Contact == (records.Contact{}) {
		return e
	}
	was := e.Contact
	e.Contact = item.Contact
	for to, from := range map[*string]string{&e.Contact.Email: was.Email, &e.Contact.Phone: was.Phone,
		&e.Contact.Address: was.Address} {
		if *to == "" && item.Contact.Name == was.Name {
			*to = from
		}
	}
	return e
}

func (l *lister) update(p *listPlace, place records.PropertyEntry, row applianceRow, values records.Values,
	item ListItem, dutied bool) error {
	t := l.tx
	// What is about to be changed must be in the index first.
	if err := l.index.catchUp(); err != nil {
		return err
	}
	if place != p.entry {
		was := p.entry
		p.entry = place
		next := propertyRowOf(place)
		// The rest is what the list knows the property by.
		if err := t.Model(&propertyRow{}).Where("n = ?", p.n).Select("*").
			Omit("n", "id", "line1", "postcode", "created_at").Updates(&next).Error; err != nil {
			return err
		}
		if err := t.refreshAt(p.n); err != nil {
			return err
		}
		if err := t.log("property changed", place.ID, detail{"address": place.OneLine(), "was": was.OneLine(),
			"list": l.opt.Source}); err != nil {
			return err
		}
	}
	if err := t.saveValues(&row, values); err != nil {
		return err
	}
	if dutied {
		d, err := l.duty(row, item)
		if err != nil {
			return err
		}
		if err := l.insert(dutyTable, d); err != nil {
			return err
		}
	}
	if err := t.refresh(row.N); err != nil {
		return err
	}
	return t.log("appliance changed", row.ID, detail{"name": row.MakeModel, "list": l.opt.Source})
}
