package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"strings"

	"gorm.io/gorm"

	"gaugebook/records"
)

// ListItem is one appliance of an imported list.
type ListItem struct {
	Row      int // of the list, for messages
	Property records.Property
	Contact  records.Contact // blank for none
	Values   records.Values  // of the appliance section
	LastWork records.Date    // that Duty follows from
	Duty     *records.Duty   // nil for none
}

// ListOptions say how a list is taken in.
type ListOptions struct {
	Source string // name of the file, for the audit log
	SHA256 string // of the file
	// Update lets the list change appliances that are on file already. What
	// the list leaves blank is kept either way.
	Update bool
	// Progress, if set, is called now and then with the rows done.
	Progress func(rows int)
}

// ListCount is what a list comes to.
type ListCount struct {
	Rows       int
	Properties int // new ones
	Appliances int // new ones
	Duties     int // new ones
	Updated    int // appliances on file that the list changed
	Left       int // appliances on file that stay as they are
}

// ListRefusal is a row that does not fit the rest of its list. Column is
// "appliance" or "contact".
type ListRefusal struct {
	Row    int
	Column string
	Err    *records.Error
}

// Error names the row.
func (r *ListRefusal) Error() string { return fmt.Sprintf("row %d: %s", r.Row, r.Err) }

// Unwrap makes it of the kind of its cause.
func (r *ListRefusal) Unwrap() error { return r.Err }

// TryList counts what ImportList would do, and writes nothing. next returns
// the items one by one and io.EOF at the end. Every row that does not fit is
// given to refuse. Errors: those of next.
func (s Bulk) TryList(ctx context.Context, opt ListOptions, next func() (ListItem, error),
	refuse func(*ListRefusal)) (count ListCount, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		l := &lister{bulk: bulkOf(ctx, db), db: db, opt: opt, places: map[string]map[string][]*listPlace{},
			seen: map[string]int{}}
		defer l.close()
		err := l.run(next, func(r *ListRefusal) error { refuse(r); return nil })
		count = l.count
		return err
	})
	return count, err
}

// ImportList takes in a whole list, or nothing of it. An appliance is known
// again by postcode, first line and serial number, so a list may be taken in
// twice. Errors: those of next; *ListRefusal, a Conflict.
func (s Bulk) ImportList(ctx context.Context, actor records.Actor, opt ListOptions,
	next func() (ListItem, error)) (count ListCount, err error) {
	err = s.write(ctx, actor, func(t *tx) error {
		l := &lister{bulk: bulkOf(ctx, t.DB), db: t.DB, tx: t, opt: opt, places: map[string]map[string][]*listPlace{},
			seen: map[string]int{}}
		defer l.close()
		if err := l.number(); err != nil {
			return err
		}
		index, err := l.pauseIndex(false)
		if err != nil {
			return err
		}
		l.index = index
		if err := l.run(next, func(r *ListRefusal) error { return r }); err != nil {
			return err
		}
		if err := index.resume(); err != nil {
			return err
		}
		count = l.count
		return t.log("list imported", opt.Source, detail{"sha256": opt.SHA256, "rows": count.Rows,
			"properties": count.Properties, "appliances": count.Appliances, "duties": count.Duties,
			"updated": count.Updated, "left": count.Left})
	})
	if err != nil {
		return ListCount{}, err
	}
	return count, nil
}

// lister takes in one list. Without tx it only counts.
type lister struct {
	*bulk
	db    *gorm.DB
	tx    *tx
	opt   ListOptions
	count ListCount
	index *pausedIndex
	// places holds the properties of each postcode met so far by their first
	// line, those on file and those of the list.
	places                map[string]map[string][]*listPlace
	seen                  map[string]int // appliance to the row that named it
	propN, applianceN, dN int64          // numbers to give out next
}

type listPlace struct {
	n       int64 // 0 while nothing is written
	row     int   // that it came with, 0 for one on file
	entry   records.PropertyEntry
	known   []listAppliance // on file
	counted bool            // known has been read
}

type listAppliance struct {
	row    applianceRow
	values records.Values
}

// number makes numbers ahead, so that each row is written once, whole.
func (l *lister) number() error {
	return errors.Join(l.nextNumber(propertyTable, &l.propN), l.nextNumber(applianceTable, &l.applianceN),
		l.nextNumber(dutyTable, &l.dN))
}

func (l *lister) run(next func() (ListItem, error), refuse func(*ListRefusal) error) error {
	for {
		item, err := next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil {
			err = l.ctx.Err()
		}
		if err != nil {
			return err
		}
		var no *ListRefusal
		if err := l.take(item); errors.As(err, &no) {
			if err := refuse(no); err != nil {
				return err
			}
		} else if err != nil {
			return fmt.Errorf("row %d: %w", item.Row, err)
		}
		if l.count.Rows++; l.opt.Progress != nil && l.count.Rows%500 == 0 {
			l.opt.Progress(l.count.Rows)
		}
	}
}

func fold(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }

// applianceKey tells the appliances of one property apart: by serial number,
// or by everything else where there is none.
func applianceKey(vs records.Values) string {
	if serial := strings.ReplaceAll(fold(vs.Text(records.ApplianceSerial)), " ", ""); serial != "" {
		return "serial " + serial
	}
	return strings.Join([]string{"kind", vs.Choice(records.ApplianceKind), fold(vs.Text(records.ApplianceMake)),
		fold(vs.Text(records.ApplianceModel)), fold(vs.Text(records.ApplianceLocation))}, "\n")
}

