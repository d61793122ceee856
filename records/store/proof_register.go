package store

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"gaugebook/records"
)

// settingOf is what an entry of the log tells the state of, so that the latest
// entry of each can be found.
var settingOf = map[string]string{"person added": "person", "person changed": "person", "firm changed": "firm",
	"permissible drops entered": "drops", "instrument saved": "instrument",
	"limit of the owner entered": "limit", "limit of the owner removed": "limit"}

// settings holds what the owner entered against what the log says was entered.
// What came with a whole register has no entry of its own before it is changed.
func (p *prover) settings() error {
	imported := p.taken > 0 || p.digest != ""
	if err := p.people(imported); err != nil {
		return err
	}
	firm, err := readFirm(p.db)
	if err != nil {
		p.tell("the firm's details: %w", err)
	}
	if e, ok := p.latest["firm firm"]; ok {
		var d struct{ Firm records.Firm }
		if json.Unmarshal([]byte(e.Detail), &d) == nil && d.Firm != firm {
			p.tell("the firm's details are not those that were entered last (entry %d)", e.Seq)
		}
	}
	bands, err := readDropBands(p.db)
	if err != nil {
		p.tell("the permissible drops: %w", err)
	}
	for _, b := range bands {
		e, ok := p.latest["drops "+b.Edition+" "+b.Fuel]
		var d struct{ Bands records.DropBands }
		if ok && json.Unmarshal([]byte(e.Detail), &d) == nil && !reflect.DeepEqual(d.Bands, b) {
			p.tell("the permissible drops of %s, %s are not those that were entered last (entry %d)", b.Edition, b.Fuel,
				e.Seq)
		}
		if !ok && !imported {
			p.tell("the log does not know who entered the permissible drops of %s, %s", b.Edition, b.Fuel)
		}
	}
	if err := p.ownerLimits(imported); err != nil {
		return err
	}
	return p.instruments(imported)
}

// ownerLimits holds what readings are judged by against the log, also where a
// limit is gone.
func (p *prover) ownerLimits(imported bool) error {
	limits, err := readOwnerLimits(p.db)
	if err != nil {
		p.tell("the limits of the owner: %w", err)
	}
	there := map[string]bool{}
	for _, is := range limits {
		name := "limit " + is.Rule + " " + is.Kind
		there[name] = true
		e, ok := p.latest[name]
		var d struct{ Limit *records.OwnerLimit }
		switch {
		case !ok && !imported:
			p.tell("the log does not know who entered the owner's limit of %s", is.Rule)
		case !ok || json.Unmarshal([]byte(e.Detail), &d) != nil:
		case d.Limit == nil:
			p.tell("the owner's limit of %s was removed (entry %d), and is there again", is.Rule, e.Seq)
		case !reflect.DeepEqual(*d.Limit, is):
			p.tell("the owner's limit of %s is not as it was entered last (entry %d)", is.Rule, e.Seq)
		}
	}
	for name, e := range p.latest {
		if strings.HasPrefix(name, "limit ") && e.What == "limit of the owner entered" && !there[name] && err == nil {
			p.tell("the owner's limit of %s is gone, and the log does not say why (entry %d)",
				strings.TrimSpace(e.Subject), e.Seq)
		}
	}
	return nil
}

func (p *prover) instruments(imported bool) error {
	var rows []instrumentRow
	if err := p.db.Order("id").Find(&rows).Error; err != nil {
		return err
	}
	for _, row := range rows {
		is, err := row.instrument()
		if err != nil {
			p.tell("the instrument %s: %w", row.Serial, err)
			continue
		}
		e, ok := p.latest["instrument "+is.ID]
		var d struct{ Instrument records.Instrument }
		if ok && json.Unmarshal([]byte(e.Detail), &d) == nil && !reflect.DeepEqual(d.Instrument, is) {
			p.tell("the instrument %s is not as it was entered last (entry %d)", is.Serial, e.Seq)
		}
		if !ok && !imported {
			p.tell("the log does not know who entered the instrument %s", is.Serial)
		}
	}
	return nil
}

// people holds names and roles against the log: who may do what is worth a
// forger's while.
func (p *prover) people(imported bool) error {
	var rows []personRow
	if err := p.db.Order("created_at, id").Find(&rows).Error; err != nil {
		return err
	}
	for _, row := range rows {
		e, ok := p.latest["person "+row.ID]
		if !ok {
			if !imported {
				p.tell("the log does not know who added %s", row.Name)
			}
			continue
		}
		var d struct {
			Name   string
			Role   string
			Active *bool
		}
		if json.Unmarshal([]byte(e.Detail), &d) != nil {
			continue
		}
		switch {
		case d.Name != row.Name:
			p.tell("%s is called %s in the log (entry %d)", row.Name, d.Name, e.Seq)
		case d.Role != row.Role:
			p.tell("%s is %s, and the log says %s (entry %d)", row.Name, row.Role, d.Role, e.Seq)
		case d.Active != nil && *d.Active != row.Active:
			p.tell("the account of %s is not as the log says (entry %d)", row.Name, e.Seq)
		}
	}
	return nil
}

// streamed are the tables, by their text, that the tool which streams the register
// off the machine (README) puts beside ours. They hold nothing but a count.
var streamed = map[string]string{
	"table _litestream_seq":  "CREATE TABLE _litestream_seq (id INTEGER PRIMARY KEY, seq INTEGER)",
	"table _litestream_lock": "CREATE TABLE _litestream_lock (id INTEGER)",
}

// schema holds the tables, indexes and triggers against those that the program
// makes.
func (p *prover) schema() error {
	want, err := freshSchema(p.ctx)
	if err != nil {
		return fmt.Errorf("making a schema to compare with: %w", err)
	}
	is := map[string]string{}
	if err := p.each(schemaQuery, nil, func(r *sql.Rows) error {
		var name, text string
		err := r.Scan(&name, &text)
		is[name] = text
		return err
	}); err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(want)) {
		switch text, ok := is[name]; {
		case !ok:
			p.tell("the %s is gone", name)
		case text != want[name]:
			p.tell("the %s is not the program's", name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(is)) {
		if _, ok := want[name]; !ok && !strings.HasPrefix(name, "table sqlite_") && is[name] != streamed[name] {
			p.tell("the %s is not the program's", name)
		}
	}
	return nil
}
