package exchange

import (
	"errors"
	"fmt"
	"strings"

	"gaugebook/records"
	"gaugebook/records/due"
)

// Item is one row of a list: an appliance, its address and its contact.
type Item struct {
	Row         int
	Property    records.Property
	Contact     records.Contact // blank for none
	Values      records.Values  // of the appliance section
	LastService records.Date
}

// Duty returns the annual service that follows from the last one; false when
// the list names none.
func (i Item) Duty() (records.Duty, bool) {
	if i.LastService.IsZero() {
		return records.Duty{}, false
	}
	d := due.AnnualService(i.LastService, 0)
	d.Why += " The date of that work is from the imported list."
	return d, true
}

// RowError is why a cell was not accepted.
type RowError struct {
	Row    int
	Column string // its heading, or the label of what it should hold
	Err    *records.Error
}

// Error names row and column.
func (e *RowError) Error() string {
	return fmt.Sprintf("row %d, column “%s”: %s", e.Row, e.Column, e.Err)
}

// Unwrap makes it of the kind of its cause.
func (e *RowError) Unwrap() error { return e.Err }

// Reader turns the rows of a list into items.
type Reader struct {
	table *Table
	m     Mapping
	today records.Date
}

// NewReader reads what follows the heading of t. today bounds the dates.
func NewReader(t *Table, m Mapping, today records.Date) *Reader {
	return &Reader{t, m, today}
}

// Next returns the next item, or every reason why the row is not one. At the end
// err is io.EOF; another err is Invalid and ends the reading.
func (r *Reader) Next() (item Item, bad []*RowError, err error) {
	row, cells, err := r.table.Next()
	if err != nil {
		return item, nil, err
	}
	b := rowBuilder{Reader: r, row: row, cells: cells}
	b.refuseExtra()
	item = Item{Row: row, Property: b.property(), Contact: b.contact(), Values: b.values()}
	item.LastService = b.lastService()
	return item, b.bad, nil
}

// rowBuilder gathers the errors of one row.
type rowBuilder struct {
	*Reader
	row   int
	cells []string
	bad   []*RowError
}

// cell returns what the row holds for a target, without the guard that an
// export put on it.
func (b *rowBuilder) cell(t Target) string {
	if col, ok := b.m.Column[t]; ok && col < len(b.cells) {
		return strings.TrimSpace(Unguard(b.cells[col]))
	}
	return ""
}

// refuseExtra refuses cells beyond the heading: the row is out of line.
func (b *rowBuilder) refuseExtra() {
	for i := len(b.table.Header); i < len(b.cells); i++ {
		if strings.TrimSpace(b.cells[i]) != "" {
			b.bad = append(b.bad, &RowError{b.row, fmt.Sprint(i + 1), &records.Error{Kind: records.Invalid,
				Msg: "the heading has no such column", Value: clip(b.cells[i]),
				Want: "no more cells than the heading has"}})
			return
		}
	}
}

func (b *rowBuilder) refuse(t Target, e *records.Error) {
	info, _ := Info(t)
	column := info.Label
	if col, ok := b.m.Column[t]; ok && col < len(b.table.Header) && strings.TrimSpace(b.table.Header[col]) != "" {
		column = clip(strings.TrimSpace(b.table.Header[col]))
	}
	e = &records.Error{Kind: records.Invalid, Value: e.Value, Want: e.Want, Msg: e.Msg} // the column says what it is
	b.bad = append(b.bad, &RowError{b.row, column, e})
}

// refuseAll puts each error of a checked part to the cell it came from.
func (b *rowBuilder) refuseAll(err error, targets map[string]Target) {
	var all records.Errors
	if errors.As(err, &all) {
		for _, e := range all {
			b.refuse(targets[e.Field], e)
		}
	}
}

// code returns the code of a choice that the cell names by code, label or
// another common word, or the default for a blank cell.
func (b *rowBuilder) code(t Target) string {
	cell := b.cell(t)
	if cell == "" {
		return b.m.Default[t]
	}
	info, _ := Info(t)
	word := plain(cell)
	for _, c := range info.Choices {
		if plain(c.Code) == word || plain(c.Label) == word {
			return c.Code
		}
	}
	if code := alsoCalled[t][word]; code != "" {
		return code
	}
	names := make([]string, len(info.Choices))
	for i, c := range info.Choices {
		names[i] = c.Label
	}
	b.refuse(t, &records.Error{Value: clip(cell), Want: "one of " + strings.Join(names, ", ")})
	return b.m.Default[t]
}

