package records

// Group is a run of fields shown under one heading.
type Group struct {
	Title  string
	Intro  string
	Fields []*Field
}

// Section is a group of readings taken together.
type Section struct {
	ID     SectionID
	Title  string
	Intro  string // what to do, said once above the fields
	Groups []Group
	// Exempt returns why the section does not apply to the appliance, or "".
	Exempt func(Values) string
	// Retired are the fields that are no longer asked for. They are shown where
	// an older record holds them.
	Retired []*Field
	// Past is what fields of today have been, by key; of a column,
	// section.name.column.
	Past map[string]Past
}

// Sections lists the sections in the order of the work. To add one, define it
// in a section_*.go file and name it here.
var Sections = []*Section{
	&ApplianceSection,
	&Tightness,
	&Pressure,
	&HeatInput,
	&Combustion,
	&Flue,
	&Ventilation,
	&Water,
	&HeatDelivery,
	&Electrical,
	&Handover,
}

// SectionByID returns the section, or nil.
func SectionByID(id SectionID) *Section {
	for _, s := range Sections {
		if s.ID == id {
			return s
		}
	}
	return nil
}

// Fields returns the fields of all groups in order: those asked for today.
func (s *Section) Fields() []*Field {
	var out []*Field
	for _, g := range s.Groups {
		out = append(out, g.Fields...)
	}
	return out
}

// FieldByKey returns the field of today with the key section.name, or nil.
func FieldByKey(key string) *Field { return tableNow.current[key] }

// ExemptReason returns why the section does not apply, or "".
func (s *Section) ExemptReason(vs Values) string {
	if s.Exempt == nil {
		return ""
	}
	return s.Exempt(vs)
}

// fields lists the descriptions behind typed handles.
func fields(fs ...interface{ field() *Field }) []*Field {
	out := make([]*Field, len(fs))
	for i, f := range fs {
		out[i] = f.field()
	}
	return out
}

func (f *Field) field() *Field { return f }
