package records

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"sort"
	"strings"
)

// MaxDocument is the most bytes of JSON that one record may have.
const MaxDocument = 1 << 20

// document is the JSON of a record as a person or a program writes it: what
// was read, not what was made of it. Schema describes it.
type document struct {
	Schema      int              `json:"schema"`
	Purpose     Purpose          `json:"purpose"`
	WorkDate    Date             `json:"work_date"`
	Property    Property         `json:"property"`
	Contact     Contact          `json:"customer"`
	Engineer    Engineer         `json:"engineer"`
	Firm        documentFirm     `json:"firm"`
	Instruments []Instrument     `json:"instruments,omitempty"`
	Sections    Values           `json:"sections"`
	Photos      []Photo          `json:"photos,omitempty"`
	Condition   *ConditionReport `json:"condition,omitempty"`
	Replaces    string           `json:"replaces,omitempty"`
	AmendReason string           `json:"amend_reason,omitempty"`
}

// documentFirm is a firm as a document names it. A sealed record names
// telephone and e-mail as those of the office.
type documentFirm struct {
	Name         string `json:"name"`
	Address      string `json:"address"`
	Phone        string `json:"phone"`
	Email        string `json:"email"`
	OfficePhone  string `json:"office_phone,omitempty"`
	OfficeEmail  string `json:"office_email,omitempty"`
	Registration string `json:"registration"`
	Logo         string `json:"logo_sha256,omitempty"`
}

func (f Firm) document() documentFirm {
	return documentFirm{Name: f.Name, Address: f.Address, Phone: f.Phone, Email: f.Email,
		Registration: f.Registration, Logo: f.Logo}
}

func (f documentFirm) firm() Firm {
	return Firm{Name: f.Name, Address: f.Address, Phone: cmp.Or(f.Phone, f.OfficePhone),
		Email: cmp.Or(f.Email, f.OfficeEmail), Registration: f.Registration, Logo: f.Logo}
}

// EncodeRecord writes the record's document. Keys are in a fixed order and
// numbers keep the decimals they were entered with, so equal records give
// equal bytes. One that was read by DecodeStored or DecodeIssued and is
// unchanged gives the bytes that were read.
func EncodeRecord(r *Record) ([]byte, error) {
	fresh, err := encode(r.document())
	return r.read.or(fresh), err
}

func (r *Record) document() document {
	report := r.Condition
	if report != nil && report.Entries == nil {
		empty := *report
		empty.Entries = []ConditionEntry{}
		report = &empty
	}
	return document{
		Schema: SchemaVersion, Purpose: r.Purpose, WorkDate: r.WorkDate, Property: r.Property,
		Contact: r.Contact, Engineer: r.Engineer, Firm: r.Firm.document(), Instruments: r.Instruments,
		Sections: r.Values, Photos: r.Photos, Condition: report, Replaces: r.Replaces, AmendReason: r.AmendReason,
	}
}

// DecodeRecord reads a record's document. It refuses unknown fields, numbers
// written as text, values out of range and anything after the document. Every
// error of a value is reported, as Errors of kind Invalid; so is a document
// over MaxDocument bytes.
func DecodeRecord(in io.Reader) (*Record, error) {
	data, err := io.ReadAll(io.LimitReader(in, MaxDocument+1))
	if err != nil {
		return nil, fmt.Errorf("reading the record: %w", err)
	}
	if len(data) > MaxDocument {
		return nil, &Error{Kind: Invalid, Field: "record", Msg: "longer than a record can be",
			Want: fmt.Sprintf("at most %d bytes", MaxDocument)}
	}
	var d document
	if err := decode(data, &d); err != nil {
		return nil, err
	}
	if d.Schema != SchemaVersion {
		return nil, wrongSchema("schema", d.Schema)
	}
	r := d.record()
	return r, r.Check()
}

func wrongSchema(field string, got int) *Error {
	e := &Error{Kind: Invalid, Field: field, Label: "Version of the document",
		Want: fmt.Sprintf("schema as %d", SchemaVersion)}
	if got != 0 {
		e.Value = fmt.Sprint(got)
	}
	return e
}

func (d document) record() *Record {
	r := &Record{
		Purpose: d.Purpose, WorkDate: d.WorkDate, Property: d.Property, Contact: d.Contact,
		Engineer: d.Engineer, Firm: d.Firm.firm(), Instruments: d.Instruments, Values: d.Sections, Photos: d.Photos,
		Condition: d.Condition, Replaces: d.Replaces, AmendReason: d.AmendReason, Stage: Draft,
	}
	if r.Values == nil {
		r.Values = Values{}
	}
	return r
}