func (l *lister) take(item ListItem) error {
	p, err := l.place(item)
	if err != nil {
		return err
	}
	key := applianceKey(item.Values)
	inList := strings.Join([]string{p.entry.Postcode, fold(p.entry.Line1), fold(p.entry.Line2), key}, "\n")
	if before := l.seen[inList]; before > 0 {
		return &ListRefusal{item.Row, "appliance", &records.Error{Kind: records.Conflict,
			Msg:  fmt.Sprintf("row %d names the same appliance", before),
			Want: "each appliance once; give the serial number, or where it stands, to tell two of a kind apart"}}
	}
	l.seen[inList] = item.Row
	for _, a := range p.known {
		if applianceKey(a.values) == key {
			return l.again(p, a, item)
		}
	}
	return l.add(p, item)
}

// place returns the property of the item; a new one is written first.
func (l *lister) place(item ListItem) (*listPlace, error) {
	streets, err := l.postcode(item.Property.Postcode)
	if err != nil {
		return nil, err
	}
	street := fold(item.Property.Line1)
	var found *listPlace
	for _, p := range streets[street] {
		if fold(p.entry.Line2) == fold(item.Property.Line2) || item.Property.Line2 == "" && len(streets[street]) == 1 {
			found = p
			break
		}
	}
	if found == nil {
		found = &listPlace{row: item.Row, counted: true,
			entry: records.PropertyEntry{Property: item.Property, Contact: item.Contact}}
		streets[street] = append(streets[street], found)
		l.count.Properties++
		if l.tx != nil {
			found.n, found.entry.ID = l.propN, l.tx.newID()
			l.propN++
			row := propertyRowOf(found.entry)
			row.N, row.CreatedAt = found.n, stamp(l.tx.at)
			err = l.insert(propertyTable, row)
		}
		return found, err
	}
	if blank := (records.Contact{}); found.row > 0 && item.Contact != blank && found.entry.Contact != item.Contact {
		return nil, &ListRefusal{item.Row, "contact", &records.Error{Kind: records.Conflict,
			Msg:  fmt.Sprintf("row %d has another contact for this address", found.row),
			Want: "one contact for each address, or blanks in the later rows"}}
	}
	return found, l.known(found)
}

// postcode reads the properties on file of a postcode, once.
func (l *lister) postcode(code string) (map[string][]*listPlace, error) {
	if streets := l.places[code]; streets != nil {
		return streets, nil
	}
	streets := map[string][]*listPlace{}
	l.places[code] = streets
	err := l.each("SELECT "+propertyTable.list("")+" FROM properties WHERE postcode = ? ORDER BY n", []any{code},
		func(r *sql.Rows) error {
			var p propertyRow
			err := r.Scan(propertyTable.into(&p)...)
			streets[fold(p.Line1)] = append(streets[fold(p.Line1)], &listPlace{n: p.N, entry: p.entry()})
			return err
		})
	return streets, err
}

// known reads the appliances on file of a property, once; those in use come
// first.
func (l *lister) known(p *listPlace) error {
	if p.counted {
		return nil
	}
	p.counted = true
	query := "SELECT " + applianceTable.list("") + " FROM appliances WHERE property_n = ? ORDER BY retired, n"
	return l.each(query, []any{p.n}, func(r *sql.Rows) error {
		var a listAppliance
		if err := r.Scan(applianceTable.into(&a.row)...); err != nil {
			return err
		}
		var err error
		a.values, err = storedValues(a.row.Doc)
		p.known = append(p.known, a)
		return err
	})
}

// add writes an appliance that is not on file, with its duty.
func (l *lister) add(p *listPlace, item ListItem) error {
	l.count.Appliances++
	if item.Duty != nil {
		l.count.Duties++
	}
	if l.tx == nil {
		return nil
	}
	row := applianceRow{N: l.applianceN, ID: l.tx.newID(), PropertyN: p.n, Due: noDue, NoService: true,
		NoLandlord: true, CreatedAt: stamp(l.tx.at)}
	l.applianceN++
	if err := row.setValues(item.Values); err != nil {
		return err
	}
	row.setProperty(p.entry, nil)
	if item.Duty == nil {
		return l.insert(applianceTable, row)
	}
	d, err := l.duty(row, item)
	if err != nil {
		return err
	}
	row.Due, row.DueN = d.Due, &d.N
	row.NoService, row.NoLandlord = d.Kind != string(records.AnnualService), d.Kind != string(records.LandlordCheckDue)
	if err := l.insert(applianceTable, row); err != nil {
		return err
	}
	return l.insert(dutyTable, d)
}

func (l *lister) duty(a applianceRow, item ListItem) (dutyRow, error) {
	source, err := toJSON(item.Duty.Source)
	d := dutyRow{N: l.dN, ID: l.tx.newID(), ApplianceN: a.N, Kind: string(item.Duty.Kind), Due: item.Duty.Due.String(),
		Why: item.Duty.Why, Source: source, State: "open", WorkDate: item.LastWork.String(), CreatedAt: stamp(l.tx.at),
		ApplianceKind: a.Kind, Nation: a.Nation}
	l.dN++
	return d, err
}
