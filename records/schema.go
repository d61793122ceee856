package records

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
)

// Schema returns the JSON Schema (draft 2020-12) of the document that
// EncodeRecord writes and DecodeRecord reads. The sections in it are made
// from Sections; the same program always gives the same bytes.
//
// A document that EncodeRecord wrote always fits it. DecodeRecord is a little
// wider in four places, each for people: it trims text, tidies postcodes,
// takes null for "not answered" and the empty text for "no date". It is
// narrower where a schema cannot express it: how many decimals a number may have,
// numbers without an exponent, the days of a month, the shape of an e-mail
// address.
func Schema() []byte {
	raw, err := encode(documentSchema())
	if err != nil {
		panic(err) // made of strings and finite numbers only
	}
	var out bytes.Buffer
	if err := json.Indent(&out, raw, "", "  "); err != nil {
		panic(err)
	}
	out.WriteByte('\n')
	return out.Bytes()
}

// schema is the part of JSON Schema that we use.
type schema struct {
	Version     string   `json:"$schema,omitempty"`
	Title       string   `json:"title,omitempty"`
	Description string   `json:"description,omitempty"`
	Type        string   `json:"type,omitempty"`
	Const       any      `json:"const,omitempty"`
	Enum        []string `json:"enum,omitempty"`
	Minimum     *float64 `json:"minimum,omitempty"`
	Maximum     *float64 `json:"maximum,omitempty"`
	MinLength   int      `json:"minLength,omitempty"`
	MaxLength   int      `json:"maxLength,omitempty"`
	Pattern     string   `json:"pattern,omitempty"`
	Format      string   `json:"format,omitempty"`
	MaxItems    int      `json:"maxItems,omitempty"`
	Items       *schema  `json:"items,omitempty"`
	Required    []string `json:"required,omitempty"`
	Properties  *members `json:"properties,omitempty"`
	Additional  *bool    `json:"additionalProperties,omitempty"`
}

// members keeps the order of the form.
type members []member

type member struct {
	name string
	schema
}