// Check returns every error in the parts of the record that are not section
// values: purpose, date, address, people, instruments.
func (r *Record) Check() error {
	var c check
	oneOf(&c, "purpose", "Purpose", r.Purpose, Purposes)
	if r.WorkDate.IsZero() {
		c.add("work_date", "Date of the work", "", "a date as YYYY-MM-DD")
	}
	gather := func(prefix string, err error) {
		var es Errors
		if errors.As(err, &es) {
			for _, e := range es {
				e.Field = prefix + e.Field
				c.errs = append(c.errs, e)
			}
		}
	}
	var err error
	r.Property, err = r.Property.Checked()
	gather("property.", err)
	r.Contact, err = r.Contact.Checked()
	gather("customer.", err)
	if r.Condition != nil {
		var fixed *ConditionReport
		if fixed, err = r.Condition.Checked(); err != nil {
			gather("", err)
		} else {
			r.Condition = fixed
		}
	}
	r.Engineer, r.Firm = c.engineer(r.Engineer), c.firm(r.Firm)
	r.Instruments = c.instruments(r.Instruments)
	r.Photos = c.photos(r.Photos)
	r.Replaces = c.line("replaces", "Record that this one amends", r.Replaces, 0, maxNumber)
	r.AmendReason = c.note("amend_reason", "Why it is amended", r.AmendReason, maxNote)
	return c.err()
}

func (c *check) engineer(e Engineer) Engineer {
	e.Name = c.line("engineer.name", "Engineer's name", e.Name, 0, maxName)
	e.Licence = c.line("engineer.licence", "Engineer's licence number", e.Licence, 0, maxNumber)
	return e
}

func (c *check) firm(f Firm) Firm {
	f.Name = c.line("firm.name", "Firm's name", f.Name, 0, maxFirm)
	f.Address = c.line("firm.address", "Firm's address", f.Address, 0, maxAddress)
	f.Phone = c.line("firm.phone", "Firm's telephone", f.Phone, 0, maxPhone)
	f.Email = c.line("firm.email", "Firm's e-mail", f.Email, 0, maxEmail)
	f.Registration = c.line("firm.registration", "Firm's registration number", f.Registration, 0, maxNumber)
	if f.Logo != "" && !pictureName(f.Logo) {
		c.add("firm.logo_sha256", "Firm's logo", f.Logo, wantPicture)
	}
	return f
}

func (c *check) instruments(in []Instrument) []Instrument {
	if len(in) > maxInstruments {
		c.add("instruments", "Instruments", fmt.Sprintf("%d instruments", len(in)),
			fmt.Sprintf("at most %d", maxInstruments))
		return in
	}
	out := append([]Instrument(nil), in...)
	taken := map[string]bool{}
	for i := range out {
		x, at, label := &out[i], fmt.Sprintf("instruments[%d].", i), fmt.Sprintf("Instrument %d, ", i+1)
		x.ID = c.line(at+"id", label+"id", x.ID, 1, maxNumber)
		oneOf(c, at+"kind", label+"kind", x.Kind, InstrumentKinds)
		x.Make = c.line(at+"make", label+"make", x.Make, 0, maxMake)
		x.Model = c.line(at+"model", label+"model", x.Model, 0, maxMake)
		x.Serial = c.line(at+"serial", label+"serial number", x.Serial, 1, maxNumber)
		c.accuracy(at, label, x.Accuracy)
		if taken[x.ID] && x.ID != "" {
			c.add(at+"id", label+"id", x.ID, "an id that no other instrument of the record has")
		}
		taken[x.ID] = true
	}
	return out
}

