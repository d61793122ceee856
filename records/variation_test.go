package records

import (
	"maps"
	"slices"
)

// variation is a copy of today's sections that a test may change: it shares no
// field with them, so tests may run beside each other.
type variation struct{ sections []*Section }

func vary() *variation {
	v := &variation{}
	for _, s := range Sections {
		c := *s
		c.Groups, c.Past = slices.Clone(s.Groups), map[string]Past{}
		maps.Copy(c.Past, s.Past)
		for i, g := range s.Groups {
			c.Groups[i].Fields = nil
			for _, f := range g.Fields {
				c.Groups[i].Fields = append(c.Groups[i].Fields, f.copied())
			}
		}
		v.sections = append(v.sections, &c)
	}
	return v
}

func (f *Field) copied() *Field {
	c := *f
	c.Choices, c.Columns = slices.Clone(f.Choices), nil
	for _, col := range f.Columns {
		c.Columns = append(c.Columns, col.copied())
	}
	return &c
}

func (v *variation) table() *fieldTable { return newFieldTable(v.sections) }

func (v *variation) section(key string) *Section {
	for _, s := range v.sections {
		if s.ID == (&Field{Key: key}).Section() {
			return s
		}
	}
	panic("no section of " + key)
}

func (v *variation) field(key string) *Field {
	for _, f := range v.section(key).Fields() {
		if f.Key == key {
			return f
		}
	}
	panic("no field " + key)
}

func (v *variation) narrow(key string, low, high float64) {
	f := v.field(key)
	f.Min, f.Max = low, high
}

// retire does what DEVELOPERS.md says: the field moves from its group to
// Retired.
func (v *variation) retire(key string) {
	s := v.section(key)
	f := v.field(key)
	for i, g := range s.Groups {
		s.Groups[i].Fields = slices.DeleteFunc(slices.Clone(g.Fields), func(f *Field) bool { return f.Key == key })
	}
	s.Retired = append(s.Retired, f)
}

// forget takes a field away without a trace, as a careless change would.
func (v *variation) forget(key string) {
	v.retire(key)
	s := v.section(key)
	s.Retired = s.Retired[:len(s.Retired)-1]
}

func (v *variation) rename(key, now string) {
	s := v.section(key)
	f := v.field(key)
	f.Key = now
	s.Past[now] = Past{Keys: append(s.Past[key].Keys, key), Choices: s.Past[key].Choices,
		Columns: s.Past[key].Columns}
	delete(s.Past, key)
}

func (v *variation) retireChoice(key, code string) {
	f := v.field(key)
	past := v.section(key).Past[key]
	for _, c := range f.Choices {
		if c.Code == code {
			past.Choices = append(past.Choices, c)
		}
	}
	v.section(key).Past[key] = past
	f.Choices = slices.DeleteFunc(f.Choices, func(c Choice) bool { return c.Code == code })
}
