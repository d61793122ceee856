package app

import (
	"context"

	"gaugebook/records"
	"gaugebook/records/store"
)

// Entries is what a person filled in: single fields by key, rows by key. A
// field that is not named is left as it is; a blank one is cleared.
type Entries struct {
	Fields map[string]string
	Rows   map[string][]map[string]string
}

// enter parses the entries into the record. section "" allows every section.
func (a *App) enter(ctx context.Context, r *records.Record, section records.SectionID, in Entries) error {
	known, err := instrumentsOnFile(ctx, a.Store)
	if err != nil {
		return err
	}
	if r.Rejected == nil {
		r.Rejected = map[string]records.Rejection{}
	}
	for key, entry := range in.Fields {
		f := records.FieldByKey(key)
		if f == nil || section != "" && f.Section() != section {
			return &records.Error{Kind: records.Invalid, Field: key, Msg: "there is no such field in this section"}
		}
		v, err := f.Parse(entry)
		if err == nil && f.Kind == records.InstrumentKind && v.Present() {
			if _, ok := known[v.Text()]; !ok {
				err = &records.Error{Kind: records.Invalid, Field: key, Label: f.Label, Value: v.Text(),
					Want: f.Accepts()}
			}
		}
		put(r, key, v, err, entry)
	}
	for key, rows := range in.Rows {
		f := records.FieldByKey(key)
		if f == nil || f.Kind != records.RowsKind || section != "" && f.Section() != section {
			return &records.Error{Kind: records.Invalid, Field: key, Msg: "there is no such list in this section"}
		}
		v, errs := records.RowsField{Field: f}.ParseRows(rows)
		var err error
		if len(errs) > 0 {
			err = errs
		}
		put(r, key, v, err, records.EntryOfRows(rows))
	}
	r.Instruments = instrumentsOf(r.Values, known)
	return nil
}

// put stores an accepted value, or keeps a refused entry beside it.
func put(r *records.Record, key string, v records.Value, err error, entry string) {
	delete(r.Rejected, key)
	switch {
	case err != nil:
		r.Rejected[key] = records.NewRejection(entry, err)
	case v.Present():
		r.Values[key] = v
	default:
		delete(r.Values, key)
	}
}

// instrumentsOf returns the instruments that the values name, as they are
// now, in the order of the fields.
func instrumentsOf(vs records.Values, known map[string]records.Instrument) []records.Instrument {
	var out []records.Instrument
	seen := map[string]bool{}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			id := vs[f.Key].Text()
			if f.Kind != records.InstrumentKind || seen[id] {
				continue
			}
			if i, ok := known[id]; ok {
				seen[id] = true
				out = append(out, i)
			}
		}
	}
	return out
}

// nameInstruments copies the instruments that the values name into the
// record, as they are now.
func nameInstruments(ctx context.Context, st *store.Store, r *records.Record) error {
	known, err := instrumentsOnFile(ctx, st)
	if err != nil {
		return err
	}
	for key, v := range r.Values {
		f := records.FieldByKey(key)
		if f != nil && f.Kind == records.InstrumentKind {
			if _, ok := known[v.Text()]; !ok {
				return &records.Error{Kind: records.Invalid, Field: key, Label: f.Label, Value: v.Text(),
					Want: f.Accepts()}
			}
		}
	}
	r.Instruments = instrumentsOf(r.Values, known)
	return nil
}

func instrumentsOnFile(ctx context.Context, st *store.Store) (map[string]records.Instrument, error) {
	firm, err := st.Settings.Instruments(ctx)
	if err != nil {
		return nil, err
	}
	known := make(map[string]records.Instrument, len(firm))
	for _, i := range firm {
		known[i.ID] = i
	}
	return known, nil
}