// MarshalJSON writes the values by section and name, both in alphabetical
// order.
func (vs Values) MarshalJSON() ([]byte, error) {
	keys := make([]string, 0, len(vs))
	for k, v := range vs {
		if v.Present() {
			keys = append(keys, k)
		}
	}
	sort.Strings(keys)
	var b bytes.Buffer
	section := ""
	b.WriteByte('{')
	for i, key := range keys {
		id, name, _ := strings.Cut(key, ".")
		switch {
		case i == 0:
			fmt.Fprintf(&b, "%s:{", quoted(id))
		case id != section:
			fmt.Fprintf(&b, "},%s:{", quoted(id))
		default:
			b.WriteByte(',')
		}
		section = id
		raw, err := vs[key].MarshalJSON()
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%s:%s", quoted(name), raw)
	}
	if len(keys) > 0 {
		b.WriteByte('}')
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// MarshalJSON writes a number as a JSON number with its decimals, a flag as
// true or false, rows as an array and everything else as a string.
func (v Value) MarshalJSON() ([]byte, error) {
	switch v.kind {
	case "":
		return []byte("null"), nil
	case NumberKind:
		return []byte(v.text), nil
	case FlagKind:
		if v.text == "yes" {
			return []byte("true"), nil
		}
		return []byte("false"), nil
	case RowsKind:
		return encode(v.rows)
	case oldKind:
		return []byte(v.raw), nil
	}
	return encode(v.text)
}

// quoted writes a name as JSON text.
func quoted(name string) []byte {
	out, err := encode(name)
	if err != nil {
		panic(err) // a text always encodes
	}
	return out
}

// UnmarshalJSON reads values by section and name; see DecodeRecord for what
// it refuses.
func (vs *Values) UnmarshalJSON(data []byte) error {
	var in map[string]map[string]json.RawMessage
	if err := json.Unmarshal(data, &in); err != nil {
		return &Error{Kind: Invalid, Field: "sections", Msg: "not an object of sections, each an object of fields"}
	}
	out := Values{}
	var errs Errors
	for id, entries := range in {
		if SectionByID(SectionID(id)) == nil {
			errs = append(errs, &Error{Kind: Invalid, Field: "sections." + clip(id), Msg: "there is no such section",
				Want: sectionNames()})
			continue
		}
		for name, raw := range entries {
			key := id + "." + name
			f := FieldByKey(key)
			if f == nil {
				errs = append(errs, tableNow.goneError(key))
				continue
			}
			v, es := f.decode(raw)
			errs = append(errs, es...)
			if v.Present() {
				out[key] = v
			}
		}
	}
	if len(errs) > 0 {
		sort.SliceStable(errs, func(i, j int) bool { return errs[i].Field < errs[j].Field })
		return errs
	}
	*vs = out
	return nil
}

func sectionNames() string {
	names := make([]string, len(Sections))
	for i, s := range Sections {
		names[i] = string(s.ID)
	}
	return "one of " + strings.Join(names, ", ")
}

// decode reads one JSON value of the field's kind.
func (f *Field) decode(raw json.RawMessage) (Value, Errors) {
	if string(raw) == "null" {
		return Value{}, nil
	}
	if f.Kind == RowsKind {
		return f.decodeRows(raw)
	}
	entry, ok := f.entryOf(raw)
	if !ok {
		return Value{}, Errors{f.refuse(string(raw), "not written as JSON "+f.jsonType())}
	}
	v, err := f.Parse(entry)
	if err != nil {
		return Value{}, Errors{err.(*Error)}
	}
	return v, nil
}

// entryOf turns a JSON value into the entry a person would have typed.
func (f *Field) entryOf(raw json.RawMessage) (string, bool) {
	switch c := raw[0]; {
	case f.Kind == NumberKind:
		return string(raw), c == '-' || c >= '0' && c <= '9'
	case f.Kind == FlagKind:
		return map[string]string{"true": "yes", "false": "no"}[string(raw)], c == 't' || c == 'f'
	case c == '"':
		var s string
		err := json.Unmarshal(raw, &s)
		return s, err == nil
	}
	return "", false
}

func (f *Field) jsonType() string {
	switch f.Kind {
	case NumberKind:
		return "number"
	case FlagKind:
		return "true or false"
	case RowsKind:
		return "array of objects"
	}
	return "string"
}

func (f *Field) decodeRows(raw json.RawMessage) (Value, Errors) {
	var in []map[string]json.RawMessage
	if err := json.Unmarshal(raw, &in); err != nil {
		return Value{}, Errors{f.refuse(string(raw), "not written as JSON "+f.jsonType())}
	}
	entries := make([]map[string]string, len(in))
	var errs Errors
	for i, row := range in {
		entries[i] = map[string]string{}
		for name, cell := range row {
			col := f.Column(name)
			if col == nil || string(cell) == "null" {
				entries[i][name] = ""
				continue
			}
			entry, ok := col.entryOf(cell)
			if !ok {
				errs = append(errs, f.inRow(i, col, col.refuse(string(cell), "not written as JSON "+col.jsonType())))
				continue
			}
			entries[i][name] = entry
		}
	}
	v, more := RowsField{f}.ParseRows(entries)
	return v, append(errs, more...)
}