// MarshalJSON writes an object in the order of the list.
func (ps members) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, p := range ps {
		if i > 0 {
			b.WriteByte(',')
		}
		raw, err := encode(p.schema)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%q:%s", p.name, raw)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

func documentSchema() schema {
	s := object("The readings of one visit to one gas appliance. A field that was not answered is left out: missing "+
		"is not zero.",
		[]string{"schema", "purpose", "work_date", "property", "customer"},
		member{"schema", schema{Const: SchemaVersion, Description: "Version of this document."}},
		member{"purpose", enum("Why the visit was made.", Purposes)},
		member{"work_date", day("Date of the work.")},
		member{"property", object("Where the appliance is.", []string{"line1", "town", "postcode", "nation"},
			member{"line1", line("First line of the address.", 1, maxLine1)},
			member{"line2", line("Second line of the address.", 0, maxLine2)},
			member{"town", line("Town.", 1, maxTown)},
			member{"postcode", schema{Type: "string", Pattern: postcodeShape.String(),
				Description: "Postcode in capitals, one space before the last three characters."}},
			member{"nation", enum("Decides which duties and which emergency number apply.", Nations)})},
		member{"customer", object("The customer to write to.", []string{"name", "tenure"},
			member{"name", line("Name.", 1, maxName)},
			member{"email", line("E-mail address.", 0, maxEmail)},
			member{"phone", line("Telephone.", 0, maxPhone)},
			member{"tenure", enum("Their relationship to the property.", Tenures)},
			member{"address", line("Address, where it differs from the property.", 0, maxAddress)})},
		member{"engineer", object("Who took the readings.", nil,
			member{"name", line("Name.", 0, maxName)},
			member{"licence", line("Licence number.", 0, maxNumber)},
			member{"competence_until", day("Competence valid until.")})},
		member{"firm", object("The business that answers for the record.", nil,
			member{"name", line("Name.", 0, maxFirm)},
			member{"address", line("Address.", 0, maxAddress)},
			member{"phone", line("Telephone.", 0, maxPhone)},
			member{"email", line("E-mail address.", 0, maxEmail)},
			member{"office_phone", line("Telephone, as a sealed record names it.", 0, maxPhone)},
			member{"office_email", line("E-mail address, as a sealed record names it.", 0, maxEmail)},
			member{"registration", line("Registration number of the business.", 0, maxNumber)},
			member{"logo_sha256", picture("SHA-256 of the JPEG of its logo.")})},
		member{"instruments", list("The instruments used, as they were on the day.", maxInstruments,
			object("", []string{"id", "kind", "serial"},
				member{"id", line("The id that readings refer to.", 1, maxNumber)},
				member{"kind", enum("Kind.", InstrumentKinds)},
				member{"make", line("Make.", 0, maxMake)},
				member{"model", line("Model.", 0, maxMake)},
				member{"serial", line("Serial number.", 1, maxNumber)},
				member{"calibrated_on", day("Last calibrated.")},
				member{"calibration_due", day("Next calibration, as on its certificate.")},
				member{"accuracy", list("What its manufacturer states; what is not stated is taken from its class.",
					len(Quantities), object("", []string{"quantity", "step", "within"},
						member{"quantity", enum("What is read: pressure in mbar, oxygen and CO₂ in %, CO in ppm, "+
							"temperature in °C.", quantityCodes())},
						member{"step", amount("Smallest step shown.", 1e-4, maxAccuracy)},
						member{"within", amount("The reading is right to within ± so much, in its unit.", 0,
							maxAccuracy)},
						member{"within_percent", amount("The same in percent of the reading; the larger counts.", 0,
							50)}))}))},
		member{"sections", sectionsSchema()},
		member{"photos", list("Photos taken, by the hash of the picture.", MaxPhotos,
			object("", []string{"sha256", "section", "width", "height"},
				member{"sha256", picture("SHA-256 of the JPEG.")},
				member{"section", enum("The section it belongs to.", sectionIDs())},
				member{"caption", line("Caption.", 0, maxCaption)},
				member{"width", whole("Width in pixels.", 1, 10000)},
				member{"height", whole("Height in pixels.", 1, 10000)}))},
		member{"condition", conditionSchema()},
		member{"replaces", line("Number of the issued record that this one amends.", 0, maxNumber)},
		member{"amend_reason", long("Why it is amended.", maxNote)},
	)
	s.Version, s.Title = "https://json-schema.org/draft/2020-12/schema", "Gas appliance record"
	return s
}

func picture(description string) schema {
	return schema{Type: "string", Pattern: "^[0-9a-f]{64}$", Description: description}
}

func sectionIDs() []SectionID {
	ids := make([]SectionID, len(Sections))
	for i, s := range Sections {
		ids[i] = s.ID
	}
	return ids
}

func quantityCodes() []Quantity {
	codes := make([]Quantity, len(Quantities))
	for i, q := range Quantities {
		codes[i] = q.Quantity
	}
	return codes
}

func amount(description string, low, high float64) schema {
	return schema{Type: "number", Minimum: &low, Maximum: &high, Description: description}
}

func whole(description string, low, high float64) schema {
	return schema{Type: "integer", Minimum: &low, Maximum: &high, Description: description}
}

func conditionSchema() schema {
	return object("What was found unsafe, how serious it is, what was done and who was told.", nil,
		member{"entries", list("One for each finding answered.", maxEntries, object("", []string{"rule"},
			member{"rule", line("The rule whose finding is answered.", 1, maxRule)},
			member{"class", enum("How serious; empty while undecided.", append([]Class{""}, Classes...))},
			member{"found", long("What was found.", maxNote)},
			member{"done", long("What was done.", maxNote)},
			member{"also", list("Other rules whose findings the same entry answers.", maxEntries,
				line("", 1, maxRule))},
			member{"reason", long("Why a grave finding is answered as a lesser one; in an entry without a class, "+
				"why a close reading is taken to keep its limit.", maxNote)},
			member{"cause", enum("What it comes from.", append([]Cause{""}, Causes...))}))},
		member{"told", line("Who was told.", 0, maxTold)},
		member{"told_how", line("How they were told.", 0, maxTold)},
		member{"left_off", schema{Type: "boolean",
			Description: "Appliance turned off or disconnected, and labelled."}},
		member{"refused", schema{Type: "boolean", Description: "Permission to make safe was refused."}},
		member{"refused_by", line("Who refused it.", 0, maxName)},
		member{"refused_at", schema{Type: "string", Pattern: "^(" + strings.Trim(clockPattern, "^$") + ")?$",
			Description: "When it was refused, as HH:MM."}},
	)
}

func sectionsSchema() schema {
	ps := make(members, len(Sections))
	for i, s := range Sections {
		var fields []member
		for _, f := range s.Fields() {
			fields = append(fields, member{f.Name(), f.schema()})
		}
		ps[i] = member{string(s.ID), object(s.Intro, nil, fields...)}
		ps[i].Title = s.Title
	}
	return object("What was entered, by section and field.", nil, ps...)
}

// schema describes the JSON value of one field.
func (f *Field) schema() schema {
	s := schema{Title: f.Label, Description: f.describe()}
	switch f.Kind {
	case NumberKind:
		s.Type, s.Minimum, s.Maximum = "number", &f.Min, &f.Max
		if f.Decimals == 0 {
			s.Type = "integer"
		}
	case ChoiceKind:
		s.Type = "string"
		for _, c := range f.Choices {
			s.Enum = append(s.Enum, c.Code)
		}
	case FlagKind:
		s.Type = "boolean"
	case ClockKind:
		s.Type, s.Pattern = "string", clockPattern
	case DateKind:
		s.Type, s.Format, s.Pattern = "string", "date", dayPattern
	case StrokesKind:
		s.Type, s.MaxLength, s.Pattern = "string", f.MaxLen, strokesPattern
	case RowsKind:
		var columns []member
		for _, c := range f.Columns {
			columns = append(columns, member{c.Name(), c.schema()})
		}
		row := object("", nil, columns...)
		s.Type, s.MaxItems, s.Items = "array", f.MaxRows, &row
	case NotesKind:
		s.Type, s.MaxLength, s.Pattern = "string", f.MaxLen, notesPattern
	default:
		s.Type, s.MaxLength, s.Pattern = "string", f.MaxLen, linePattern
	}
	return s
}

// describe gives the unit, what is accepted, what the codes mean and when the
// field is asked for.
func (f *Field) describe() string {
	accepts := f.Accepts()
	switch f.Kind {
	case ChoiceKind:
		meanings := make([]string, len(f.Choices))
		for i, c := range f.Choices {
			meanings[i] = c.Code + ": " + c.Label
		}
		accepts = strings.Join(meanings, "; ")
	case FlagKind:
		accepts = "true or false"
	}
	parts := []string{UpperFirst(accepts)}
	if f.Unit != "" {
		parts = append(parts, "Unit: "+f.Unit)
	}
	if f.When != nil {
		parts = append(parts, fmt.Sprintf("Asked while %s is %s", f.When.Key, strings.Join(f.When.In, " or ")))
	}
	out := strings.Join(parts, ". ") + "."
	if f.Hint != "" {
		out += " " + f.Hint
	}
	return out
}

// The patterns are what Parse accepts: no control characters but line ends in
// notes.
const (
	linePattern    = `^[^\u0000-\u001f\u007f-\u009f]*$`
	notesPattern   = `^(\r\n|[^\u0000-\u0009\u000b-\u001f\u007f-\u009f])*$`
	clockPattern   = `^([01][0-9]|2[0-3]):[0-5][0-9]$`
	strokesPattern = `^M[0-9]{1,4},[0-9]{1,4}( [ML][0-9]{1,4},[0-9]{1,4})*$`
	dayPattern     = `^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$`
)

func object(description string, required []string, ps ...member) schema {
	list, more := members(ps), false
	return schema{Description: description, Type: "object", Required: required, Properties: &list, Additional: &more}
}

func list(description string, most int, items schema) schema {
	return schema{Description: description, Type: "array", MaxItems: most, Items: &items}
}

func line(description string, least, most int) schema {
	return schema{Description: description, Type: "string", MinLength: least, MaxLength: most, Pattern: linePattern}
}

func long(description string, most int) schema {
	return schema{Description: description, Type: "string", MaxLength: most, Pattern: notesPattern}
}

func day(description string) schema {
	return schema{Description: description, Type: "string", Format: "date", Pattern: dayPattern}
}

func enum[T ~string](description string, all []T) schema {
	s := schema{Description: description, Type: "string"}
	for _, v := range all {
		s.Enum = append(s.Enum, string(v))
	}
	return s
}