// alsoCalled are other words of the trade for a choice, as plain keeps them.
var alsoCalled = map[Target]map[string]string{
	Kind: {"combi": records.KindCombination, "combiboiler": records.KindCombination,
		"combination": records.KindCombination, "system": records.KindSystem,
		"regular": records.KindRegular, "heatonly": records.KindRegular, "heatonlyboiler": records.KindRegular,
		"waterheater": records.KindWaterHeater,
		"warmair":     records.KindWarmAir, "fire": records.KindFire, "range": records.KindRange,
		"gascooker": records.KindCooker},
	Fuel: {"ng": records.FuelNatural, "natural": records.FuelNatural, "mainsgas": records.FuelNatural,
		"propane": records.FuelPropane, "butane": records.FuelButane},
	Tenure: {"owner": string(records.OwnerOccupier), "homeowner": string(records.OwnerOccupier),
		"lettingagent": string(records.Agent), "managingagent": string(records.Agent)},
	Nation: {"ni": string(records.NorthernIreland)},
}

func (b *rowBuilder) property() records.Property {
	p, err := records.Property{Line1: b.cell(Line1), Line2: b.cell(Line2), Town: b.cell(Town),
		Postcode: b.cell(Postcode),
		Nation:   records.Nation(b.code(Nation))}.Checked()
	if p.Nation == "" && b.cell(Nation) != "" {
		p.Nation = records.England // refused above; say so once
		_, err = p.Checked()
	}
	b.refuseAll(err, map[string]Target{"line1": Line1, "line2": Line2, "town": Town, "postcode": Postcode,
		"nation": Nation})
	return p
}

func (b *rowBuilder) contact() records.Contact {
	k := records.Contact{Name: b.cell(Name), Email: b.cell(Email), Phone: b.cell(Phone), Address: b.cell(Address)}
	if k == (records.Contact{}) {
		return k
	}
	before := len(b.bad)
	if k.Tenure = records.Tenure(b.code(Tenure)); k.Tenure == "" && len(b.bad) > before {
		k.Tenure = records.OwnerOccupier // refused above; say so once
	}
	k, err := k.Checked()
	b.refuseAll(err, map[string]Target{"name": Name, "email": Email, "phone": Phone, "address": Address,
		"tenure": Tenure})
	return k
}

func (b *rowBuilder) values() records.Values {
	vs := records.Values{}
	for _, c := range []struct {
		target Target
		field  *records.Field
	}{{Make, records.ApplianceMake.Field}, {Model, records.ApplianceModel.Field},
		{Serial, records.ApplianceSerial.Field}, {Location, records.ApplianceLocation.Field}} {
		v, err := c.field.Parse(b.cell(c.target))
		var e *records.Error
		if errors.As(err, &e) {
			b.refuse(c.target, e)
		} else if v.Present() {
			vs[c.field.Key] = v
		}
	}
	before := len(b.bad)
	if code := b.code(Kind); code != "" {
		vs.Put(records.ApplianceKind.Field, code)
	} else if len(b.bad) == before {
		b.refuse(Kind, &records.Error{Msg: "this cannot be left blank"})
	}
	if code := b.code(Fuel); code != "" {
		vs.Put(records.ApplianceFuel.Field, code)
	}
	return vs
}

func (b *rowBuilder) lastService() records.Date {
	cell := b.cell(LastService)
	if cell == "" {
		return records.Date{}
	}
	d, err := parseDate(cell)
	if err == nil {
		err = records.CheckWorkDate(d, b.today)
	}
	var e *records.Error
	if errors.As(err, &e) {
		if e.Value != "" && !d.IsZero() {
			e.Value, e.Want = clip(cell), "a date not after today, "+b.today.Long()+
				", and not more than forty years ago"
		}
		b.refuse(LastService, e)
	}
	return d
}

// Scan reads the rest of a list for its length and the order of its dates.
func Scan(t *Table, m Mapping) (rows int, d Dates, err error) {
	col, ok := m.Column[LastService]
	for ; ; rows++ {
		row, cells, err := t.Next()
		if err != nil {
			return rows, d, ended(err)
		}
		if ok && col < len(cells) {
			d.Add(row, Unguard(cells[col]))
		}
	}
}
